"""Vapour-compression cycles as a unit runs them against published worked examples."""

import pytest
from scipy.optimize import brentq

from restcab.physics.refrigeration.compressor import refrigerant_loop
from restcab.physics.refrigeration.refrigerant import refrigerant

pytestmark = pytest.mark.outside

HANDBOOK_RTOL = 0.003  # printed to three or four digits, same equation of state
TEXTBOOK_RTOL = 0.01  # textbook tables are rounded and from older equations of state
TWO_STAGE_RTOL = 0.03  # 1 kJ/kg in the printed discharge enthalpy of the low stage
COMPUTED_RTOL = 1e-3  # computed with CoolProp 8.0: only the table error remains
KW_PER_TON = 3.516853

R134A = refrigerant("R134a")


def boiling_c(pressure_pa):
    """Saturation temperature [°C] of the table at a pressure [Pa]."""
    return brentq(lambda temp_c: float(dry(temp_c).pressure_pa) - pressure_pa, -40.0, 90.0)


def dry(temp_c, superheat_k=0.0):
    """Vapour of a saturation temperature [°C] and superheat [K]."""
    return R134A.suction_state(R134A.suction_line(superheat_k), temp_c)


def loop(temp_evap_c, temp_cond_c, superheat_k=0.0, subcooling_k=0.0):
    """The loop that a unit runs; by default suction and liquid saturated."""
    suction = R134A.suction_line(superheat_k)
    return refrigerant_loop(R134A, suction, temp_evap_c, temp_cond_c, subcooling_k)


def work_and_effect(*args, **kwargs):
    """Work of compression and heat taken up [kJ/kg]."""
    found = loop(*args, **kwargs)
    return found.lift_j_per_kg / 1e3, found.effect_j_per_kg / 1e3


def test_handbook_single_stage():
    """ASHRAE Handbook - Fundamentals 2021, ch. 2, example 2 (read): -20/30 °C, 50 kW."""
    vapour, found = dry(-20.0), loop(-20.0, 30.0)
    h1, h3 = vapour.enthalpy_j_per_kg / 1e3, R134A.enthalpy_liquid_j_per_kg(30.0) / 1e3
    pressure, h2 = R134A.discharge_state(30.0, vapour.entropy_j_per_kgk)
    assert h1 == pytest.approx(386.55, abs=0.05)
    assert h2 / 1e3 == pytest.approx(423.07, abs=0.05)
    assert h3 == pytest.approx(241.72, abs=0.05)
    assert vapour.pressure_pa == pytest.approx(132.73e3, rel=1e-3)
    assert pressure == pytest.approx(770.20e3, rel=1e-3)
    assert found.pressure_ratio == pytest.approx(770.20 / 132.73, rel=2e-3)
    assert found.effect_j_per_kg / found.lift_j_per_kg == pytest.approx(3.97, rel=HANDBOOK_RTOL)
    assert 50.0e3 / found.effect_j_per_kg == pytest.approx(0.345, rel=HANDBOOK_RTOL)


@pytest.mark.parametrize(
    ("temp_c", "volume_m3_per_kg"), [(-20.0, 0.14739), (0.0, 0.06931), (10.0, 0.04944)]
)
def test_vapour_drawn_in_is_as_dense_as_in_the_handbook(temp_c, volume_m3_per_kg):
    """ASHRAE Handbook - Fundamentals, ch. 30, table of saturated R-134a (from memory)."""
    assert 1.0 / loop(temp_c, 40.0).density_kg_per_m3 == pytest.approx(volume_m3_per_kg, rel=2e-3)


