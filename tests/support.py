"""Shared helpers: boxes typed in as surfaces, plain forcings, a bare drive of the step, files."""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields, replace
from functools import cache
from itertools import cycle
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pytest
from numpy.typing import NDArray

from restcab import userdir
from restcab.duty.bank_course import BankYear
from restcab.engine.cases import Cases, make_cases
from restcab.engine.exchange import (
    InnerAir,
    InnerFaces,
    OuterFaces,
    SheetFaces,
    inner_films,
    outer_air_of,
    outer_faces_of,
    outer_films,
    sheet_faces_of,
    sheet_films,
    stir,
    surround,
)
from restcab.engine.forcing import SEEN, Forcing, Moment, SolarTable
from restcab.engine.network import Network
from restcab.engine.plant import UnitScale
from restcab.engine.rests import UnitSetup
from restcab.engine.state import Control, Gains, State
from restcab.engine.step import Stepper
from restcab.options.factors import Factors
from restcab.options.idling import idled_frac, wanted_h
from restcab.options.table import OptionYear, years_of_cases
from restcab.options.ways import Case, OptionYears
from restcab.options.year import YearOfRests
from restcab.options.yearly_use import Use
from restcab.physics.arrays import BoolArray, FloatArray, FloatLike
from restcab.physics.battery.cells import BankParams, BankState, bank_arrays, bank_of
from restcab.physics.battery.charging import Charge, charge_for
from restcab.season.scene import Scene, make_scene
from restcab.spec.model import Spec
from restcab.spec.options import Way
from restcab.spec.reading import default_spec
from restcab.spec.surfaces import Cab, Layer, Surface, Zone
from restcab.weather.files import open_weather
from restcab.weather.position import solar_position, sun_at
from restcab.weather.schema import COLUMN_NAMES, STATION_BOUNDS, Weather, make_weather
from restcab.weather.sun import Incident, incident_truck

PRESSURE_PA = 101_325.0
DRY_HUMIDITY_RATIO = 0.005

CONCRETE = Layer(0.20, 1.2, 2000.0, 1000.0)
FOAM = Layer(0.05, 0.04, 30.0, 1400.0)
STEEL = Layer(0.001, 50.0, 7800.0, 480.0)
TRIM = Layer(0.004, 0.2, 900.0, 1700.0)


def fixed_wall(
    layers: Sequence[Layer],
    *,
    name: str = "wall",
    area_m2: float = 1.0,
    h_out: float = 8.0,
    h_in: float = 2.5,
    h_radiative: float = 0.0,
    facing: str = "outdoor",
    part: str = "walls",
    zone: str = "bunk",
) -> Surface:
    """A surface whose films are all given [W/(m²·K)]."""
    return Surface(
        name, part, zone, area_m2, facing=facing, layers=tuple(layers), h_out_w_per_m2k=h_out,
        h_in_convective_w_per_m2k=h_in, h_in_radiative_w_per_m2k=h_radiative,
    )  # fmt: skip


def one_zone(surfaces: Sequence[Surface], **zone: float) -> Cab:
    """A cab of one zone; without further words it holds no air."""
    return Cab((Zone("bunk", **{"volume_m3": 0.0, **zone}),), tuple(surfaces))


def light_box(air_changes_per_h: float = 0.5) -> Cab:
    """An insulated box of cab size, all films computed, with a window and a mattress."""
    shell = (STEEL, FOAM, TRIM)
    sides = [
        Surface(f"side-{azimuth:g}", "walls", "bunk", 4.0, azimuth_deg=azimuth, layers=shell)
        for azimuth in (0.0, 90.0, 180.0, 270.0)
    ]
    window = Surface(
        "window", "glass", "bunk", 0.8, azimuth_deg=90.0,
        layers=(Layer(0.006, 1.0, 2500.0, 800.0),),
        transmittance=0.77, absorptance=0.16, emittance=0.84, emittance_inside=0.84,
    )  # fmt: skip
    rest = [
        Surface("roof", "roof", "bunk", 4.6, tilt_deg=0.0, layers=shell),
        Surface("floor", "floor", "bunk", 4.6, tilt_deg=180.0, layers=shell),
        Surface("mattress", "mass", "bunk", 1.9, facing="adiabatic", tilt_deg=180.0,
                layers=(Layer(0.15, 0.045, 88.0, 1400.0),)),
    ]  # fmt: skip
    zone = Zone("bunk", 10.0, air_changes_per_h=air_changes_per_h, air_changes_wind_frac=0.5)
    return Cab((zone,), (*sides, window, *rest))


