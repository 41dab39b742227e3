"""Fuel and emission factors against published ranges."""

import numpy as np
import pytest

from restcab.physics.engine_idle import (
    IdleLine,
    auxiliary_fuel_gal,
    heater_fuel_l,
    idle_fuel_gal,
    shaft_kwh,
)
from restcab.physics.sources import fuel_gal_per_kwh
from restcab.provenance import HOW_KNOWN, data_rows
from restcab.spec import default_spec
from restcab.studies.factors import Factors
from restcab.units import BTU_PER_H_PER_W, L_PER_GAL

pytestmark = pytest.mark.outside

FACTORS = Factors()
LINE = IdleLine(
    FACTORS["idle.fuel_base"], FACTORS["idle.fuel_per_kwh"], FACTORS["idle.fuel_per_100rpm"]
)
# A handbook's reading of a chart, two digits.
READING = 0.03


def idle_gal_per_h(cooling_w: float, rpm: float) -> float:
    """One hour of idling with the parked truck's own electric load."""
    shaft = shaft_kwh(cooling_w, FACTORS["idle.ac_cop"], FACTORS["idle.truck_electric"],
                      FACTORS["idle.alternator"], 0.98)  # fmt: skip
    return float(idle_fuel_gal(LINE, 1.0, shaft, rpm))


def test_unloaded_idle():
    # 0.46-0.65 gal/h, 20 trucks over a year: Frey, Kuo and Villa 2009, abstract (read);
    # 0.49 gal/h without load: US DOE Fact of the Week 861 (read).
    assert 0.46 <= idle_gal_per_h(0.0, FACTORS["idle.rpm_low"]) <= 0.65
    assert idle_gal_per_h(0.0, FACTORS["idle.rpm_low"]) == pytest.approx(0.49, abs=READING)


@pytest.mark.parametrize("cooling_w", [500.0, 1500.0, 4000.0])
def test_idle_with_air_conditioning(cooling_w):
    # 0.8 gal/h with accessories, EPA (read second-hand), to 1.2 at high idle (TMC map, from
    # memory).
    assert 0.8 <= idle_gal_per_h(cooling_w, FACTORS["idle.rpm_high"]) <= 1.2


def test_no_idle_exceeds_the_highest_seen():
    # 1.85 gal/h: Rahman et al. 2013, review abstract (read).
    assert idle_gal_per_h(6000.0, FACTORS.span("idle.rpm_high")[1]) < FACTORS["idle.fuel_max_seen"]


def test_rise_with_speed():
    # Up to +150 % from 600 to 1,100 rpm: Singh et al. 2014, review (read).
    slow, fast = (float(idle_fuel_gal(LINE, 1.0, 0.0, rpm)) for rpm in (600.0, 1100.0))
    assert 1.0 < fast / slow <= 2.5


@pytest.mark.parametrize(
    ("rpm", "shaft_kw", "gal_per_h"), [(600, 0.7, 0.50), (900, 1.75, 0.88), (1100, 3.0, 1.18)]
)
def test_points_of_the_bridge(rpm, shaft_kw, gal_per_h):
    # Points computed by hand from the same straight bridge (design assumption).
    assert float(idle_fuel_gal(LINE, 1.0, shaft_kw, rpm)) == pytest.approx(gal_per_h, abs=0.006)


@pytest.mark.parametrize("shaft_kw", [0.31, 1.0, 2.0, 3.5])
def test_auxiliary_unit(shaft_kw):
    # 0.24-0.41 gal/h: Frey et al. 2009 (read); 0.18 from ANL/ESD-43 Table 4 (read, fuel computed).
    rate = auxiliary_fuel_gal(FACTORS["apu.fuel_base"], FACTORS["apu.fuel_per_kwh"], 1.0, shaft_kw)
    assert 0.18 <= float(rate) <= 0.41


def test_air_heater():
    # 0.02-0.06 gal/h: several sources, 0.061 the highest (read); output 6,800-13,600 Btu/h: NACFE.
    heater = default_spec().heater
    full = float(heater_fuel_l(heater.output_w, heater.output_w, heater.fuel_l_per_h)) / L_PER_GAL
    low = float(heater_fuel_l(0.35 * heater.output_w, heater.output_w, heater.fuel_l_per_h))
    assert 0.02 <= low / L_PER_GAL < full <= 0.061
    assert 6800.0 <= heater.output_w * BTU_PER_H_PER_W * (1 + 1e-9) <= 13600.0
    efficiency = heater.output_w / 1000.0 / (full * FACTORS["diesel.lhv"])
    assert 0.75 <= efficiency <= 0.92


def test_carbon_of_an_idle_hour():
    # About 0.82 gal/h and 8,224 g CO2/h on average: Lim, EPA420-R-02-025 (from memory).
    grams = 0.82 * FACTORS["diesel.co2"] * 1000.0
    assert grams == pytest.approx(8224.0, rel=0.03)


def test_carbon_and_grid():
    assert FACTORS["diesel.co2"] == 10.21  # EPA factors hub (read second-hand)
    # 770.884, 599.17, 429.98 lb/MWh: EPA eGRID2023 rev 2 (read second-hand).
    for name, lb_per_mwh in (("us", 770.884), ("rfce", 599.17), ("camx", 429.98)):
        kg_per_kwh = lb_per_mwh * 0.45359237 / 1000.0
        assert FACTORS[f"grid.co2.{name}"] == pytest.approx(kg_per_kwh, abs=6e-4)


def test_auxiliary_unit_against_the_engine():
    # -80 to -90 % NOx against the base engine: Frey et al. 2009; base engines of the time 85 g/h:
    # McCormick et al. 2000 (all read).
    assert 0.8 <= 1.0 - FACTORS["apu.nox"] / 85.0 <= 0.9


def test_fuel_of_recharging():
    # 0.08-0.155 gal/kWh at the alternator over the plausible chains (computed from read figures).
    assert 0.08 <= float(fuel_gal_per_kwh()) <= 0.155
    assert float(fuel_gal_per_kwh(0.40, 0.55, 0.98)) == pytest.approx(0.123, abs=5e-4)


@pytest.mark.parametrize("table", ["factors", "options"])
def test_every_row_has_a_source_and_a_span(table):
    for row in data_rows(table):
        assert row["source"].strip()
        assert row["how"] in HOW_KNOWN
        assert float(row["low"]) <= float(row["value"]) <= float(row["high"])


def test_fuel_of_a_rest_is_that_of_its_hours():
    hours = np.array([1.0, 2.0, 7.0])
    parts = idle_fuel_gal(LINE, hours, 0.5 * hours, 900.0)
    assert parts.sum() == pytest.approx(float(idle_fuel_gal(LINE, 10.0, 5.0, 900.0)), rel=1e-12)