def test_handbook_two_stage():
    """Same chapter, example 4 (read): flash intercooling at 0 °C between the stages."""
    lift_low, effect_low = work_and_effect(-20.0, 0.0)
    lift_high, effect_high = work_and_effect(0.0, 30.0)
    low = 50.0 / effect_low
    # The vapour of both stages gives its heat down to the flash liquid.
    high = low * (lift_low + effect_low) / effect_high
    work_low, work_high = low * lift_low, high * lift_high
    assert low == pytest.approx(0.2680, rel=HANDBOOK_RTOL)
    assert high == pytest.approx(0.3442, rel=TEXTBOOK_RTOL)
    assert work_high == pytest.approx(6.912, rel=TEXTBOOK_RTOL)
    # The printed low-stage work, 4.009 kW, needs a discharge enthalpy of 401.5 kJ/kg; the equation
    # of state gives 402.5. That one reading carries through to the printed COP.
    assert work_low + work_high == pytest.approx(4.009 + 6.912, rel=TWO_STAGE_RTOL)
    assert 50.0 / (work_low + work_high) == pytest.approx(4.58, rel=TWO_STAGE_RTOL)


def test_textbook_ideal_cycle():
    """Cengel and Boles, example 11-1 (from memory): 0.14/0.8 MPa, 0.05 kg/s."""
    evap, cond = (boiling_c(p) for p in (0.14e6, 0.8e6))
    lift, effect = work_and_effect(evap, cond)
    assert 0.05 * effect == pytest.approx(7.18, rel=TEXTBOOK_RTOL)
    assert 0.05 * lift == pytest.approx(1.81, rel=TEXTBOOK_RTOL)
    assert 0.05 * (effect + lift) == pytest.approx(9.0, rel=TEXTBOOK_RTOL)
    assert effect / lift == pytest.approx(3.97, rel=HANDBOOK_RTOL)


def test_textbook_real_cycle():
    """Cengel and Boles, example 11-2 (from memory): superheat, subcooling, losses."""
    evap, cond = (boiling_c(p) for p in (0.14e6, 0.8e6))
    superheat = -10.0 - evap
    lift, effect = work_and_effect(evap, cond, superheat, subcooling_k=cond - 26.0)
    h1 = dry(evap, superheat).enthalpy_j_per_kg / 1e3
    h2 = dry(cond, 50.0 - cond).enthalpy_j_per_kg / 1e3
    assert 0.05 * effect == pytest.approx(7.93, rel=TEXTBOOK_RTOL)
    assert 0.05 * (h2 - h1) == pytest.approx(2.02, rel=TEXTBOOK_RTOL)
    assert lift / (h2 - h1) == pytest.approx(0.939, rel=TEXTBOOK_RTOL)
    assert effect / (h2 - h1) == pytest.approx(3.93, rel=TEXTBOOK_RTOL)


def test_second_textbook():
    """Moran and Shapiro, examples 10.1-10.3 (from memory): 0.08 kg/s; W in kW, capacity in tons."""
    cond = boiling_c(9.0e5)
    cases = [
        (work_and_effect(0.0, 26.0), 1.0, 1.4, 3.67, 9.24),
        (work_and_effect(-10.0, cond), 1.0, 2.48, 3.23, 4.57),
        (work_and_effect(-10.0, cond, subcooling_k=cond - 30.0), 0.8, 3.1, 3.41, 3.86),
    ]
    for (lift, effect), efficiency, work, tons, cop in cases:
        found = 0.08 * lift / efficiency
        assert found == pytest.approx(work, rel=TEXTBOOK_RTOL)
        assert 0.08 * effect / KW_PER_TON == pytest.approx(tons, rel=TEXTBOOK_RTOL)
        assert 0.08 * effect / found == pytest.approx(cop, rel=TEXTBOOK_RTOL)


@pytest.mark.parametrize(
    ("temp_evap_c", "temp_cond_c", "cop"),
    [(5.0, 40.0, 6.547), (5.0, 55.0, 4.055), (0.0, 50.0, 4.057)],
)
def test_computed_ideal_cycles(temp_evap_c, temp_cond_c, cop):
    lift, effect = work_and_effect(temp_evap_c, temp_cond_c)
    assert effect / lift == pytest.approx(cop, rel=COMPUTED_RTOL)
