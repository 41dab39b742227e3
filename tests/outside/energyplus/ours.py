"""The box in this package: its surfaces, the sun on it, and a year of nights.

A year is run as its 365 days side by side: each starts ``LEAD_IN_DAYS`` earlier at the evening
hour, goes through those days with the same nightly cooling, and keeps the last 24 hours. The
paints are further cases.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from outside.energyplus import box

from restcab.engine.assemble import build_network
from restcab.engine.cases import RunOptions, make_cases
from restcab.engine.forcing import Forcing, Moment, Sampler
from restcab.engine.network import Network
from restcab.engine.rests import run_rests
from restcab.engine.state import Action, Free, Gains
from restcab.engine.step import Stepper
from restcab.engine.still import uniform
from restcab.physics.arrays import FloatArray
from restcab.season.scene import Scene, make_scene
from restcab.season.truck_sun import sun_on_truck
from restcab.spec.reading import default_spec
from restcab.spec.surfaces import Cab, Layer, Surface, Zone
from restcab.weather.files import read_weather

STEP_S = RunOptions(hours=1.0).step_s
LEAD_IN_DAYS = 4
"""Mattress and cabinets forget within a day or two; four leave nothing of the start."""
DAYS = 365


@dataclass(frozen=True)
class Year:
    """Hourly means of a year, shape (n_paint, 8760); the first is the hour that ends at 01:00."""

    temp_air_c: FloatArray
    cooling_w: FloatArray


def cab(
    *, windows: bool = True, air_changes_per_h: float = box.AIR_CHANGES_PER_H,
    film_inside_w_per_m2k: float | None = None,
) -> Cab:  # fmt: skip
    """The box, painted with an absorptance of 1 so that a paint is a factor on its sun."""
    window_m2 = box.WINDOW_M2 if windows else 0.0
    side_m2 = box.LENGTH_M * box.HEIGHT_M - window_m2
    end_m2, level_m2 = box.WIDTH_M * box.HEIGHT_M, box.WIDTH_M * box.LENGTH_M

    def shell(name: str, part: str, area_m2: float, tilt: float, azimuth: float) -> Surface:
        return Surface(
            name, part, "bunk", area_m2, tilt_deg=tilt, azimuth_deg=azimuth,
            layers=box.SHELL, solar_absorptance=1.0, emittance=box.EMITTANCE,
        )  # fmt: skip

    def mass(name: str, area_m2: float, tilt: float, layer: Layer) -> Surface:
        return Surface(name, "mass", "bunk", area_m2, facing="adiabatic", tilt_deg=tilt,
                       layers=(layer,))  # fmt: skip

    surfaces = [
        shell("roof", "roof", level_m2, 0.0, 0.0),
        shell("front", "walls", end_m2, 90.0, 0.0),
        shell("rear", "walls", end_m2, 90.0, 180.0),
        shell("right", "walls", side_m2, 90.0, 90.0),
        shell("left", "walls", side_m2, 90.0, 270.0),
        # No sun reaches the underside.
        Surface("floor", "floor", "bunk", level_m2 - box.BED_M2, tilt_deg=180.0, layers=box.FLOOR,
                solar_absorptance=0.0, emittance=box.EMITTANCE),
        mass("bed", box.BED_M2, 180.0, box.BED),
        mass("cabinets", box.CABINETS_M2, 90.0, box.HALF_BOARD),
    ]  # fmt: skip
    if windows:
        surfaces += [
            Surface(f"window {side}", "glass", "bunk", window_m2, azimuth_deg=azimuth,
                    tilt_deg=90.0, layers=(box.PANE,), emittance=box.GLASS_EMITTANCE,
                    emittance_inside=box.GLASS_EMITTANCE, roughness="very smooth",
                    transmittance=box.GLASS_TRANSMITTANCE, absorptance=box.GLASS_ABSORPTANCE)
            for side, azimuth in (("right", 90.0), ("left", 270.0))
        ]  # fmt: skip
    surfaces = [replace(s, h_in_convective_w_per_m2k=film_inside_w_per_m2k) for s in surfaces]
    volume_m3 = box.WIDTH_M * box.LENGTH_M * box.HEIGHT_M
    return Cab((Zone("bunk", volume_m3, air_changes_per_h=air_changes_per_h),), tuple(surfaces))


def scene(weather_file: Path, box_cab: Cab) -> Scene:
    """The box under a weather, made by the package's own way from a spec to the engine."""
    # Their ground is a plain as warm as the air, without shadows.
    spec = default_spec([f"truck.heading={box.HEADING_DEG:g}", "rest.ground=none"])
    weather = read_weather(weather_file)
    truck = make_scene(spec, weather)
    network = build_network(box_cab)
    sun = sun_on_truck(spec, weather, box_cab, network)
    return replace(truck, network=network, forcing=replace(truck.forcing, solar=sun))


class NightCooling:
    """Ideal cooling that holds the setpoint from evening to morning."""

    def __init__(self) -> None:
        self.on = False

    def act(self, free: Free, moment: Moment, step_s: float) -> Action:
        """Take out what lifts the air above the setpoint."""
        excess_k = np.maximum(free.temp_bunk_c - box.SETPOINT_C, 0.0)
        return Action(-self.on * excess_k / free.response_k_per_w, np.zeros_like(excess_k))


