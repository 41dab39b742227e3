"""Sun position and plane geometry against the published example of the NREL algorithm."""

import numpy as np
import pytest
from support import sun_on_planes, sunny_weather

from restcab.weather.position import sun_at

pytestmark = pytest.mark.outside

# Reda and Andreas, NREL/TP-560-34302 (2003, revised 2008), table A5.1 (read in open test suites):
# 17 October 2003, 12:30:30 UTC-7, pressure 820 mbar, 11 °C, delta T 67 s.
LATITUDE, LONGITUDE, ELEVATION = 39.742476, -105.1786, 1830.14
ZENITH, AZIMUTH, INCIDENCE = 50.11162, 194.34024, 25.18700
PRINTED_DEG = 5e-6 * 1.5
# Without the example's pressure and temperature only the refraction differs, by less than 1 %
# of 0.016 degrees.
REFRACTION_DEG = 5e-4


def test_nrel_example_position():
    altitude, azimuth = sun_at(
        np.array(["2003-10-17T19:30:30"], dtype="datetime64[s]"),
        LATITUDE,
        LONGITUDE,
        ELEVATION,
        pressure_pa=82000.0,
        temp_air_c=11.0,
        delta_t_s=67.0,
    )
    assert 90.0 - altitude[0] == pytest.approx(ZENITH, abs=PRINTED_DEG)
    assert azimuth[0] == pytest.approx(AZIMUTH, abs=PRINTED_DEG)


def test_nrel_example_incidence_through_hourly_weather():
    middle = np.array(["2003-10-17T12:30:30"], dtype="datetime64[s]")
    weather = sunny_weather(middle, (LATITUDE, LONGITUDE, ELEVATION, -7.0), 1000.0, 0.0)
    # Rotation -10 degrees from south, west positive: azimuth 170 from north.
    planes = sun_on_planes(weather, [(30.0, 170.0)])
    angle = np.degrees(np.arccos(planes.cos_incidence[0, 0]))
    assert angle == pytest.approx(INCIDENCE, abs=REFRACTION_DEG)
    assert planes.beam_w_per_m2[0, 0] == pytest.approx(
        1000.0 * np.cos(np.radians(INCIDENCE)), abs=0.01
    )