def plain_forcing(
    temp_out_c: Sequence[float],
    *,
    temp_sky_c: Sequence[float] | None = None,
    wind_m_per_s: float = 2.0,
    humidity_ratio: float = DRY_HUMIDITY_RATIO,
    n_zone: int = 1,
    cyclic: bool = False,
) -> Forcing:
    """Hourly weather without sun; the sky as warm as the air unless given."""
    temp = np.asarray(temp_out_c, dtype=float)
    one = np.ones(temp.size)
    none = np.zeros(0, dtype=np.int64)
    dark = np.zeros((n_zone, temp.size))
    solar = SolarTable(np.zeros((0, temp.size)), none, none, none.astype(bool), dark, dark)
    sky = temp if temp_sky_c is None else np.asarray(temp_sky_c, dtype=float)
    return Forcing(
        temp, humidity_ratio * one, PRESSURE_PA * one, wind_m_per_s * one, sky, solar, cyclic
    )


def still_moment(
    temp_out_c: float,
    *,
    temp_sky_c: float | None = None,
    wind_m_per_s: float = 2.0,
    n_zone: int = 1,
) -> Moment:
    """One instant without sun, for one case."""
    return Moment(
        np.array([temp_out_c]),
        np.array([DRY_HUMIDITY_RATIO]),
        np.array([PRESSURE_PA]),
        np.array([wind_m_per_s]),
        np.array([temp_out_c if temp_sky_c is None else temp_sky_c]),
        np.zeros((0, 1)),
        np.zeros((n_zone, 1)),
        np.zeros((n_zone, 1)),
        np.full((len(SEEN), 1), temp_out_c),
    )


def no_sun_places(n_zone: int = 1) -> SolarTable:
    """A solar table without a single sunlit node."""
    return plain_forcing([0.0], n_zone=n_zone).solar


def gains_of(convective_w: float = 0.0, radiant_w: float = 0.0, n_zone: int = 1) -> Gains:
    """Gains of the first zone of one case."""
    result = Gains(*(np.zeros((n_zone, 1)) for _ in range(3)))
    result.convective_w[0], result.radiant_w[0] = convective_w, radiant_w
    return result


def uniform_state(network: Network, temp_c: float, n_case: int = 1) -> State:
    """Every node of every case at one temperature."""
    n_node, n_surface, _ = network.capacity_j_per_k.shape
    return State(
        nodes_c=np.full((n_node, n_surface, n_case), temp_c),
        air_c=np.full((network.n_zone, n_case), temp_c),
        radiant_c=np.full((network.n_zone, n_case), temp_c),
        sheets_c=np.full((len(network.partitions), n_case), temp_c),
        humidity_ratio=np.full((network.n_zone, n_case), DRY_HUMIDITY_RATIO),
        water_kg=np.zeros((n_surface, n_case)),
    )


def outer_faces(
    network: Network, nodes_c: FloatArray, moment: Moment, soak_k: FloatArray
) -> OuterFaces:
    """Films of the outer faces as the step fills them in."""
    found = outer_faces_of(network.skin, soak_k.size)
    air = outer_air_of(soak_k.size)
    surround(moment, air)
    outer_films(network.skin, network.outer, nodes_c, moment, soak_k, air, found)
    return found


def inner_air(network: Network, speed_m_per_s: FloatArray, scale: float = 1.0) -> InnerAir:
    """Air along the inner faces at the speed of each case; 0 is still air."""
    forced = np.empty((network.n_zone, speed_m_per_s.size))
    stir(network.stirred, speed_m_per_s, forced)
    return InnerAir(forced, np.full(speed_m_per_s.size, scale))


def inner_faces(
    network: Network, face_c: FloatArray, air_c: FloatArray, radiant_c: FloatArray, air: InnerAir
) -> InnerFaces:
    """Films of the inner faces as the step fills them in."""
    found = InnerFaces(*np.empty((2, *face_c.shape)))
    inner_films(network.lining, face_c, air_c, radiant_c, air, found)
    return found


