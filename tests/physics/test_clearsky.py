"""Clear sky and its geometry: limits, symmetry, independence of the plane chain."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.physics import clearsky as cs

angle = st.floats(0.5, 89.5)


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
    before = cs.sun_angles(latitude, declination, 12.0 - from_noon_h)
    after = cs.sun_angles(latitude, declination, 12.0 + from_noon_h)
    assert before.altitude_deg == pytest.approx(float(after.altitude_deg), abs=1e-9)
    if abs(after.azimuth_south_deg) < 179.0:
        assert before.azimuth_south_deg == pytest.approx(-float(after.azimuth_south_deg), abs=1e-6)


def test_sun_stands_north_at_noon_in_the_south():
    # 33.9 degrees south on 21 June (day 172): the sun culminates in the north.
    sun = cs.sun_angles(-33.9, cs.declination_deg(172), 12.0)
    assert abs(sun.azimuth_south_deg) == pytest.approx(180.0)
    assert sun.altitude_deg == pytest.approx(90.0 - 33.9 - 23.45, abs=0.01)


@given(angle, st.floats(-180, 180), st.floats(0, 180))
def test_opposite_faces_see_opposite_cosines(altitude, azimuth, tilt):
    front = cs.cos_incidence(altitude, azimuth, tilt)
    back = cs.cos_incidence(altitude, azimuth + 180.0, 180.0 - tilt)
    assert front == pytest.approx(-float(back), abs=1e-12)


@given(angle, st.floats(0.1, 0.8), st.floats(1.5, 2.8))
def test_horizontal_plane_gets_beam_and_diffuse(altitude, tau_beam, tau_diffuse):
    sky = cs.clear_sky(1367.0, altitude, tau_beam, tau_diffuse, "2013")
    parts = cs.tilted(sky, altitude, 0.0, 0.0)
    expected = sky.beam_normal_w_per_m2 * np.sin(np.radians(altitude))
    assert parts.beam_w_per_m2 == pytest.approx(float(expected))
    assert parts.diffuse_sky_w_per_m2 == pytest.approx(float(sky.diffuse_horizontal_w_per_m2))
    assert parts.ground_w_per_m2 == 0.0


@given(angle)
def test_face_down_sees_only_the_ground(altitude):
    sky = cs.clear_sky(1367.0, altitude, 0.4, 2.2, "2013")
    parts = cs.tilted(sky, altitude, 0.0, 180.0, albedo=0.3)
    horizontal = cs.tilted(sky, altitude, 0.0, 0.0).total_w_per_m2
    assert parts.total_w_per_m2 == pytest.approx(0.3 * float(horizontal))


def test_daily_profile_broadcasts_and_spans_the_range():
    profile = cs.daily_profile(np.array([30.0, 40.0]), np.array([10.0, 12.0]))
    assert profile.shape == (2, 24)
    assert profile.max(axis=1) == pytest.approx([30.0, 40.0])
    assert profile.min(axis=1) == pytest.approx([20.0, 28.0])
