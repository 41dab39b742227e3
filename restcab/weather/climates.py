"""Built-in climates: find and read the files of `climates/`.

One small TOML file per station holds facts, not weather; `restcab.weather.synthesis` makes a year
of hours from them. Only the standard library is used here: listing the stations must be quick.
The format is described in `climates/SOURCES.md`.
"""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeAlias

from restcab.errors import Problem, WeatherError, nearest

Table: TypeAlias = Mapping[str, tuple[float, ...]]
"""Columns of twelve values, January to December."""
Profile: TypeAlias = tuple[tuple[float, ...], ...]
"""Twelve rows of 24 hours; hour h is the one from h to h+1, local standard time."""

MONTHS_PER_YEAR = 12
HOURS = 24
PARTS_OF_DAY = ("days", "nights")
PROFILES = ("temp_air_c", "temp_dew_c", "wind_m_per_s", "ghi_w_per_m2", "dhi_w_per_m2")
DRAW_SPREAD_FRAC = 0.12
"""Largest error of the 98th-percentile rest in a single draw, over five climates, five draws and
three kinds of rest (`tests/outside/test_climate_fidelity.py`)."""
LINKS = (
    "night_day_before",
    "night_day_after",
    "day_temp_wind",
    "night_temp_wind",
    "night_temp_sky_ir",
    "fall_k",
    "fall_warm_k",
)
"""Correlation of a night's temperature with the day before and the day after it; of temperature
and wind by day and by night; of temperature and infrared by night; and the fall of temperature
from 18-21 h to 3-6 h [K], on all nights and on the warmest tenth. From the anomalies about the
means of each month."""
CHECKS = ("night_cooling_frac", "night_p98_frac", "soaked_p98_frac", "day_p98_frac")
"""Cooling of all nights of the year, and the 98th percentile of night, soaked and day rests."""
MISSING = "-"
_STATION_TEXT = ("id", "name", "state", "country", "wmo", "source")
_STATION_NUMBERS = ("latitude_deg", "longitude_deg", "elevation_m", "utc_offset_h")


@dataclass(frozen=True)
class Design:
    """Design conditions of a station, from the tables of the ASHRAE handbook.

    Parameters
    ----------
    edition
        Edition of the handbook; optical depths belong to the clear-sky formula of their edition.
    annual
        Annual conditions, e.g. ``cool_004_c``: dry bulb exceeded in 0.4 % of the hours [°C];
        ``cool_004_wet_c``: coincident wet bulb; ``heat_996_c``: exceeded in 99.6 %.
    months
        Optical depths, monthly dry bulbs exceeded in 0.4, 2, 5 and 10 % of the hours with
        coincident wet bulbs [°C], and daily ranges [K]; NaN where not given.
    """

    edition: str
    annual: Mapping[str, float]
    months: Table


@dataclass(frozen=True)
class Climate:
    """Facts of one station.

    Parameters
    ----------
    id
        Name of the file, such as ``phoenix-az``.
    name, state, country, wmo, source
        Place, station number, and the typical year that the facts were computed from.
    latitude_deg, longitude_deg, elevation_m, utc_offset_h
        Position [deg, deg, m] and standard time [h].
    year
        Percentiles of the hourly dry bulb [°C]; empty without an hourly year.
    months
        Monthly statistics.
    days, nights
        The same by part of day: 06 to 20 h, and 20 to 06 h of the next morning, local standard
        time; empty without an hourly year.
    links
        How the parts of a day go together, from May to September and from November to March: for
        each of `LINKS` a pair; empty without an hourly year.
    links_of
        What the links were computed from: the station, or the mean of those that have them.
    mean_day
        Mean hours of each month, for each of `PROFILES`; empty without an hourly year.
    checked
        How far five drawn years were off a real one on their mean, for each of `CHECKS`, as a
        fraction; empty where no real year was at hand.
    checked_against
        That real year, in words; empty without.
    design
        Design conditions, if the station has any.
    """

    id: str
    name: str
    state: str
    country: str
    wmo: str
    source: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    utc_offset_h: float
    year: Mapping[str, float] = field(repr=False)
    months: Table = field(repr=False)
    days: Table = field(repr=False)
    nights: Table = field(repr=False)
    links: Mapping[str, tuple[float, float]] = field(repr=False)
    links_of: str
    mean_day: Mapping[str, Profile] = field(repr=False)
    checked: Mapping[str, float] = field(repr=False)
    checked_against: str
    design: Design | None = field(repr=False)

    @property
    def has_year(self) -> bool:
        """Whether a year of hours can be made; else only design days."""
        return bool(self.mean_day)

    @property
    def place(self) -> str:
        """Name and state, as people write them."""
        return f"{self.name}, {self.state}"

    @property
    def station(self) -> dict[str, float]:
        """Position and standard time under the keys of the weather schema."""
        return {key: getattr(self, key) for key in _STATION_NUMBERS}