def sheet_faces(
    network: Network, sheet_c: FloatArray, air_c: FloatArray, radiant_c: FloatArray, air: InnerAir
) -> SheetFaces:
    """Films of the partitions as the step fills them in."""
    found = sheet_faces_of(*sheet_c.shape)
    stores = np.zeros(len(sheet_c))
    sheet_films(network.sheets, stores, sheet_c, air_c, radiant_c, air, found)
    return found


@dataclass(frozen=True)
class Track:
    """A driven case, one row per step end: air (n_step, n_zone), nodes (n_step, node, surface)."""

    time_h: FloatArray
    air_c: FloatArray
    nodes_c: FloatArray
    outer_w: FloatArray


def drive(
    network: Network,
    moment_at: Callable[[float], Moment],
    hours: float,
    step_s: float,
    start_c: float,
    *,
    gains_at: Callable[[float], Gains] | None = None,
    held_c: float | None = None,
    control: Control | None = None,
    places: SolarTable | None = None,
) -> Track:
    """Step one case through exact, time-dependent forcing; times [h] count from the start.

    ``places`` says where the sun of each moment is absorbed; none without it.
    """
    held = None if held_c is None else np.array([held_c])
    cases = make_cases(np.array([0.0]), 20.0)
    places = places or no_sun_places(network.n_zone)
    stepper = Stepper(network, cases, places, np.array([PRESSURE_PA]), step_s, held)
    state, quiet = uniform_state(network, start_c), gains_of(n_zone=network.n_zone)
    time_h: FloatArray = np.arange(1.0, round(hours * 3600.0 / step_s) + 1.0) * (step_s / 3600.0)
    air, nodes, outer = [], [], []
    for time in time_h:
        gains = quiet if gains_at is None else gains_at(float(time))
        flows = stepper.advance(state, moment_at(float(time)), gains, control, np.zeros(1))
        air.append(state.air_c[:, 0].copy())
        nodes.append(state.nodes_c[:, :, 0].copy())
        outer.append(float(flows.outer_w[0]))
    return Track(time_h, np.array(air), np.array(nodes), np.array(outer))


def cases_of(n_case: int = 1, setpoint_c: float = 22.0, **more: float) -> Cases:
    """Cases that all start at hour 0."""
    return make_cases(np.zeros(n_case), setpoint_c, **more)


def unit_setup(
    scale: float | Sequence[float] | FloatArray = 1.0,
    n_case: int = 1,
    *,
    speed: str = "variable",
    duct_loss_frac: float = 0.0,
) -> UnitSetup:
    """The built-in truck's unit, made larger or smaller, for some cases."""
    size = np.array(np.broadcast_to(np.asarray(scale, dtype=float), (n_case,)))
    unit_map = truck_scene(f"cooling.speed={speed}").unit_map
    return UnitSetup(unit_map, UnitScale(size, np.ones(n_case)), duct_loss_frac)


def sunny_weather(
    middle_local: NDArray[np.datetime64],
    place: tuple[float, float, float, float],
    dni_w_per_m2: Any,
    dhi_w_per_m2: Any,
) -> Weather:
    """Hours of given sun around some instants; of the air only what a weather must have.

    ``place`` is latitude and longitude [deg], height [m] and offset from UTC [h].
    """
    values = {name: np.zeros(len(middle_local)) for name in COLUMN_NAMES}
    values["pressure_pa"] += PRESSURE_PA
    values["sky_ir_w_per_m2"] += 300.0
    values["dni_w_per_m2"] += np.asarray(dni_w_per_m2)
    values["dhi_w_per_m2"] += np.asarray(dhi_w_per_m2)
    latitude_deg, longitude_deg, elevation_m, utc_offset_h = place
    middle = middle_local.astype("datetime64[s]")
    utc = middle - np.timedelta64(round(3600.0 * utc_offset_h), "s")
    altitude_deg, _ = sun_at(utc, latitude_deg, longitude_deg, elevation_m)
    up = np.maximum(np.sin(np.radians(altitude_deg)), 0.0)
    values["ghi_w_per_m2"] = values["dhi_w_per_m2"] + up * values["dni_w_per_m2"]
    names = ("latitude_deg", "longitude_deg", "elevation_m", "utc_offset_h")
    label = middle + np.timedelta64(1800, "s")
    station = dict(zip(names, place, strict=True))
    return make_weather("sunny", "sunny", "made for a test", station, label, values)


