"""Sol-air temperature against the ASHRAE Handbook of Fundamentals 2021, chapter 18 (read).

Tables 29A and 29B: Atlanta, 21 July, a dark wall facing 60 degrees west of south, all 24 hours.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support import (
    drive,
    fixed_wall,
    one_zone,
    still_moment,
    sun_on_planes,
    sunny_weather,
    total_w_per_m2,
)

from restcab.engine.assemble import build_network
from restcab.engine.forcing import SolarTable
from restcab.engine.network import Network
from restcab.engine.solar import Incidence, solar_table
from restcab.physics import clearsky as cs
from restcab.physics.sky import black_body_w_per_m2, temp_sky_c
from restcab.spec.surfaces import Layer, Surface
from restcab.weather.sun import Incident

pytestmark = pytest.mark.outside

LATITUDE, LONGITUDE, UTC_OFFSET, DAY = 33.64, -84.43, -5.0, 202
TAU_BEAM, TAU_DIFFUSE = 0.515, 2.066
WALL_AZIMUTH_SOUTH, ALBEDO = 60.0, 0.2
SOLAR_ABSORPTANCE, H_OUT = 0.9, 17.0  # the table uses 0.9/17 = 0.0529

BEAM = [0] * 5 + [27.5, 333.0, 531.9, 647.4, 717.2, 758.5, 779.3, 783.1, 770.5, 739.6, 684.6]
BEAM += [593.7, 440.8, 173.7] + [0] * 5
DIFFUSE = [0] * 5 + [21.2, 73.0, 107.2, 131.0, 147.7, 158.5, 164.3, 165.4, 161.8, 153.4, 139.6]
DIFFUSE += [119.4, 90.7, 48.3] + [0] * 5
TOTAL = [0] * 5 + [11.8, 48.4, 82.7, 112.8, 137.3, 155.9, 178.4, 330.3, 489.8, 597.1, 631.9]
TOTAL += [578.3, 424.7, 166.0] + [0] * 5
AIR = [23.2, 22.8, 22.4, 22.1, 21.9, 22.1, 22.9, 24.8, 26.9, 28.8, 30.6, 31.7]
AIR += [32.6, 33.1, 33.1, 32.4, 31.6, 30.4, 28.7, 27.5, 26.5, 25.5, 24.7, 23.9]
SOL_AIR = [23.2, 22.8, 22.4, 22.1, 21.9, 22.7, 25.4, 29.2, 32.9, 36.1, 38.8, 41.1]
SOL_AIR += [50.0, 59.0, 64.7, 65.8, 62.1, 52.9, 37.5, 27.5, 26.5, 25.5, 24.7, 23.9]

HOUR = np.arange(1.0, 25.0)
# The handbook's own run comes out 0.06 % above its printed equations in every hour.
IRRADIANCE_ABS_W = 0.6
# Two printed tenths: air and result are rounded.
TEMP_ABS_K = 0.11
# The printed sun, 0.6 W/m² above the printed equations, lifts a dark wall by 0.03 K more.
SOL_AIR_ABS_K = TEMP_ABS_K + 0.03
# The commands share the sky diffuse out by Perez (1990), the handbook by a ratio of its own: two
# published fits to measured skies. Perez gives a wall beside a high sun less, one that faces a low
# sun more; over the day the two differ by 2 to 3 % here.
SKY_MODEL_W, SKY_MODEL_DAY_FRAC = 42.0, 0.03
# Sine of the day and rounded equation of time against the NREL algorithm.
ALMANAC_DEG = 0.1
ROOM_C = 22.0


def _solar_time() -> np.ndarray:
    return cs.solar_time_h(HOUR, LONGITUDE, UTC_OFFSET, DAY)


def _sky() -> cs.ClearSky:
    altitude = cs.sun_altitude_deg(LATITUDE, cs.declination_deg(DAY), _solar_time())
    return cs.clear_sky(cs.extraterrestrial_w_per_m2(DAY), altitude, TAU_BEAM, TAU_DIFFUSE, "2013")


@cache
def _on_the_wall() -> Incident:
    """The handbook's beam and diffuse, brought onto the wall as the commands do."""
    middle = np.datetime64("2001-07-21T00:00", "m") + (60 * HOUR).astype("timedelta64[m]")
    weather = sunny_weather(middle, (LATITUDE, LONGITUDE, 0.0, UTC_OFFSET), *_sky())
    return sun_on_planes(weather, [(90.0, 180.0 + WALL_AZIMUTH_SOUTH)], albedo=ALBEDO)


