"""What a truck stands on and between, from its spec and weather to the engine's forcing."""

import math
from dataclasses import asdict, dataclass, fields
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from restcab.engine.forcing import SEEN
from restcab.physics.arrays import FloatArray, IntArray
from restcab.physics.films import wind_at_height
from restcab.physics.lot import CAB_BOTTOM_M, CAB_TOP_M, PLAIN, TRUCK_WIDTH_M, Lot
from restcab.physics.pavement import DEPTH_M, Exposure, Ground, Layer, ground_temperature_c
from restcab.runs import cache
from restcab.spec import catalog
from restcab.spec.model import Spec
from restcab.spec.rest import NO_GROUND
from restcab.weather.hourly import hourly_table
from restcab.weather.lot_sun import sun_on_ground
from restcab.weather.position import SunPosition, solar_position
from restcab.weather.schema import Weather
from restcab.weather.sun import SkyParts, headings_of, sky_parts

CAB_HEIGHT_M = 0.5 * (CAB_BOTTOM_M + CAB_TOP_M)
"""Height at which the wind meets the cab [m]: the middle of a sleeper above its frame."""
TERRAIN = "open"
"""Open parking without shelter (design assumption)."""
SHELTERED_WIND_SHARE = 0.5
"""Wind below a truck and between two, relative to that at the cab [-] (design assumption)."""
SUBSOIL = Layer(DEPTH_M, 1.0, 1800.0 * 1000.0)
"""Compacted base and soil below any ground, from memory."""
PLAIN_ALBEDO = 0.2
"""The customary mean, where no ground is named: ASHRAE Handbook Fundamentals 2021 ch. 14 Table 5
(read: weathered asphalt 0.10, concrete 0.2 to 0.3)."""
SPIN_UP_H = 60 * 24
"""Hours before the series in which the ground comes to its own temperature: twice as many change
it by less than 0.2 K (computed)."""
KEPT_SITES = 4
_SKY, _GROUND = "sky", "ground"
"""Folders of what is kept of them between runs."""
REPEATED_DAYS = 7
"""First days of a short series that are repeated for that."""


@dataclass(frozen=True)
class Site:
    """Where a truck stands, as far as sun and warmth around it depend on it.

    Parameters
    ----------
    lot
        Shape of the place.
    ground
        Row of the catalogue's grounds, or `NO_GROUND`.
    albedo
        Share of the sun that the ground throws back [-].
    beam_frac
        Share of the beam that reaches the truck [-].
    heading_deg
        Where the nose points, clockwise from north [deg]; None for any way.
    """

    lot: Lot
    ground: str
    albedo: float
    beam_frac: float
    heading_deg: float | None


def site_of(spec: Spec, weather: Weather) -> Site:
    """Where the truck of a spec stands; a chamber has neither other trucks nor a warm ground."""
    rest, heading = spec.rest, spec.truck.heading
    ground = NO_GROUND if weather.is_chamber else rest.ground
    lot, albedo = PLAIN, PLAIN_ALBEDO
    if rest.ground != NO_GROUND:
        in_row = rest.neighbours == "row" and not weather.is_chamber
        lot = Lot(in_row, rest.stall_width_m - TRUCK_WIDTH_M, rest.neighbour_height_m)
    if ground != NO_GROUND:
        albedo = catalog.number("grounds", ground, "albedo")
    if rest.ground_albedo_frac is not None:
        albedo = rest.ground_albedo_frac
    heading_deg = None if isinstance(heading, str) else heading
    return Site(lot, ground, albedo, 1.0 - rest.shade_frac, heading_deg)


class Sky(NamedTuple):
    """What stands over a weather, the same for every truck."""

    sun: SunPosition
    parts: SkyParts


def ground_of(name: str) -> Ground:
    """Ground of a row of the catalogue, with soil below it."""

    def number(column: str) -> float:
        return catalog.number("grounds", name, column)

    capacity = number("density_kg_per_m3") * number("specific_heat_j_per_kgk")
    top = Layer(number("thickness_m"), number("conductivity_w_per_mk"), capacity)
    return Ground((top, SUBSOIL), number("emittance"), number("wet_frac"))


