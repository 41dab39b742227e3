"""Units away from their rating point against published air-conditioner curves."""

import numpy as np
import pytest

from restcab.physics import air
from restcab.physics.refrigeration.coil import full_speed_state
from restcab.physics.refrigeration.compressor import design_unit
from restcab.physics.refrigeration.unit import RatingPoint
from restcab.physics.refrigeration.unit_map import build_map
from restcab.units import BTU_PER_H_PER_W, celsius

pytestmark = pytest.mark.outside

# Capacity per °F between 95 and 115 °F, and COP at 75 °F over that at 95 °F: bands around the two
# published units below (0.55-0.67 %/°F; 1.28 and 1.38; computed from the curves). They are wider
# than the curves because refrigerants differ.
CAPACITY_SLOPE_PER_F = (-0.0075, -0.0040)
COP_GAIN_75F = (1.25, 1.45)
CURVE_ATOL = 0.03  # the curves themselves are averages over many units

# f = a + b x + c x² + d y + e y² + f x y, x entering wet bulb, y outdoor dry bulb (read
# second-hand): room units, °C, Winkler et al. 2013 (NREL); central units, °F, Cutler et al. 2013
# (NREL/TP-5500-56354). EIR is the inverse of COP.
ROOM_CAPACITY = (0.6405, 0.01568, 0.0004531, 0.001615, -0.0001825, 0.00006614)
ROOM_EIR = (2.287, -0.1732, 0.004745, 0.01662, 0.000484, -0.001306)
CENTRAL_CAPACITY = (
    3.670270705,
    -0.098652414,
    0.000955906,
    0.006552414,
    -0.0000156,
    -0.000131877,
)
CENTRAL_EIR = (-3.302695861, 0.137871531, -0.001056996, -0.012573945, 0.000214638, -0.000145054)

M3_PER_S_PER_CFM = 0.3048**3 / 60.0
UNITS = {
    "10000 Btu/h, 350 cfm": (10_000.0, 1_100.0, 350.0, 60.0, 90.0),
    "7500 Btu/h, 250 cfm": (7_500.0, 780.0, 250.0, 45.0, 70.0),
}


def rating(capacity_btu_per_h, power_w, airflow_cfm, evaporator_fan_w, condenser_fan_w):
    return RatingPoint(
        capacity_btu_per_h / BTU_PER_H_PER_W,
        power_w,
        airflow_cfm * M3_PER_S_PER_CFM,
        evaporator_fan_w,
        condenser_fan_w,
    )


def net(unit, outdoor_f, wet_bulb_f=67.0):
    """Net capacity [W], COP [-] and sensible share [-] on 80 °F air."""
    indoor_c = celsius(80.0)
    ratio = air.humidity_ratio_from_wet_bulb(indoor_c, (np.asarray(wet_bulb_f) - 32.0) / 1.8)
    outdoor_c = (np.asarray(outdoor_f) - 32.0) / 1.8
    _, sensible, latent, power = full_speed_state(unit, outdoor_c, indoor_c, ratio)
    fan = unit.evaporator_fan_w
    capacity = sensible + latent - fan
    return capacity, capacity / (power + fan), (sensible - fan) / capacity


def curve(coefficients, wet_bulb, outdoor):
    a, b, c, d, e, f = coefficients
    return (
        a + b * wet_bulb + c * wet_bulb**2 + d * outdoor + e * outdoor**2 + f * wet_bulb * outdoor
    )


def curves(room, central, wet_bulb_f, outdoor_f):
    """Both curves over their own value at 67 and 95 °F."""
    in_f = curve(central, wet_bulb_f, outdoor_f) / curve(central, 67.0, 95.0)
    in_c = curve(room, celsius(wet_bulb_f), celsius(outdoor_f)) / curve(
        room, celsius(67.0), celsius(95.0)
    )
    return np.minimum(in_f, in_c), np.maximum(in_f, in_c)


@pytest.fixture(scope="module", params=UNITS, ids=str)
def unit(request):
    return build_map(design_unit(rating(*UNITS[request.param])))


def test_rating_condition_gives_the_data_sheet():
    for figures in UNITS.values():
        capacity, cop, _ = net(build_map(design_unit(rating(*figures))), 95.0)
        # 0.5 %: the fit of the map and 80 °F against 26.7 °C
        assert capacity * BTU_PER_H_PER_W == pytest.approx(figures[0], rel=0.005)
        assert capacity / cop == pytest.approx(figures[1], rel=0.005)


def test_capacity_falls_as_published(unit):
    capacity, _, _ = net(unit, np.array([95.0, 115.0]))
    slope = (capacity[1] / capacity[0] - 1.0) / 20.0
    assert CAPACITY_SLOPE_PER_F[0] < slope < CAPACITY_SLOPE_PER_F[1]


def test_efficiency_gains_on_a_mild_night_as_published(unit):
    _, cop, _ = net(unit, np.array([75.0, 95.0]))
    assert COP_GAIN_75F[0] < cop[0] / cop[1] < COP_GAIN_75F[1]


def test_outdoor_curves_lie_between_the_published_units(unit):
    outdoor = np.array([75.0, 85.0, 95.0, 105.0, 115.0, 125.0])
    capacity, cop, _ = net(unit, outdoor)
    low, high = curves(ROOM_CAPACITY, CENTRAL_CAPACITY, 67.0, outdoor)
    relative = capacity / capacity[2]
    assert np.all((relative > low - CURVE_ATOL) & (relative < high + CURVE_ATOL))
    low, high = curves(ROOM_EIR, CENTRAL_EIR, 67.0, outdoor)
    relative = cop[2] / cop
    assert np.all((relative > low - CURVE_ATOL) & (relative < high + CURVE_ATOL))


def test_indoor_wet_bulb_curves_lie_between_the_published_units(unit):
    """From 63 to 73 °F wet bulb; on drier air the coil is dry and the curves do not apply."""
    reference, _, _ = net(unit, 95.0)
    for wet_bulb in (63.0, 70.0, 73.0):
        capacity, _, _ = net(unit, 95.0, wet_bulb)
        low, high = curves(ROOM_CAPACITY, CENTRAL_CAPACITY, wet_bulb, 95.0)
        assert low - CURVE_ATOL < capacity / reference < high + CURVE_ATOL


def test_sensible_share_is_that_of_packaged_units(unit):
    """0.65 to 0.85 at condition A (common practice, no source)."""
    _, _, share = net(unit, 95.0)
    assert 0.65 < share < 0.85


def test_more_air_per_cooling_means_a_drier_coil():
    small, large = (
        build_map(design_unit(rating(10_000.0, 1_100.0, cfm, 60.0, 90.0))) for cfm in (250.0, 350.0)
    )
    shares = [float(net(unit, 95.0)[2]) for unit in (small, large)]
    assert shares[1] > shares[0] + 0.05