@pytest.mark.parametrize(
    ("name", "computed", "printed"),
    [
        ("beam", lambda: _sky().beam_normal_w_per_m2, BEAM),
        ("diffuse", lambda: _sky().diffuse_horizontal_w_per_m2, DIFFUSE),
    ],
)
def test_irradiance_of_all_hours(name, computed, printed):
    difference = np.abs(computed() - np.array(printed))
    assert (difference <= IRRADIANCE_ABS_W).all(), f"{name}: {difference.round(2)}"


def test_sun_on_the_wall_in_all_hours():
    difference = total_w_per_m2(_on_the_wall())[:, 0] - np.array(TOTAL)
    print("Perez less the handbook's wall [W/m2]:", difference.round(0))
    assert np.abs(difference).max() <= SKY_MODEL_W
    assert abs(difference.sum()) <= SKY_MODEL_DAY_FRAC * sum(TOTAL)


def test_air_temperature_of_all_hours():
    assert cs.daily_profile(33.1, 11.2) == pytest.approx(np.array(AIR), abs=TEMP_ABS_K)


def _sunlit(surface: Surface, sun_w_per_m2: float) -> tuple[Network, SolarTable]:
    """A surface of the engine and the sun it absorbs."""
    cab = one_zone([surface])
    network = build_network(cab)
    dark = np.zeros((1, 1))
    return network, solar_table(cab, network, Incidence(dark + sun_w_per_m2, dark, dark, dark))


@pytest.mark.parametrize("hour", range(24))
def test_sol_air_of_all_hours(hour):
    """Heat into a room held at 22 °C, by the wall's conductance: as from air that warm."""
    wall = replace(
        fixed_wall([Layer(r_value_m2k_per_w=0.5)], area_m2=3.0, h_out=H_OUT),
        solar_absorptance=SOLAR_ABSORPTANCE,
    )
    network, sun = _sunlit(wall, TOTAL[hour])
    moment = still_moment(AIR[hour])._replace(absorbed_w=sun.absorbed_w)
    track = drive(network, lambda _: moment, 1.0, 3600.0, ROOM_C, held_c=ROOM_C, places=sun)
    through_w_per_k = 3.0 / (1.0 / H_OUT + 0.5 + 1.0 / 2.5)
    entering_w = track.outer_w[-1] + sun.absorbed_w.sum()
    sol_air_c = ROOM_C + entering_w / through_w_per_k
    assert sol_air_c == pytest.approx(SOL_AIR[hour], abs=SOL_AIR_ABS_K)


def test_hour_15_chain():
    # The worked chain of the example (read, recomputed).
    row, parts = 14, _on_the_wall()
    altitude = cs.sun_altitude_deg(LATITUDE, cs.declination_deg(DAY), _solar_time()[row])
    assert _solar_time()[row] == pytest.approx(14.2647, abs=0.001)
    assert altitude == pytest.approx(57.2, abs=0.05)
    assert cs.air_mass(altitude) == pytest.approx(1.18905, abs=0.0005)
    angle = np.degrees(np.arccos(parts.cos_incidence[row, 0]))
    assert angle == pytest.approx(58.45, abs=ALMANAC_DEG)
    assert parts.beam_w_per_m2[row, 0] == pytest.approx(387.0, abs=IRRADIANCE_ABS_W)
    assert parts.diffuse_sky_w_per_m2[row, 0] == pytest.approx(132.6, abs=SKY_MODEL_W)
    assert parts.ground_w_per_m2[row, 0] == pytest.approx(77.5, abs=0.1)


def test_a_roof_under_a_clear_sky_cools_below_the_air():
    """Equation 29: with h_out 17 and emittance 1 the sky takes about 4 K (63/17 = 3.7).

    The engine's own films in the summer wind of that coefficient, 3.4 m/s, over a roof that
    passes no heat, under a sky that sends 63 W/m² less than the air would.
    """
    roof = Surface(
        "roof", "roof", "bunk", 4.0, tilt_deg=0.0, emittance=1.0,
        layers=(Layer(r_value_m2k_per_w=1e4),),
    )  # fmt: skip
    network, dark = _sunlit(roof, 0.0)
    sky_c = float(temp_sky_c(black_body_w_per_m2(30.0) - 63.0))
    moment = still_moment(30.0, temp_sky_c=sky_c, wind_m_per_s=3.4)
    moment = moment._replace(absorbed_w=dark.absorbed_w)
    track = drive(network, lambda _: moment, 20.0, 3600.0, 30.0, places=dark)
    assert 30.0 - track.nodes_c[-1, 0, 0] == pytest.approx(3.7, abs=0.5)