# Studies try many trucks on one site: what does not depend on the truck is kept.
@lru_cache(maxsize=KEPT_SITES)
def sky_over(weather: Weather) -> Sky:
    """Sun positions and sky of a weather, kept between runs.

    Working them out takes pvlib, which takes as long to load as all the rest of a command.
    """
    if weather.is_chamber:
        return _sky(weather)
    key = cache.cache_key(weather=weather.content_hash)
    stored = cache.load(_SKY, key)
    if stored is None:
        found = _sky(weather)
        cache.save(_SKY, key, found.sun.__dict__ | found.parts._asdict())
        cache.trim()
        return found
    sun = SunPosition(**{entry.name: stored[entry.name] for entry in fields(SunPosition)})
    return Sky(sun, SkyParts(**{name: stored[name] for name in SkyParts._fields}))


def _sky(weather: Weather) -> Sky:
    sun = solar_position(weather)
    return Sky(sun, sky_parts(weather, sun))


@lru_cache(maxsize=KEPT_SITES)
def sun_around(weather: Weather, site: Site) -> FloatArray:
    """Sun on open lot, on the strip beside and on the patch below a truck.

    Parameters
    ----------
    weather, site
        Where the truck stands, and when.

    Returns
    -------
    FloatArray
        Irradiance on the level [W/m²], shape (3, n_hour), means of the hours; not to be written.
    """
    headings = headings_of(site.heading_deg)
    return _fixed(sun_on_ground(weather, sky_over(weather).sun, site.lot, headings, site.beam_frac))


@lru_cache(maxsize=KEPT_SITES)
def temp_seen_c(weather: Weather, site: Site, cyclic: bool) -> FloatArray:
    """Temperatures of the ground and of the trucks around a truck.

    Parameters
    ----------
    weather, site
        Where the truck stands, and when.
    cyclic
        Whether the first hour follows on the last.

    Returns
    -------
    FloatArray
        Rows as in ``forcing.SEEN`` [°C], shape (4, n_hour), at the labels; not to be written.
        The trucks alongside are as warm as the air, and in a chamber all is.
    """
    air = hourly_table(weather).temp_air_c
    if site.ground == NO_GROUND:
        return _fixed(np.tile(air, (len(SEEN), 1)))
    key = cache.cache_key(weather=weather.content_hash, site=asdict(site), cyclic=cyclic)
    stored = cache.load(_GROUND, key)
    ground = _ground_c(weather, site, cyclic) if stored is None else stored["temp_c"]
    if stored is None:
        cache.save(_GROUND, key, {"temp_c": ground})
    return _fixed(np.concatenate([ground, air[np.newaxis]]))


def _ground_c(weather: Weather, site: Site, cyclic: bool) -> FloatArray:
    """Open lot, strip beside and patch below a truck [°C], shape (3, n_hour)."""
    table = hourly_table(weather)
    hours, start = _with_spin_up(len(table), cyclic)
    sun = sun_around(weather, site)
    # A mean of the hour stands half an hour before its label.
    after = np.roll(sun, -1, axis=1)
    if not cyclic:
        after[:, -1] = sun[:, -1]
    absorbed = (1.0 - site.albedo) * 0.5 * (sun + after)
    wind = wind_at_height(table.wind_m_per_s, CAB_HEIGHT_M, TERRAIN)
    beside_share = SHELTERED_WIND_SHARE if site.lot.neighbours else 1.0
    exposure = Exposure(
        absorbed.T[hours],
        table.temp_air_c[hours],
        wind[hours][:, None] * np.array([1.0, beside_share, SHELTERED_WIND_SHARE]),
        table.temp_sky_c[hours],
        np.array([1.0, site.lot.beside_sky_share, site.lot.patch_sky_share]),
    )
    return ground_temperature_c(ground_of(site.ground), exposure)[0, start:].T


def _fixed(values: FloatArray) -> FloatArray:
    values.flags.writeable = False
    return values


def _with_spin_up(n_hour: int, cyclic: bool) -> tuple[IntArray, int]:
    """Index of the hours to run, and where the series begins among them."""
    own = np.arange(n_hour)
    # Whole days are repeated, so that the first hour follows on one of the same time of day.
    days = min(max(n_hour // 24, 1), REPEATED_DAYS)
    before = own[-SPIN_UP_H:]
    if not cyclic:
        block = own[: 24 * days]
        before = np.tile(block, math.ceil(SPIN_UP_H / len(block)))
    return np.concatenate([before, own]), len(before)
