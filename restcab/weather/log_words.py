"""Which column of a cab's log is what: by the words of its title, and the unit written there.

Loggers name their columns as they please: ``Bunk temp (°F)``, ``T_out [C]``, ``volts``. A title is
taken apart into words; the first kind of reading whose words it holds is what it means. What is not
recognised is listed and left alone; ``bunk=T2`` says it outright, ``bunk=T2:F`` with a unit.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from restcab.errors import Problem, WeatherError, nearest
from restcab.physics.arrays import FloatArray

_MPS_PER_MPH, _MPS_PER_KMH, _MPS_PER_KNOT = 0.44704, 1.0 / 3.6, 1852.0 / 3600.0
Convert = Callable[[FloatArray], FloatArray]


def _times(factor: float) -> Convert:
    return lambda values: values * factor


_TEMPERATURES: Mapping[str, Convert] = {
    "c": _times(1.0),
    "f": lambda values: (values - 32.0) / 1.8,
    "k": lambda values: values - 273.15,
}


class Kind(NamedTuple):
    """One kind of reading.

    Parameters
    ----------
    name
        What it is called in messages and with ``--column``.
    words
        Words of a title that mean it, one of them enough; some are several words.
    units
        Unit in lower case -> how it becomes the unit of the name; the first is meant without one.
    low, high
        Values beyond are no readings, in the unit of the name.
    is_mean
        Whether readings are averaged over a step; else they are values at its end.
    """

    name: str
    words: tuple[str, ...]
    units: Mapping[str, Convert]
    low: float
    high: float
    is_mean: bool = False


KINDS = (
    Kind("heater", ("heater", "heating"),
         {"w": _times(1.0), "kw": _times(1000.0), "watts": _times(1.0)}, 0.0, 10e3, True),
    Kind("sun", ("sun", "solar", "irradiance", "pyranometer", "ghi"),
         {"w/m2": _times(1.0), "w/m²": _times(1.0), "kw/m2": _times(1000.0)}, -15.0, 1500.0, True),
    Kind("cloud", ("cloud", "overcast"),
         {"frac": _times(1.0), "%": _times(0.01), "tenths": _times(0.1), "oktas": _times(0.125)},
         0.0, 1.0),
    Kind("wind", ("wind",),
         {"m/s": _times(1.0), "mph": _times(_MPS_PER_MPH), "km/h": _times(_MPS_PER_KMH),
          "kn": _times(_MPS_PER_KNOT)}, 0.0, 60.0),
    Kind("humidity", ("humidity", "rh"),
         {"frac": _times(1.0), "%": _times(0.01), "%rh": _times(0.01)}, 0.0, 1.05),
    Kind("dew", ("dew",), _TEMPERATURES, -60.0, 40.0),
    Kind("bunk", ("bunk", "cab", "cabin", "sleeper", "inside", "indoor", "interior", "in"),
         _TEMPERATURES, -45.0, 75.0),
    Kind("outdoor", ("outdoor", "outdoors", "outside", "ambient", "exterior", "out", "air"),
         _TEMPERATURES, -50.0, 55.0),
    Kind("volts", ("volts", "voltage", "volt", "v"),
         {"v": _times(1.0), "mv": _times(1e-3)}, 0.0, 80.0, True),
    Kind("amps", ("amps", "ampere", "current", "amp", "a"),
         {"a": _times(1.0), "ma": _times(1e-3)}, -1000.0, 1000.0, True),
    Kind("power", ("power", "watts", "watt", "w"),
         {"w": _times(1.0), "kw": _times(1000.0)}, -20e3, 20e3, True),
)  # fmt: skip
BY_NAME = {kind.name: kind for kind in KINDS}
_BY_UNIT = {"v": BY_NAME["volts"], "a": BY_NAME["amps"], "w": BY_NAME["power"]}
CLOCK_WORDS = ("time", "date", "datetime", "timestamp", "clock", "local")
_BARE_UNITS = {
    "degc": "c", "°c": "c", "celsius": "c", "degf": "f", "°f": "f", "fahrenheit": "f",
    "kelvin": "k", "percent": "%", "w_per_m2": "w/m2", "m_per_s": "m/s", "kmh": "km/h",
    "kph": "km/h", "knots": "kn", "kt": "kn",
}  # fmt: skip


class Meant(NamedTuple):
    """What a column means: its title, kind and unit."""

    title: str
    kind: Kind
    unit: str


def unit_of(title: str) -> tuple[str, str]:
    """Take a title apart into what is said and the unit, in lower case; the unit may be empty."""
    text = title.strip().lower()
    found = re.search(r"[(\[]\s*([^)\]]+?)\s*[)\]]", text)
    if found:
        unit, said = found.group(1), text[: found.start()] + " " + text[found.end() :]
    else:
        # As in temp_air_c, wind_m_per_s, rh_frac.
        tail = re.search(
            r"[_ ,](degc|degf|°c|°f|c|f|w_per_m2|m_per_s|w/m2|w/m²|m/s|mph|km/h|kw|w|v|a|frac|%)$",
            text,
        )
        unit, said = (tail.group(1), text[: tail.start()]) if tail else ("", text)
    unit = unit.replace(" ", "")
    return said, _BARE_UNITS.get(unit, unit)


def meaning_of(title: str) -> tuple[Kind | None, str]:
    """Kind of a title, None if no word of it is known, and its unit, empty if it has none."""
    said, unit = unit_of(title)
    words = [word for word in re.split(r"[^a-z°%]+", said) if word]
    for kind in KINDS:
        if any(word in words for word in kind.words) and (not unit or unit in kind.units):
            if kind.name == "humidity" and any(word in words for word in BY_NAME["bunk"].words):
                return None, unit  # that of the bunk tells nothing of the weather
            return kind, unit
    return _BY_UNIT.get(unit), unit


def is_clock(title: str) -> bool:
    """Whether a title is that of a time or date."""
    return any(word in CLOCK_WORDS for word in re.split(r"[^a-z]+", title.lower()))


def columns_of(
    where: str, titles: Sequence[str], asked: Mapping[str, str]
) -> tuple[dict[str, Meant], list[str]]:
    """Find out what the columns mean.

    Parameters
    ----------
    where
        File, for messages.
    titles
        Titles of all columns but those of the clock.
    asked
        Kind -> title, perhaps with ``:unit`` behind, as the user says.

    Returns
    -------
    dict, list
        Kind -> what it is; titles not recognised.

    Raises
    ------
    WeatherError
        A kind or title is not known, or a kind is found twice.
    """
    found: dict[str, Meant] = {}
    problems: list[Problem] = []
    for name, text in asked.items():
        if name not in BY_NAME:
            problems.append(
                Problem(f"--column {name}={text}", f"{name!r} is no kind of reading",
                        ", ".join(BY_NAME), nearest(name, tuple(BY_NAME)))
            )  # fmt: skip
            continue
        title, unit = _titled(text, titles)
        if title is None:
            problems.append(
                Problem(f"--column {name}={text}", f"{where} has no column {text!r}",
                        ", ".join(titles), nearest(text, tuple(titles)))
            )  # fmt: skip
            continue
        unit = unit or unit_of(title)[1]
        kind = BY_NAME[name]
        if unit and unit not in kind.units:
            problems.append(
                Problem(f"--column {name}={text}", f"the unit {unit!r} is not known",
                        ", ".join(kind.units))
            )  # fmt: skip
            continue
        found[name] = Meant(title, kind, unit)
    taken = {meant.title for meant in found.values()}
    unknown = []
    for title in titles:
        if title in taken:
            continue
        kind_or_none, unit = meaning_of(title)
        if kind_or_none is None:
            unknown.append(title)
        elif kind_or_none.name not in asked:
            name = kind_or_none.name
            if name in found:
                problems.append(
                    Problem(where, f"{found[name].title!r} and {title!r} both read like {name}",
                            f"one of them, as in --column {name}={title!r}")
                )  # fmt: skip
            else:
                found[name] = Meant(title, kind_or_none, unit)
    if problems:
        raise WeatherError(problems)
    return found, unknown


def _titled(text: str, titles: Sequence[str]) -> tuple[str | None, str]:
    """Title that is meant, whatever its case, and the unit behind a colon."""
    by_lower = {title.strip().lower(): title for title in titles}
    if text.strip().lower() in by_lower:
        return by_lower[text.strip().lower()], ""
    name, colon, unit = text.rpartition(":")
    if colon and name.strip().lower() in by_lower:
        unit = unit.strip().lower()
        return by_lower[name.strip().lower()], _BARE_UNITS.get(unit, unit)
    return None, ""