@lru_cache(maxsize=1)
def climates_dir() -> Path:
    """Directory of the climate files.

    Returns
    -------
    Path
        Inside the installed package; in a source checkout, beside it.

    Raises
    ------
    WeatherError
        The installation is incomplete.
    """
    package = Path(__file__).resolve().parent.parent
    for directory in (package / "climates", package.parent / "climates"):
        if any(directory.glob("*.toml")):
            return directory
    raise WeatherError(
        Problem(str(package / "climates"), "holds no climate", "files <id>.toml; reinstall restcab")
    )


@lru_cache(maxsize=1)
def climate_ids() -> tuple[str, ...]:
    """Names of all built-in climates, sorted."""
    return tuple(sorted(path.stem for path in climates_dir().glob("*.toml")))


def read_climate(name: str) -> Climate:
    """Read a built-in climate.

    Parameters
    ----------
    name
        Id such as ``phoenix-az``; upper case is accepted.

    Returns
    -------
    Climate
        The facts of the station.

    Raises
    ------
    WeatherError
        There is no such climate (names the nearest), or its file is damaged.
    """
    ids = climate_ids()
    wanted = name.strip().lower()
    if wanted not in ids:
        raise WeatherError(
            Problem(
                name,
                "is not a built-in climate",
                "an id listed by `restcab climates`",
                suggest_climate(wanted, ids),
            )
        )
    return _read(wanted)


def suggest_climate(word: str, ids: tuple[str, ...] | None = None) -> str:
    """Phrase the nearest climate to a word, or return an empty text.

    Parameters
    ----------
    word
        What the user wrote: ``pheonix-az``, ``Phoenix``, ``san francisco``.
    ids
        Ids to choose from; all by default.
    """
    ids = climate_ids() if ids is None else ids
    key = "-".join(word.lower().replace(",", " ").replace("_", " ").split())
    begins = [one for one in ids if len(key) >= 3 and one.startswith(key)]
    return f"Did you mean {begins[0]!r}?" if begins else nearest(key, ids)


def measured_error(climate: Climate) -> str:
    """Say in one line how true the drawn years of a climate are; empty without any.

    Where no real year was at hand, the errors of the climates that were checked stand for it.
    """
    if not climate.has_year:
        return ""
    if climate.checked:
        errors, whose = (
            [climate.checked],
            f"Checked against a real year ({climate.checked_against})",
        )
    else:
        # Reading a text is quick, parsing all of them is not.
        checked = (name for name in climate_ids() if "\n[checked]\n" in climate_text(name))
        errors = [read_climate(name).checked for name in checked]
        whose = f"Not checked itself; in the {len(errors)} climates that were"
    energy, *peaks = (
        100.0 * max((abs(one[key]) for one in errors), default=math.nan) for key in CHECKS
    )
    return (
        f"{whose}, drawn years are off by up to {energy:.0f} % in the cooling of a year's nights "
        f"and {max(peaks):.0f} % in the heavy rests (1 in 50), on the mean of five; single draws "
        f"by up to {100.0 * DRAW_SPREAD_FRAC:.0f} %. Use a measured year for a final decision."
    )


def climate_text(name: str) -> str:
    """Text of the file of a climate, by its id."""
    return _path(name).read_text(encoding="utf-8")


def _path(name: str) -> Path:
    return climates_dir() / f"{name}.toml"


