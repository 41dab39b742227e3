"""How damp the bunk gets: a unit that follows the thermostat dries the air only while it cools."""

from restcab.engine.record import RestRun
from restcab.season.held import judged_steps
from restcab.spec.model import Spec

HEARD_OF_FRAC = 0.01
"""Damp hours that are fewer than this share of all are not warned of (design assumption)."""


def humidity_values(spec: Spec, run: RestRun) -> dict[str, float]:
    """Highest relative humidity after the pull-down, and share of that time above the limit [-]."""
    frac = run.humidity_bunk_frac[judged_steps(spec, run)]
    return {
        "humidity_bunk_max_frac": float(frac.max()),
        "humidity_above_frac": float((frac > spec.rest.humidity_limit_frac).mean()),
    }


def humidity_warnings(spec: Spec, values: dict[str, float]) -> list[str]:
    """Say that the bunk is damp, from what :func:`humidity_values` found."""
    if values["humidity_above_frac"] < HEARD_OF_FRAC:
        return []
    return [
        f"the air of the bunk is damper than {spec.rest.humidity_limit_frac:.0%} "
        f"(rest.humidity_limit) in {values['humidity_above_frac']:.0%} of the time, "
        f"{values['humidity_bunk_max_frac']:.0%} at most; what bedding takes up and gives back is "
        "not reckoned with"
    ]
