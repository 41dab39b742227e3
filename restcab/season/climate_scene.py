"""Scenes of built-in climates, their weather and sun kept between runs.

Making the sun on a truck takes ten times as long as reading it back, and needs pvlib, which takes
longer to import than a climate takes to run.
"""

from dataclasses import asdict, dataclass, field, fields
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from restcab.engine.forcing import Forcing, SolarTable
from restcab.runs import cache
from restcab.season.scene import Scene, make_scene, network_of, season_starts
from restcab.season.surroundings import site_of
from restcab.spec.model import Spec, plain_cab
from restcab.weather.climates import climate_text, read_climate
from restcab.weather.files import open_weather
from restcab.weather.hourly import hourly_table
from restcab.weather.schema import COLUMN_NAMES, Weather, make_weather
from restcab.weather.synthesis import synthesise

_STATION = ("latitude_deg", "longitude_deg", "elevation_m", "utc_offset_h")
_TEXTS = ("name", "source")
_NOT_FELT = ("money", "options", "claim")
_STARTS = ("start_h", "season")
"""Tables that a scene does not feel, and keys of [rest] that say when its rests begin."""
_KEPT_KEYS = 256
"""Climates, and drawn years of them, whose keys are remembered."""


@lru_cache(maxsize=_KEPT_KEYS)
def climate_key(climate: str, draw: int = 0) -> str:
    """Hash of a climate's facts, of which year is drawn and of the code that draws it."""
    return cache.cache_key(climate=climate_text(climate), draw=draw)


def climate_weather(climate: str, draw: int = 0) -> Weather:
    """Year of a built-in climate, read back if it was made before.

    Parameters
    ----------
    climate
        Its id.
    draw
        Which of its drawn years, from 0.
    """
    key = climate_key(climate, draw)
    stored = cache.load("weather", key)
    if stored is None:
        weather = open_weather(climate) if draw == 0 else synthesise(read_climate(climate), draw)
        cache.save("weather", key, _packed_weather(weather))
        return weather
    return make_weather(
        str(stored["name"]),
        str(stored["name"]),
        str(stored["source"]),
        {name: float(stored[name]) for name in _STATION},
        stored["labels"].astype("datetime64[s]"),
        {name: stored[name] for name in COLUMN_NAMES},
        notes=tuple(str(note) for note in stored["notes"]),
    )


def _packed_weather(weather: Weather) -> dict[str, NDArray[Any]]:
    arrays: dict[str, NDArray[Any]] = {name: weather.values(name) for name in COLUMN_NAMES}
    for name in (*_STATION, *_TEXTS):
        arrays[name] = np.array(getattr(weather, name))
    labels = weather.label_local.astype("datetime64[s]").astype(np.int64)
    return {**arrays, "labels": labels, "notes": np.array(weather.notes, dtype=np.str_)}


def climate_scene(spec: Spec, climate: str, draw: int = 0) -> Scene:
    """Build the scene of a truck in a climate, the same as `make_scene` would.

    The truck asked for last is remembered: a fleet's trucks rest at several hours of the day, and
    only the starts of their rests differ.

    Parameters
    ----------
    spec
        The truck.
    climate
        Id of a built-in climate.
    draw
        Which of its drawn years, from 0.
    """
    known = _scene_there(_TruckThere(_key_there(spec, climate, draw), spec, climate, draw))
    if known.spec is spec:
        return known
    starts = season_starts(spec, hourly_table(known.weather))
    return known.knowing(Scene(spec, known.weather, known.network, known.forcing, *starts))


@dataclass(frozen=True)
class _TruckThere:
    """A truck in a climate, known by its key: whatever hour its rests begin, whatever is paid."""

    key: str
    spec: Spec = field(compare=False)
    climate: str = field(compare=False)
    draw: int = field(compare=False)


def _key_there(spec: Spec, climate: str, draw: int) -> str:
    """Hash of all that a scene is made from but the starts of its rests."""
    tables = {name: values for name, values in spec.resolved().items() if name not in _NOT_FELT}
    tables["rest"] = {key: value for key, value in tables["rest"].items() if key not in _STARTS}
    return cache.cache_key(spec=tables, climate=climate_key(climate, draw))


_weather_there = lru_cache(maxsize=1)(climate_weather)
"""The climate asked for last is remembered: a fleet's trucks rest in one after another."""


@lru_cache(maxsize=1)
def _scene_there(there: _TruckThere) -> Scene:
    spec, climate, draw = there.spec, there.climate, there.draw
    weather = _weather_there(climate, draw)
    site = site_of(spec, weather)
    key = cache.cache_key(
        climate=climate_key(climate, draw), cab=plain_cab(spec.cab), site=asdict(site),
        solar_scale=spec.fitted.solar_scale,
    )  # fmt: skip
    stored = cache.load("sun", key)
    if stored is None:
        scene = make_scene(spec, weather)
        cache.save("sun", key, _packed_forcing(scene.forcing))
        return scene
    network = network_of(spec.cab, site.lot)
    starts = season_starts(spec, hourly_table(weather))
    return Scene(spec, weather, network, _forcing(stored), *starts)


def _packed_forcing(forcing: Forcing) -> dict[str, NDArray[Any]]:
    """Flatten a forcing; the dark hours of the sun are left out."""
    solar = forcing.solar
    lit = (solar.absorbed_w > 0.0).any(axis=0) | (solar.diffuse_in_w > 0.0).any(axis=0)
    lit |= (solar.beam_in_w > 0.0).any(axis=0)
    arrays = {f.name: np.asarray(getattr(forcing, f.name)) for f in fields(forcing)
              if f.name != "solar"}  # fmt: skip
    for entry in fields(solar):
        value = getattr(solar, entry.name)
        arrays[f"solar_{entry.name}"] = value[:, lit] if value.ndim > 1 else value
    return {**arrays, "lit": np.asarray(lit)}


def _forcing(stored: dict[str, NDArray[Any]]) -> Forcing:
    lit = stored.pop("lit")
    solar = {}
    for entry in fields(SolarTable):
        value = stored.pop(f"solar_{entry.name}")
        if value.ndim > 1:
            whole = np.zeros((len(value), len(lit)))
            whole[:, lit] = value
            value = whole
        solar[entry.name] = value
    cyclic = bool(stored.pop("cyclic"))
    return Forcing(**stored, solar=SolarTable(**solar), cyclic=cyclic)