def sun_on_planes(
    weather: Weather, orientations: Sequence[tuple[float, float]], **more: Any
) -> Incident:
    """Sun on planes fixed to the ground, each by its tilt and its azimuth from north [deg]."""
    tilt_deg, azimuth_deg = np.asarray(orientations, dtype=np.float64).reshape(-1, 2).T
    return incident_truck(weather, tilt_deg, azimuth_deg, 0.0, **more)


def total_w_per_m2(planes: Incident) -> FloatArray:
    """All irradiance on planes [W/m²], shape (n_hour, n_plane)."""
    return planes.beam_w_per_m2 + planes.diffuse_sky_w_per_m2 + planes.ground_w_per_m2


def dark_sun_frac(weather: Weather) -> float:
    """Share of the horizontal sun in hours without sun above the horizon.

    A few thousandths are rounding and twilight; more means a wrong clock, offset or longitude.
    """
    ghi = weather.values("ghi_w_per_m2")
    return float(ghi[~solar_position(weather).is_up].sum() / ghi.sum())


def warmer(year: int, shift_k: float) -> Weather:
    """The year of Greensboro, some degrees warmer, labelled as another year."""
    weather = open_weather("greensboro")
    columns = {name: weather.values(name) for name in COLUMN_NAMES}
    columns["temp_air_c"] = columns["temp_air_c"] + shift_k
    labels = weather.label_local.astype("datetime64[s]")
    labels = labels + (np.datetime64(f"{year}-01-01T01", "s") - labels[0])
    station = {name: getattr(weather, name) for name in STATION_BOUNDS}
    return make_weather(f"lot {year}", f"lot {year}", f"log {year}", station, labels, columns)


def use_own_cache(patch: pytest.MonkeyPatch, folder: Path) -> None:
    """Keep what is worked out in a folder of the test's own, and see nothing that others kept.

    Machine code alone is shared, by a link: it is the same wherever it is made, and every process
    that a test starts would make all of it anew.
    """
    shared = userdir.cache_dir() / userdir.MACHINE_CODE
    with suppress(OSError):  # where nothing can be kept, or the link is there, it costs only time
        userdir._make_home()
        shared.mkdir(mode=0o700, exist_ok=True)
        patch.setenv(userdir.DIRECTORY_VARIABLE, str(folder))
        userdir._make_home()
        (userdir.cache_dir() / userdir.MACHINE_CODE).symlink_to(shared, target_is_directory=True)
    patch.setenv(userdir.DIRECTORY_VARIABLE, str(folder))


PLAIN_ROOM = """
[[truck.zones]]
name = "bunk"
volume = "8 m**3"
[[truck.surfaces]]
name = "walls"
part = "walls"
area = "16 m**2"
layers = [{ heat_capacity = "8000 J/(m**2*K)" }, { r_value = "0.7 m**2*K/W" }]
"""
"""The smallest cab as a spec file lists it: one zone in walls."""
PLAIN_BOX = f"""{PLAIN_ROOM}[rest]
hours = 3
"""
"""The same with a short rest, quick to run through a year."""
COMPARED_BOX = f"""{PLAIN_BOX}[options]
compare = "idling, battery+heater, apu"
"""
"""The same with all that a comparison can be asked for."""


def box_in_july(batteries: int) -> str:
    """The smallest cab, painted, with a bank and the rests of one month."""
    return f"""
[truck]
solar_absorptance = 0.5
{PLAIN_ROOM}[bank]
batteries = {batteries}
[rest]
hours = 3
season = "Jul"
"""


@cache
def weather_of(name: str | None = None) -> Weather:
    """Weather by name, read once."""
    return open_weather(name)


@cache
def truck_scene(*overrides: str) -> Scene:
    """The built-in truck, with overrides, under its default weather."""
    return make_scene(default_spec(overrides), weather_of())


def every_nth_rest(scene: Scene, count: int = 5) -> FloatArray:
    """Some rests spread evenly over the season."""
    return np.linspace(0, len(scene.start_h) - 1, count).astype(np.int64)


