"""Clear sky and the height of its sun: limits and symmetry."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.physics import clearsky as cs


def test_no_sun_below_the_horizon():
    sky = cs.clear_sky(1367.0, np.array([-30.0, -0.1, 0.0]), 0.4, 2.2, "2013")
    assert (sky.beam_normal_w_per_m2 == 0.0).all()
    assert (sky.diffuse_horizontal_w_per_m2 == 0.0).all()


def test_air_mass_limits():
    assert cs.air_mass(90.0) == pytest.approx(1.0, abs=0.001)
    # Kasten and Young (1989): about 38 at the horizon.
    assert cs.air_mass(0.0) == pytest.approx(38.0, abs=0.5)


@given(st.integers(1, 365), st.floats(-65, 65), st.floats(0, 12))
def test_morning_mirrors_afternoon(day, latitude, from_noon_h):
    declination = cs.declination_deg(day)
    before, after = (
        cs.sun_altitude_deg(latitude, declination, 12.0 + sign * from_noon_h) for sign in (-1, 1)
    )
    assert before == pytest.approx(float(after), abs=1e-9)


def test_noon_altitude_in_the_south():
    # 33.9 degrees south on 21 June (day 172).
    noon = cs.sun_altitude_deg(-33.9, cs.declination_deg(172), 12.0)
    assert noon == pytest.approx(90.0 - 33.9 - 23.45, abs=0.01)


def test_daily_profile_broadcasts_and_spans_the_range():
    profile = cs.daily_profile(np.array([30.0, 40.0]), np.array([10.0, 12.0]))
    assert profile.shape == (2, 24)
    assert profile.max(axis=1) == pytest.approx([30.0, 40.0])
    assert profile.min(axis=1) == pytest.approx([20.0, 28.0])
