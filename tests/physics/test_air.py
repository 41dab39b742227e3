"""Moist air: inverses, limits, shapes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.physics import air

TEMPS = st.floats(-40.0, 60.0)
HUMIDITIES = st.floats(0.01, 1.0)
PRESSURES = st.floats(70_000.0, 105_000.0)


@given(TEMPS, HUMIDITIES, PRESSURES)
def test_dew_point_is_the_inverse_of_saturation(temp_c, rh_frac, pressure_pa):
    ratio = air.humidity_ratio_from_rh(temp_c, rh_frac, pressure_pa)
    dew = air.dew_point_c(ratio, pressure_pa)
    assert dew <= temp_c + 1e-9
    assert air.humidity_ratio_from_dew_point(dew, pressure_pa) == pytest.approx(ratio, rel=1e-9)


@given(TEMPS, HUMIDITIES, PRESSURES)
def test_relative_humidity_is_recovered(temp_c, rh_frac, pressure_pa):
    ratio = air.humidity_ratio_from_rh(temp_c, rh_frac, pressure_pa)
    assert air.relative_humidity_frac(temp_c, ratio, pressure_pa) == pytest.approx(rh_frac)


@given(st.floats(2.0, 60.0), HUMIDITIES)
def test_wet_bulb_lies_between_dew_point_and_dry_bulb(temp_c, rh_frac):
    """By the humidity that each would mean: it rises with the wet bulb."""
    ratio = air.humidity_ratio_from_rh(temp_c, rh_frac)
    # Where the wet bulb is near 0 °C frost and water branches differ: half a kelvin.
    as_wet_bulb = air.humidity_ratio_from_wet_bulb(temp_c, air.dew_point_c(ratio) - 0.5)
    assert as_wet_bulb <= ratio
    assert air.humidity_ratio_from_wet_bulb(temp_c, temp_c) >= ratio * (1.0 - 1e-12)


def test_saturated_air_has_all_three_temperatures_equal():
    temps = np.array([5.0, 20.0, 35.0, 50.0])
    ratio = air.saturation_humidity_ratio(temps)
    np.testing.assert_allclose(air.dew_point_c(ratio), temps, atol=1e-9)
    np.testing.assert_allclose(air.humidity_ratio_from_wet_bulb(temps, temps), ratio, rtol=1e-12)


def test_perfectly_dry_air_stays_finite():
    assert np.isfinite(air.dew_point_c(0.0))


def test_humidity_rises_with_the_wet_bulb():
    wet = np.linspace(5.0, 60.0, 400)
    assert np.all(np.diff(air.humidity_ratio_from_wet_bulb(60.0, wet)) > 0.0)


def test_saturation_slope_is_the_derivative():
    temps = np.array([-30.0, -5.0, 5.0, 30.0, 60.0])
    value, slope = air.saturation_humidity_ratio_slope(temps, 90_000.0)
    step = 1e-3
    numeric = (
        air.saturation_humidity_ratio(temps + step, 90_000.0)
        - air.saturation_humidity_ratio(temps - step, 90_000.0)
    ) / (2 * step)
    np.testing.assert_allclose(value, air.saturation_humidity_ratio(temps, 90_000.0), rtol=1e-12)
    np.testing.assert_allclose(slope, numeric, rtol=1e-6)


def test_ice_and_water_formulas_meet_at_the_triple_point():
    below, above = air.saturation_pressure_pa(np.array([0.01 - 1e-7, 0.01 + 1e-7]))
    assert below == pytest.approx(above, rel=1e-4)
    assert above == pytest.approx(611.7, abs=0.1)


def test_arrays_give_what_scalars_give():
    temps = np.array([[-10.0, 5.0], [25.0, 45.0]])
    ratios = np.array([0.001, 0.004])
    for function in (air.relative_humidity_frac, air.density_dry_kg_per_m3):
        whole = function(temps, ratios)
        assert whole.shape == (2, 2)
        for index in np.ndindex(2, 2):
            single = function(float(temps[index]), float(ratios[index[1]]))
            assert np.ndim(single) == 0
            assert single == pytest.approx(whole[index], rel=1e-12)


def test_moist_air_is_lighter_than_dry_air():
    whole = 1.02 * air.density_dry_kg_per_m3(30.0, 0.02)
    assert whole < air.density_dry_kg_per_m3(30.0, 0.0)


def test_pressure_falls_with_elevation():
    pressure = air.pressure_at_elevation_pa(np.array([0.0, 500.0, 1500.0, 3000.0]))
    assert pressure[0] == pytest.approx(101_325.0)
    assert np.all(np.diff(pressure) < 0.0)
