"""How a claim can be put to the test on a real truck."""

from typing import Any

import numpy as np

from restcab.spec.model import Spec
from restcab.studies.held import warm_limit_c
from restcab.studies.odds import Trial
from restcab.weather.conditions import VERIFY

_STANDARDS = (
    "SAE J2918 (2022), engine-off cooling: 37.8 ± 1.7 °C, 600 ± 50 W/m², 50 % relative humidity, "
    "wind up to 8 km/h; start at 20 °C or less; sleeper 10 h with each point up to 24.4 °C "
    f"(a laboratory's summary, read; {VERIFY})",
    "TMC RP 439: cab and sleeper up to 25.6 °C (78 °F) for 10 h at up to 48.9 °C (120 °F) "
    f"(trade press, read; {VERIFY})",
)


def how_to_test(spec: Spec, trial: Trial) -> dict[str, Any]:
    """Write a test that would settle the claim.

    Parameters
    ----------
    spec
        The truck.
    trial
        The rest of the claim.

    Returns
    -------
    dict
        ``conditions``, ``preparation``, ``sensors``, ``duration_h``, ``pass_mark``,
        ``standards``; the placing of sensors is common practice, no source.
    """
    rest, scene, hours = spec.rest, trial.scene, trial.hours
    since_start_h = np.linspace(0.0, hours, round(hours / trial.step_h) + 1)
    outdoors_c = scene.temp_out_at_c(trial.start_h + since_start_h)
    limit_c = warm_limit_c(spec)
    count = f"{rest.occupants_count} person" + ("" if rest.occupants_count == 1 else "s")
    return {
        "conditions": (
            f"the outdoor air of {scene.weather.name}: {outdoors_c.max():.1f} °C at most and "
            f"{outdoors_c.min():.1f} °C at least during the rest, humidity and sun of that day "
            "logged beside it; or a chamber at one of the standards' conditions"
        ),
        "preparation": (
            f"cab {rest.arrival} on arrival, curtain {spec.truck.curtain}, windows covered as "
            f"declared ({spec.truck.window_covers}); bank charged until its current has "
            f"settled and rested 1 h; set point {rest.setpoint_c:.1f} °C; a heat and moisture "
            f"source for {count}; hotel load {rest.hotel_load_w:.0f} W"
        ),
        "sensors": [
            "bunk air at head, chest and foot height, shielded from sun and from the unit's air "
            "stream, ± 0.3 K, every minute",
            "bunk relative humidity, ± 3 %",
            "air temperature and humidity at the condenser's inlet; sun on a level plane; wind at "
            "roof height",
            "bank voltage and current at its terminals, ± 0.5 %, every second or as a meter's sum",
            "bank case temperature",
            "unit power with its fans, and condensate caught and weighed",
        ],
        "duration_h": float(hours),
        "pass_mark": (
            f"after the first {rest.pull_down_s / 60.0:.0f} min no bunk sensor above "
            f"{limit_c:.1f} °C ({limit_c * 1.8 + 32.0:.1f} °F), and the bank above its reserve "
            f"and cut-off voltage, for {hours:g} h; one night shows no odds, so repeat it: nine "
            "nights of ten stand for a probability of 0.9"
        ),
        "standards": list(_STANDARDS),
    }
