"""How a claim can be put to the test on a real truck."""

from typing import Any

import numpy as np

from restcab.odds.trials import Trial
from restcab.said import SPEED, SUNSHINE, Quantity, difference, said, temperature
from restcab.season.held import warm_limit_c
from restcab.spec.model import Spec
from restcab.units import celsius
from restcab.weather.conditions import VERIFY

_STANDARDS = (
    said(
        "SAE J2918 (2022), engine-off cooling: ", temperature(37.8), " ± ", difference(1.7), ", ",
        Quantity(SUNSHINE, 600.0), " ± ", Quantity(SUNSHINE, 50.0), ", 50 % relative humidity, "
        "wind up to ", Quantity(SPEED, 8.0), "; start at ", temperature(20.0), " or less; sleeper "
        "10 h with each point up to ", temperature(24.4),
        f" (a laboratory's summary, read; {VERIFY})",
    ),
    said(
        "TMC RP 439: cab and sleeper up to ", temperature(celsius(78.0)), " for 10 h at up to ",
        temperature(celsius(120.0)), f" (trade press, read; {VERIFY})",
    ),
)  # fmt: skip


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
        "conditions": said(
            "the outdoor air of ", scene.weather.name, ": ",
            temperature(float(outdoors_c.max())), " at most and ",
            temperature(float(outdoors_c.min())), " at least during the rest, humidity and sun of "
            "that day logged beside it; or a chamber at one of the standards' conditions",
        ),
        "preparation": said(
            f"cab {rest.arrival} on arrival, curtain {spec.truck.curtain}, windows covered as "
            f"declared ({spec.truck.window_covers}); bank charged until its current has "
            "settled and rested 1 h; set point ", temperature(rest.setpoint_c),
            f"; a heat and moisture source for {count}; hotel load {rest.hotel_load_w:.0f} W",
        ),
        "sensors": [
            said(
                "bunk air at head, chest and foot height, shielded from sun and from the unit's "
                "air stream, ± ", difference(0.3), ", every minute",
            ),
            "bunk relative humidity, ± 3 %",
            "air temperature and humidity at the condenser's inlet; sun on a level plane; wind at "
            "roof height",
            "bank voltage and current at its terminals, ± 0.5 %, every second or as a meter's sum",
            "bank case temperature",
            "unit power with its fans, and condensate caught and weighed",
        ],
        "duration_h": float(hours),
        "pass_mark": said(
            f"after the first {rest.pull_down_s / 60.0:.0f} min no bunk sensor above ",
            temperature(limit_c), ", and the bank above its reserve and cut-off voltage, for "
            f"{hours:g} h; one night shows no odds, so repeat it: nine nights of ten stand for a "
            "probability of 0.9",
        ),
        "standards": list(_STANDARDS),
    }  # fmt: skip