def run(
    network: Network, forcing: Forcing, paints: Sequence[float], *, cooled: bool,
    step_s: float = STEP_S, lead_in_days: int = LEAD_IN_DAYS, start_h: int = box.NIGHT_START_H,
) -> Year:  # fmt: skip
    """Run a year for some paints [solar absorptance] at once, at the package's own step."""
    per_hour = round(3600.0 / step_s)
    # Label 0 of the hour axis is 01:00.
    evening_h = start_h - 1.0 + 24.0 * np.arange(DAYS)
    cases = make_cases(
        np.tile(evening_h - 24.0 * lead_in_days, len(paints)), box.SETPOINT_C,
        solar_scale=np.repeat(paints, DAYS),
    )  # fmt: skip
    sampler = Sampler(forcing)
    moment = sampler.at(cases.start_h)
    stepper = Stepper(network, cases, forcing.solar, moment.pressure_pa, step_s)
    state = uniform(network, moment.temp_out_c, moment.humidity_ratio_out)
    one = np.ones((1, len(cases)))
    gains = Gains(box.GAIN_CONVECTIVE_W * one, box.GAIN_RADIANT_W * one, 0.0 * one)
    control = NightCooling()
    no_soak = np.zeros(len(cases))
    kept_air = np.zeros((24, len(cases)))
    kept_cooling = np.zeros((24, len(cases)))
    for index in range(24 * per_hour * (lead_in_days + 1)):
        control.on = cooled and index // per_hour % 24 < box.NIGHT_HOURS
        moment = sampler.at(cases.start_h + (index + 1) / per_hour)
        flows = stepper.advance(state, moment, gains, control, no_soak)
        if index >= 24 * per_hour * lead_in_days:
            hour = index // per_hour % 24
            kept_air[hour] += state.air_c[0] / per_hour
            kept_cooling[hour] -= flows.unit_sensible_w / per_hour
    return Year(*(_in_order(kept, len(paints), start_h) for kept in (kept_air, kept_cooling)))


def _in_order(kept: FloatArray, n_paint: int, start_h: int) -> FloatArray:
    """From (24, paint x day), the first hour of the rest in front, to (paint, hour of the year)."""
    by_day = kept.T.reshape(n_paint, DAYS * 24)
    return np.roll(by_day, start_h, axis=1)


class Held:
    """Ideal unit that keeps the bunk from passing its setpoint, from one side."""

    def __init__(self, setpoint_c: float, heated: bool) -> None:
        self.setpoint_c, self.sign = setpoint_c, 1.0 if heated else -1.0
        self.heat_w = np.zeros(0)

    def act(self, free: Free, moment: Moment, step_s: float) -> Action:
        """Put in, or take out, what is missing."""
        missing_k = np.maximum(self.sign * (self.setpoint_c - free.temp_bunk_c), 0.0)
        self.heat_w = self.sign * missing_k / free.response_k_per_w
        return Action(self.heat_w, np.zeros_like(missing_k))


def run_held(
    scene: Scene, first_day: int, n_day: int, setpoint_c: float, *, heated: bool,
    lead_in_days: int = LEAD_IN_DAYS,
) -> FloatArray:  # fmt: skip
    """Heat taken out, or put in, hour by hour [W], on days held from midnight to midnight.

    Returns
    -------
    FloatArray
        Shape (day, 24); each day after a lead-in that is held alike.
    """
    network, forcing = scene.network, scene.forcing
    per_hour = round(3600.0 / STEP_S)
    # Label 0 of the hour axis is 01:00 of the first day.
    midnight_h = 24.0 * (first_day + np.arange(n_day)) - 1.0
    cases = make_cases(midnight_h - 24.0 * lead_in_days, setpoint_c)
    sampler = Sampler(forcing)
    moment = sampler.at(cases.start_h)
    stepper = Stepper(network, cases, forcing.solar, moment.pressure_pa, STEP_S)
    state = uniform(network, moment.temp_out_c, moment.humidity_ratio_out)
    none = np.zeros((network.n_zone, n_day))
    gains, control, no_soak = Gains(none, none, none), Held(setpoint_c, heated), np.zeros(n_day)
    kept = np.zeros((n_day, 24))
    lead_in = 24 * per_hour * lead_in_days
    for index in range(lead_in + 24 * per_hour):
        moment = sampler.at(cases.start_h + (index + 1) / per_hour)
        stepper.advance(state, moment, gains, control, no_soak)
        if index >= lead_in:
            kept[:, (index - lead_in) // per_hour] += np.abs(control.heat_w) / per_hour
    return kept


def run_nights(box_scene: Scene, paint: float, lead_in_h: float) -> FloatArray:
    """Heat taken out hour by hour in the nights run as rests of the package [W].

    Each rest starts by itself: the box stands closed, empty and uncooled during the lead-in.

    Returns
    -------
    FloatArray
        Shape (night, hour of the night).
    """
    start_h = box.NIGHT_START_H - 1.0 + 24.0 * np.arange(DAYS, dtype=np.float64)
    cases = make_cases(
        start_h, box.SETPOINT_C, solar_scale=paint,
        people_sensible_w=box.GAIN_CONVECTIVE_W + box.GAIN_RADIANT_W,
    )  # fmt: skip
    options = RunOptions(
        hours=float(box.NIGHT_HOURS), lead_in_h=lead_in_h, arrival="soaked", step_s=STEP_S
    )
    # Theirs knows no air that a unit moves.
    ideal = replace(box_scene.ideal, air_speed_m_per_s=0.0)
    rests = run_rests(box_scene.network, box_scene.forcing, cases, options, ideal)
    sensible = rests.load_w - rests.latent_w
    return np.asarray(sensible.reshape(box.NIGHT_HOURS, -1, DAYS).mean(axis=1).T)
