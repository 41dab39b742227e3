"""What a truck's rests take in one climate, before prices and habits: run once, kept, priced often.

Nothing here reads [money] or [options], so another price, share, month or habit finds it kept.
"""

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from restcab.duty.bank_course import BankYear, bank_load
from restcab.engine.record import RestRun, pick_run
from restcab.odds.declared_pair import bank_for_declared
from restcab.options.year import YearOfRests, year_and_run
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.runs import cache
from restcab.season.climate_scene import climate_key, climate_scene
from restcab.season.scene import Scene
from restcab.spec.model import Spec

PRICED = ("money", "options")
"""Tables of the spec that the rests do not feel."""
_BANKS = ("bank", "bank_without_heater")
_SINGLE = ("rests_per_year", "hours", "balance_residual_frac", "bank_strings")
_BY_STEP = ("drain_w", "bank_load_w")
"""Arrays by the step and the rest, kept without steps; all others are by the rest."""


@dataclass(frozen=True)
class Physics:
    """A year of one truck in one climate.

    Parameters
    ----------
    year
        Its rests, without what each step drew.
    bank_strings
        Strings of the declared battery that ``size`` finds for the declared unit in
        ``rest.season``; infinite if it finds none.
    """

    year: YearOfRests
    bank_strings: float

    def arrays(self) -> dict[str, NDArray[Any]]:
        """Everything by name, for keeping."""
        found = {"bank_strings": np.array(self.bank_strings)}
        for entry in fields(YearOfRests):
            value = getattr(self.year, entry.name)
            if entry.name in _BANKS:
                for part in fields(BankYear):
                    found[f"{entry.name}.{part.name}"] = getattr(value, part.name)
            elif value is not None:
                found[entry.name] = np.asarray(value)
        return found

    def for_rests(self, rests_per_year: float) -> "Physics":
        """Return the same for a truck that rests so often."""
        return replace(self, year=replace(self.year, rests_per_year=rests_per_year))


def read_physics(arrays: dict[str, NDArray[Any]] | None) -> Physics | None:
    """Return what was kept, or None if there is nothing or it is not whole."""
    if arrays is None or set(arrays) != set(_KINDS):
        return None
    shape = arrays["start_time"].shape
    if len(shape) != 1 or not shape[0]:
        return None
    for name, kind in _KINDS.items():
        wanted = () if name in _SINGLE else (0, *shape) if name in _BY_STEP else shape
        if arrays[name].shape != wanted or arrays[name].dtype.kind != kind:
            return None
    values: dict[str, Any] = {
        entry.name: _bank(arrays, entry.name) if entry.name in _BANKS else arrays[entry.name]
        for entry in fields(YearOfRests)
        if entry.name != "counted_frac"
    }
    single = {name: float(arrays[name]) for name in _SINGLE}
    strings = single.pop("bank_strings")
    return Physics(YearOfRests(**values | single), strings)


def _kinds() -> dict[str, str]:
    """Letter that numpy has for the numbers of each array that is kept."""
    letters: dict[Any, str] = {FloatArray: "f", float: "f", BoolArray: "b"}
    found = {"bank_strings": "f"}
    for entry in fields(YearOfRests):
        if entry.name in _BANKS:
            found |= {f"{entry.name}.{part.name}": letters[part.type] for part in fields(BankYear)}
        elif entry.name != "counted_frac":
            found[entry.name] = letters.get(entry.type, "M")
    return found


_KINDS = _kinds()


def _bank(arrays: dict[str, NDArray[Any]], name: str) -> BankYear:
    return BankYear(**{part.name: arrays[f"{name}.{part.name}"] for part in fields(BankYear)})


def physics_key(spec: Spec, climate: str, draw: int = 0) -> str:
    """Hash of all that the rests feel, and of the code."""
    felt = {name: table for name, table in spec.resolved().items() if name not in PRICED}
    return cache.cache_key(spec=felt, climate=climate_key(climate, draw))


def run_physics(spec: Spec, climate: str, draw: int = 0) -> Physics:
    """Run a truck through a year of a climate.

    Parameters
    ----------
    spec
        The truck; ``rest.season`` are the months that its bank is sized for.
    climate
        Id of the climate.
    draw
        Which of its drawn years, from 0.
    """
    scene = climate_scene(spec.with_values("rest", season="all"), climate, draw)
    year, run = year_and_run(scene)
    # Arrays by the step, which no price needs, would be nine tenths of what is kept.
    none = np.empty((0, len(year)))
    light = replace(year, drain_w=none, bank_load_w=none)
    season = _season_of(scene, spec)
    own = pick_run(run, np.isin(scene.start_time, season.start_time))
    return Physics(light, season_strings(season, own))


def season_strings(scene: Scene, run: RestRun) -> float:
    """Strings of the declared battery for the declared unit, as ``size`` finds them.

    Parameters
    ----------
    scene
        The truck and its season.
    run
        The season's rests with that unit on an endless supply, the air heater's draw included.
    """
    load = bank_load(scene, run.drain_w, run.temp_out_c)
    found = bank_for_declared(scene, run, load, scene.spec.claim.holds_from_frac)
    return np.inf if found is None else float(found.strings)


def _season_of(every: Scene, spec: Spec) -> Scene:
    """The rests of the spec's season, with what is known of all rests."""
    month = every.start_time.astype("datetime64[M]").astype(int) % 12 + 1
    kept = np.flatnonzero(np.isin(month, spec.rest.months))
    season = replace(
        every, spec=spec, start_h=every.start_h[kept], start_time=every.start_time[kept]
    )
    season.__dict__["all_rests"] = every
    return every.knowing(season)
