"""Moist air against the handbook's examples and two independent programs."""

import numpy as np
import psychrolib
import pytest

from restcab.physics import air
from restcab.physics.refrigeration.coil import coil_heat_w
from restcab.units import celsius

pytestmark = pytest.mark.outside

CHART_RTOL = 0.02  # values read off a printed chart to two or three digits
IDEAL_GAS_RTOL = 0.006  # our ideal mixture leaves out the enhancement factor, 0.4-0.5 %
ENTHALPY_ATOL_J_PER_KG = 300.0  # the same 0.5 % of humidity, as latent heat
DEW_POINT_ATOL_K = 0.1  # the enhancement factor, 0.5 % of vapour pressure, is 0.09 K
WET_BULB_ATOL_K = 0.1  # same, largest in hot, nearly saturated air

# ASHRAE Handbook - Fundamentals 2021, ch. 1, example 1 (read): 40 °C, 20 °C wet bulb, sea level.
HANDBOOK_1 = {"W": 6.5e-3, "rh": 0.14, "dew": 7.0, "h": 56.7e3, "v": 0.896}

# Humidity ratio of saturated air (computed with CoolProp 8.0): temperature °C, kg/kg.
SATURATED = [(10.0, 0.007663), (20.0, 0.014760), (30.0, 0.027333), (40.0, 0.049144)]

# State, computed with CoolProp 8.0: dry bulb °C, relative humidity, W kg/kg, dew point °C.
STATES = [
    (35.0, 0.40, 14.20e-3, 19.4),
    (37.8, 0.50, 20.91e-3, 25.6),  # cab cooling test condition
    (43.3, 0.40, 22.46e-3, 26.8),  # cab air-conditioning test condition
    (24.0, 0.50, 9.34e-3, None),
]


def enthalpy_j_per_kg(temp_c, ratio):
    """Above dry air and water at 0 °C: what a coil at 0 °C takes, and the vapour that stays."""
    sensible_w, latent_w = coil_heat_w(1.0, temp_c, ratio, 0.0)
    return sensible_w + latent_w + min(ratio, air.saturation_humidity_ratio(0.0)) * air.H_FG


def wet_bulb_error_k(temp_c, wet_c, ratio, pressure_pa):
    """How far a wet bulb is from the one that gives the humidity ratio [K], by the local slope."""
    step_k = 1e-3
    low, here, high = (
        float(air.humidity_ratio_from_wet_bulb(temp_c, wet_c + shift, pressure_pa))
        for shift in (-step_k, 0.0, step_k)
    )
    return abs(here - ratio) / ((high - low) / (2.0 * step_k))


def test_handbook_example():
    ratio = air.humidity_ratio_from_wet_bulb(40.0, 20.0)
    assert ratio == pytest.approx(HANDBOOK_1["W"], rel=CHART_RTOL)
    assert air.relative_humidity_frac(40.0, ratio) == pytest.approx(HANDBOOK_1["rh"], abs=0.005)
    assert air.dew_point_c(ratio) == pytest.approx(HANDBOOK_1["dew"], abs=0.6)
    assert enthalpy_j_per_kg(40.0, ratio) == pytest.approx(HANDBOOK_1["h"], rel=0.005)
    volume = 1.0 / air.density_dry_kg_per_m3(40.0, ratio)
    assert volume == pytest.approx(HANDBOOK_1["v"], abs=1e-3)


def test_handbook_example_in_customary_units():
    """100 °F, 65 °F wet bulb (read, through an independent program's tests)."""
    ratio = air.humidity_ratio_from_wet_bulb(celsius(100.0), celsius(65.0))
    assert ratio == pytest.approx(0.00523, rel=CHART_RTOL)
    assert air.dew_point_c(ratio) == pytest.approx(celsius(40.0), abs=0.6)
    volume_ft3_per_lb = 16.0185 / air.density_dry_kg_per_m3(celsius(100.0), ratio)
    assert volume_ft3_per_lb == pytest.approx(14.22, abs=0.03)


@pytest.mark.parametrize(("temp_c", "ratio"), SATURATED)
def test_saturated_humidity_ratio(temp_c, ratio):
    assert air.saturation_humidity_ratio(temp_c) == pytest.approx(ratio, rel=IDEAL_GAS_RTOL)


@pytest.mark.parametrize(("temp_c", "rh_frac", "ratio", "dew_c"), STATES)
def test_states(temp_c, rh_frac, ratio, dew_c):
    found = air.humidity_ratio_from_rh(temp_c, rh_frac)
    assert found == pytest.approx(ratio, rel=IDEAL_GAS_RTOL)
    if dew_c is not None:
        assert air.dew_point_c(found) == pytest.approx(dew_c, abs=0.06)


def test_real_gas_program():
    from CoolProp.HumidAirProp import HAPropsSI

    for temp_c in (5.0, 20.0, 35.0, 45.0):
        for rh in (0.2, 0.5, 0.9):
            for pressure in (84_000.0, 101_325.0):
                given = ("T", temp_c + 273.15, "P", pressure, "R", rh)
                ratio = HAPropsSI("W", *given)
                assert air.humidity_ratio_from_rh(temp_c, rh, pressure) == pytest.approx(
                    ratio, rel=IDEAL_GAS_RTOL
                )
                wet_c = HAPropsSI("B", *given) - 273.15
                assert wet_bulb_error_k(temp_c, wet_c, ratio, pressure) < WET_BULB_ATOL_K
                assert air.dew_point_c(ratio, pressure) == pytest.approx(
                    HAPropsSI("D", *given) - 273.15, abs=DEW_POINT_ATOL_K
                )
                assert enthalpy_j_per_kg(temp_c, ratio) == pytest.approx(
                    HAPropsSI("H", *given), abs=ENTHALPY_ATOL_J_PER_KG
                )
                assert air.density_dry_kg_per_m3(temp_c, ratio, pressure) == pytest.approx(
                    1.0 / HAPropsSI("V", *given), rel=1e-3
                )


def test_ideal_gas_program():
    psychrolib.SetUnitSystem(psychrolib.SI)
    rng = np.random.default_rng(20)
    temps, rhs = rng.uniform(-40.0, 60.0, 200), rng.uniform(0.02, 1.0, 200)
    pressures = rng.uniform(70_000.0, 105_000.0, 200)
    for temp_c, rh, pressure in zip(temps.tolist(), rhs.tolist(), pressures.tolist(), strict=True):
        ratio = psychrolib.GetHumRatioFromRelHum(temp_c, rh, pressure)
        assert air.humidity_ratio_from_rh(temp_c, rh, pressure) == pytest.approx(ratio, rel=1e-9)
        assert air.dew_point_c(ratio, pressure) == pytest.approx(
            psychrolib.GetTDewPointFromHumRatio(temp_c, ratio, pressure), abs=1e-6
        )
        wet = psychrolib.GetTWetBulbFromHumRatio(temp_c, ratio, pressure)
        if abs(wet) > 1.0:  # near freezing two wet bulbs are possible
            assert wet_bulb_error_k(temp_c, wet, ratio, pressure) < 2e-3
        moist = (1.0 + ratio) * air.density_dry_kg_per_m3(temp_c, ratio, pressure)
        assert moist == pytest.approx(
            psychrolib.GetMoistAirDensity(temp_c, ratio, pressure), rel=1e-6
        )


def test_standard_atmosphere():
    """ASHRAE Handbook - Fundamentals 2021, ch. 1, table 1 (from memory): 1500 m 84.556 kPa."""
    assert air.pressure_at_elevation_pa(1500.0) == pytest.approx(84_556.0, abs=30.0)
