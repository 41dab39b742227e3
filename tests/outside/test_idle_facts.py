"""Fuel and emission factors against published ranges."""

from types import SimpleNamespace

import numpy as np
import pytest

from restcab.options.factors import Factors
from restcab.options.given import GivenValues
from restcab.physics.engine_idle import (
    IdleLine,
    auxiliary_fuel_gal,
    idle_fuel_gal,
    shaft_kwh,
)
from restcab.physics.sources import fuel_gal_per_kwh
from restcab.provenance import HOW_KNOWN, data_rows
from restcab.spec import default_spec
from restcab.spec.means import MEANS
from restcab.spec.options import IDLE_LOGGED_H
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


def apu_shaft_kw(cooling_w, electric_w):
    return float(
        shaft_kwh(cooling_w, FACTORS["apu.ac_cop"], electric_w + FACTORS["apu.electric"],
                  FACTORS["apu.alternator"], 0.98)
    )  # fmt: skip


def apu_gal_per_h(shaft_kw):
    rate = auxiliary_fuel_gal(FACTORS["apu.fuel_base"], FACTORS["apu.fuel_per_kwh"], 1.0, shaft_kw)
    return float(rate)


# Averages of 20 trucks in use: Frey, Kuo and Villa 2009, abstract (read).
APU_IN_USE_GAL_PER_H = (0.24, 0.41)


@pytest.mark.parametrize(
    ("use", "cooling_w"), [("mild", 0.0), ("cool night", 150.0), ("hot night", 360.0),
                           ("hot day", 1320.0), ("flat out", 3517.0)]
)  # fmt: skip
def test_auxiliary_unit_in_use(use, cooling_w):
    # Mean cooling of a rest of the built-in truck in Greensboro and Phoenix, and Phoenix's highest
    # (computed). Heating takes its coolant and no more shaft than a mild night.
    rate = apu_gal_per_h(apu_shaft_kw(cooling_w, default_spec().rest.hotel_load_w))
    assert APU_IN_USE_GAL_PER_H[0] <= rate <= APU_IN_USE_GAL_PER_H[1] + 5e-4, use


def test_line_of_the_auxiliary_unit_goes_through_its_points():
    # Lightest use at the lowest, heaviest at the highest of the published averages: which is which
    # is a design assumption, so this checks the table's arithmetic.
    light, heavy = apu_shaft_kw(0.0, 60.0), apu_shaft_kw(12000.0 / BTU_PER_H_PER_W, 60.0)
    assert apu_gal_per_h(light) == pytest.approx(0.24, abs=5e-4)
    assert apu_gal_per_h(heavy) == pytest.approx(0.41, abs=5e-4)


def test_other_publications_lie_in_the_span_of_the_auxiliary_unit():
    # 0.18: ANL/ESD-43 Table 4 (read, fuel computed); 0.2-0.3: NRC 2012 Table 6-1 (read).
    low, high = FACTORS.span("apu.fuel_base")
    light = apu_shaft_kw(0.0, 60.0) * FACTORS["apu.fuel_per_kwh"]
    assert low + light < 0.18
    assert high + light == pytest.approx(0.30, abs=0.005)


def test_auxiliary_unit_is_a_small_diesel():
    # Marginal efficiency 22 to 38 %, from memory; overall less, for it turns itself over.
    marginal = 1.0 / (FACTORS["apu.fuel_per_kwh"] * FACTORS["diesel.lhv"])
    assert 0.22 <= marginal <= 0.38
    assert 3.5 / (apu_gal_per_h(3.5) * FACTORS["diesel.lhv"]) < marginal


def test_hours_of_logged_fleets():
    # 480 h, large van fleet; 1,840 h, flatbed fleet: NREL fleet study (read). 1,000 h on average:
    # NACFE (read).
    assert IDLE_LOGGED_H == (480.0, 1840.0)
    asked = default_spec().options.idle_asked_h
    assert asked == pytest.approx(1160.0)
    assert asked == pytest.approx(1000.0, rel=0.2)


BANDS = ("1998-2006", "2007-2009", "2010-2023", "2024-on")


def test_particles_of_an_idling_engine():
    # 24 engines without filters, 0.030 g/min: McCormick et al. 2000; highest 4 g/h: Rahman et al.
    # 2013 (read).
    assert FACTORS["idle.pm.1998-2006"] == pytest.approx(0.030 * 60.0)
    assert FACTORS.span("idle.pm.1998-2006")[1] <= 4.0
    for band in BANDS[1:]:
        # A filter takes out at least 85 %: Level 3 of the CARB pages (read).
        assert FACTORS.span(f"idle.pm.{band}")[1] <= 0.15 * 1.8 + 1e-9
        # 0.01 to 0.1 g/h or less at idle: from memory.
        assert FACTORS[f"idle.pm.{band}"] <= 0.1
        # Above what the road's limit gives at the shaft work of an idling engine, below ten times
        # as much: 0.01 g per bhp-h (from memory) at 1 to 4 kW.
        limit = 0.0134 * np.array([1.0, 4.0])
        assert limit[0] <= FACTORS[f"idle.pm.{band}"] <= 10.0 * limit[1]


def test_nitrogen_oxides_of_an_idling_engine():
    # 1.416 g/min: McCormick et al. 2000; highest 375 g/h: Rahman et al. 2013 (read).
    assert FACTORS["idle.nox.1998-2006"] == pytest.approx(1.416 * 60.0, rel=2e-3)
    # Clean-idle label, 30 g/h: CARB idling pages (read).
    assert FACTORS["idle.nox.2010-2023"] == 30.0
    assert FACTORS["idle.nox.2024-on"] <= 30.0
    falling = [FACTORS[f"idle.nox.{band}"] for band in BANDS]
    assert falling == sorted(falling, reverse=True)
    assert all(FACTORS.span(f"idle.nox.{band}")[1] <= 375.0 for band in BANDS)


def test_particles_of_the_auxiliary_unit():
    # Tier 4 below 8 kW: 0.40 g/kWh (from memory), 0.60 optional (read); 85 % with a Level 3
    # filter (CARB pages, read).
    light, heavy = apu_shaft_kw(0.0, 60.0), apu_shaft_kw(3517.0, 60.0)
    assert 0.40 * light <= FACTORS["apu.pm"] <= 0.40 * heavy
    assert FACTORS.span("apu.pm") == pytest.approx((0.40 * light, 0.60 * heavy), rel=0.03)
    assert FACTORS["apu.pm_filtered"] == pytest.approx(0.15 * FACTORS["apu.pm"], rel=0.01)
    # -10 to more than -50 % against base engines of the time: Frey et al. 2009 (read).
    assert FACTORS["apu.pm"] < 0.5 * FACTORS["idle.pm.1998-2006"]


def test_air_heater():
    # 0.02-0.06 gal/h: several sources, 0.061 the highest (read); output 6,800-13,600 Btu/h: NACFE.
    heater = default_spec().heater
    hours = SimpleNamespace(heater_wh=heater.output_w * np.array([0.35, 1.0]), heated=True)
    low, full = MEANS["heater"].fuel_l(hours, GivenValues(default_spec(), FACTORS)) / L_PER_GAL
    assert 0.02 <= low < full <= 0.061
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
