"""Which tests a plan looks at, and which it tells."""

from dataclasses import replace

import numpy as np
import pytest
from fitting import scene_at

from restcab.fits.plan import (
    COOL_NIGHT_C,
    DAY_H,
    TWICE,
    Candidate,
    best_for,
    calm_cool_night,
    calm_sunny_day,
    candidates,
)

FOUND = {"heat_loss": 0.03, "sun": 0.10, "capacity": None, "power": None}
TEST = Candidate(
    "heater and day", 7, 22.0, 38.0, 750.0, 8.0, "temperatures", 20.0, 30.0, FOUND
)  # fmt: skip


def of_days(scene, values):
    """Means from each evening to the end of the next day."""
    index = np.floor(scene.start_h[:, None] + np.arange(DAY_H)).astype(int)
    return values[index % len(values)].mean(axis=1)


@pytest.mark.parametrize("place", ["denver-co", "duluth-mn", "salem-or"])
def test_a_test_of_the_sun_has_much_sun_and_little_wind(place):
    scene = scene_at(place)
    day, sun = calm_sunny_day(scene), of_days(scene, scene.weather.values("ghi_w_per_m2"))
    wind = of_days(scene, scene.forcing.wind_m_per_s)
    cold = scene.temp_out_at_c(scene.start_h[:, None] + np.arange(14.0)).mean(axis=1) < COOL_NIGHT_C
    assert cold[day]
    assert (wind[cold] < wind[day]).mean() <= 0.2
    assert (sun[cold] < sun[day]).mean() > 0.8
    assert sun[day] > sun[calm_cool_night(scene)]


def test_two_places_tell_more_of_the_sun_than_one():
    found = candidates(scene_at("denver-co"))
    once, twice = best_for("sun", found), [one for one in found if one.kind == TWICE]
    assert len(twice) == 1
    # Noise and wind of their own make it a root of two; what is the truck's own stays.
    share = twice[0].expected["sun"] / once.expected["sun"]
    assert 1.0 / np.sqrt(2.0) <= share < 0.9
    assert twice[0].hours == 2.0 * once.hours
    assert once.logged.startswith("wind at the truck")


def test_of_tests_that_tell_the_same_the_shorter_with_less_logged_is_told():
    longer = replace(TEST, hours=60.0, expected=FOUND | {"sun": 0.097})
    more = replace(TEST, logged="wind and cloud", expected=FOUND | {"sun": 0.099})
    nothing = replace(TEST, hours=5.0, expected=FOUND | {"sun": None})
    assert best_for("sun", [longer, more, TEST, nothing]) is TEST
    much = replace(longer, expected=FOUND | {"sun": 0.05})
    assert best_for("sun", [much, TEST]) is much
    assert best_for("sun", [nothing]) is None
    assert best_for("heat_loss", [TEST]) is None