def reordered_network(network: Network, order: Sequence[int]) -> Network:
    """The same cab with its surfaces listed in another order."""
    pick = np.asarray(order)
    inverse = np.argsort(pick)
    per_surface = (
        "zone", "outer", "area_m2", "outdoor", "soak", "cos_tilt_out", "cos_tilt_in", "emittance",
        "view_sky", "view_rest", "view_lot", "view_beside", "view_patch", "view_neighbour",
        "roughness", "h_out_fixed", "h_in_convective", "h_in_radiative",
        "radiant_factor", "beam_share", "diffuse_share",
    )  # fmt: skip
    changes: dict[str, object] = {name: getattr(network, name)[pick] for name in per_surface}
    changes |= {
        "names": tuple(network.names[i] for i in order),
        "parts": tuple(network.parts[i] for i in order),
        "capacity_j_per_k": network.capacity_j_per_k[:, pick],
        "link_w_per_k": network.link_w_per_k[:, pick],
        "gaps": tuple(replace(g, surface=int(inverse[g.surface])) for g in network.gaps),
    }
    return replace(network, **changes)  # type: ignore[arg-type]


def write_epw(
    weather: Weather, *, years: dict[int, int] | None = None, wind_from_deg: Sequence[int] = (180,)
) -> str:
    """Write a weather as EPW text, by the field order of the format.

    ``years`` gives months another year, as in typical-year files; hour by hour the wind comes from
    the next of ``wind_from_deg``.
    """
    lines = [
        f"LOCATION,Test Town,NC,USA,TMY3,723170,{weather.latitude_deg},{weather.longitude_deg},"
        f"{weather.utc_offset_h},{weather.elevation_m}",
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,made for a test",
        "COMMENTS 2,",
        "DATA PERIODS,1,1,Data,Sunday,1/1,12/31",
    ]
    start = weather.label_local - np.timedelta64(1, "h")
    rows = weather.frame.itertuples(index=False)
    for at, row, wind in zip(start.tolist(), rows, cycle(wind_from_deg), strict=False):
        year = (years or {}).get(at.month, at.year)
        lines.append(
            f"{year},{at.month},{at.day},{at.hour + 1},60,?9,{row.temp_air_c:.1f},"
            f"{row.temp_dew_c:.1f},50,{row.pressure_pa:.0f},0,0,{row.sky_ir_w_per_m2:.0f},"
            f"{row.ghi_w_per_m2:.0f},{row.dni_w_per_m2:.0f},{row.dhi_w_per_m2:.0f},"
            f"999999,999999,999999,9999,{wind},{row.wind_m_per_s:.1f},9,{row.cloud_frac * 10:.0f},"
            "9999,99999,9,999999999,20,0.1,0,88,0.2,0,0"
        )
    return "\n".join(lines) + "\n"


def charged(
    state: BankState, drive_h: FloatLike, current_a: FloatLike, params: BankParams
) -> Charge:
    """Charge each bank during a drive, as a week of duty does, and put them side by side."""
    values = (*state, drive_h, current_a)
    shape = np.broadcast_shapes(params.rated_ah.shape, *map(np.shape, values))
    rows = zip(*(np.full(shape, each) for each in values), strict=True)
    banks = bank_arrays(params, shape)
    done = [
        charge_for(BankState(out, effective), hours, current, bank_of(banks, case))
        for case, (out, effective, hours, current) in enumerate(rows)
    ]
    states, *rest = zip(*done, strict=True)
    return Charge(BankState(*np.transpose(states)), *map(np.array, rest))


_Rests = TypeVar("_Rests", YearOfRests, BankYear)


def pick_rests(year: _Rests, where: BoolArray) -> _Rests:
    """Keep some of the rests, which then stand for the whole year."""
    changes: dict[str, Any] = {}
    for entry in fields(year):
        value = getattr(year, entry.name)
        if isinstance(value, np.ndarray) and value.ndim > 0:
            changes[entry.name] = value[..., where]
        elif isinstance(value, BankYear):
            changes[entry.name] = pick_rests(value, where)
    return replace(year, **changes)


def use_of(way: Way, year: YearOfRests, spec: Spec, factors: Factors) -> Use:
    """A year of one option by itself, whatever it does not hold."""
    return OptionYears(year, [Case(spec, factors)]).uses(way, way)[0][0]


def option_years(spec: Spec, year: YearOfRests) -> list[OptionYear]:
    """Use and costs of all declared options in a year."""
    return years_of_cases(year, [Case(spec, Factors())])[0][0]


def same_habit(spec: Spec, whole: YearOfRests, part: YearOfRests) -> Spec:
    """The spec with the hours that idle the same share of some rests as of all."""
    hours = idled_frac(spec, whole) * wanted_h(spec, part)
    return spec.with_values("options", idling_h=hours)