@lru_cache(maxsize=64)
def _read(name: str) -> Climate:
    try:
        return parse_climate(tomllib.loads(climate_text(name)))
    except (OSError, ValueError, KeyError, TypeError) as error:
        reason = f"no key {error}" if isinstance(error, KeyError) else str(error)
        what = f"is not a usable climate: {reason}"
        raise WeatherError(Problem(str(_path(name)), what, "see climates/SOURCES.md")) from error


def parse_climate(content: Mapping[str, Any]) -> Climate:
    """Turn the content of a climate file into a record.

    Parameters
    ----------
    content
        Parsed TOML.

    Returns
    -------
    Climate
        The facts of the station.

    Raises
    ------
    ValueError, KeyError, TypeError
        A key is absent, or a table has not the right shape.
    """
    year = dict(content["year"])
    months = parse_table(year.pop("months"))
    parts = {part: parse_table(year.pop(part)) if part in year else {} for part in PARTS_OF_DAY}
    day, links = content.get("mean_day", {}), content.get("links", {})
    design, checked = content.get("design"), content.get("checked", {})
    return Climate(
        **{key: str(content[key]) for key in _STATION_TEXT},  # type: ignore[arg-type]
        **{key: float(content[key]) for key in _STATION_NUMBERS},  # type: ignore[arg-type]
        year={key: float(value) for key, value in year.items()},
        months=months,
        **parts,  # type: ignore[arg-type]
        links={key: _pair(links[key]) for key in LINKS} if day else {},
        links_of=str(links["of"]) if day else "",
        mean_day={key: parse_profile(day[key]) for key in PROFILES} if day else {},
        checked={key: float(checked[key]) for key in CHECKS} if checked else {},
        checked_against=str(checked.get("against", "")),
        design=None if design is None else _parse_design(design),
    )


def _parse_design(content: Mapping[str, Any]) -> Design:
    annual = dict(content)
    edition, months = str(annual.pop("edition")), parse_table(annual.pop("months"))
    if edition not in ("2009", "2013"):
        raise ValueError(f"edition {edition!r}; the clear sky is known for 2009 and 2013")
    return Design(edition, {key: float(value) for key, value in annual.items()}, months)


def parse_table(text: str) -> Table:
    """Parse a table of twelve months: a line of column names, then a line for each month.

    Parameters
    ----------
    text
        Cells separated by blanks; the first column is the month; ``-`` stands for a missing value.

    Returns
    -------
    Mapping of str to tuple
        Columns by name, without the month; NaN where missing.

    Raises
    ------
    ValueError
        A month is missing or out of order, or a line has too few or too many cells.
    """
    names, rows = _cells(text)
    if names[0] != "month" or [row[0] for row in rows] != [
        str(m + 1) for m in range(MONTHS_PER_YEAR)
    ]:
        raise ValueError("a table must have lines for the months 1 to 12, in order")
    columns = zip(*(map(_number, row) for row in rows), strict=True)
    return dict(zip(names[1:], list(columns)[1:], strict=True))


def parse_profile(text: str) -> Profile:
    """Parse a table of mean days: a line of hours, then a line for each month.

    Parameters
    ----------
    text
        Cells separated by blanks. Hours not in the first line are zero (the sun at night).

    Returns
    -------
    tuple of 12 tuples of 24 floats
        Mean of each hour.

    Raises
    ------
    ValueError
        Not twelve lines, or a line has too few or too many cells.
    """
    names, rows = _cells(text)
    hours = [int(name) for name in names]
    if len(rows) != MONTHS_PER_YEAR or not set(hours) <= set(range(HOURS)):
        raise ValueError("a mean day must have hours 0 to 23 and 12 lines")
    profile = []
    for row in rows:
        of_hour = dict(zip(hours, map(_number, row), strict=True))
        profile.append(tuple(of_hour.get(hour, 0.0) for hour in range(HOURS)))
    return tuple(profile)


def _pair(values: Any) -> tuple[float, float]:
    summer, winter = map(float, values)
    return summer, winter


def _cells(text: str) -> tuple[list[str], list[list[str]]]:
    lines = [line.split() for line in text.strip().splitlines()]
    names, rows = lines[0], lines[1:]
    for row in rows:
        if len(row) != len(names):
            raise ValueError(f"{len(row)} cells under {len(names)} names in {' '.join(row)!r}")
    return names, rows


def _number(cell: str) -> float:
    return math.nan if cell == MISSING else float(cell)
