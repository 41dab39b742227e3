"""Read a weather file of any supported format into the one schema; find weather by name."""

import gzip
import re
from collections.abc import Callable
from importlib import resources
from pathlib import Path

from restcab.errors import Problem, WeatherError, nearest
from restcab.files import read_bytes
from restcab.weather import formats, log, satellite
from restcab.weather.calendar import HOURS_PER_LEAP_YEAR, HOURS_PER_YEAR, year_labels
from restcab.weather.critique import examine
from restcab.weather.fill import complete
from restcab.weather.raw import RawTable, place
from restcab.weather.schema import (
    Weather,
    make_weather,
    station_problems,
    value_problems,
)
from restcab.weather.series import (
    hours_ahead_of_utc,
    humidity_notes,
    in_standard_time,
    split_years,
    to_table,
)

DEFAULT_NAME = "greensboro"
SHIPPED_FILES = {DEFAULT_NAME: "greensboro.csv.gz", "miami": "miami.tm2.gz"}
"""Typical years that come with the package, by name; ``data/weather/SOURCES.md`` says whence."""

FORMATS_TEXT = (
    "an EPW, TMY3 or TMY2 year, an hourly NSRDB, PVGIS or NASA POWER file, or a CSV log with a "
    "'time' column"
)
Reader = Callable[[str, str], RawTable]
YEAR_FIRST_LINE: dict[Reader, int] = {
    formats.read_epw: formats.EPW_FIRST_LINE,
    formats.read_tmy3: formats.TMY3_FIRST_LINE,
    formats.read_tmy2: formats.TMY2_FIRST_LINE,
}
"""Readers of whole years, and the line of the first hour."""


def read_weather(path: str | Path) -> Weather:
    """Read a weather file; the format is recognised by its first lines, not by its name.

    Parameters
    ----------
    path
        EPW, TMY3, TMY2, NSRDB, PVGIS or NASA POWER file of one year (of several: `open_years`), or
        a CSV log (see `restcab.weather.log`).

    Returns
    -------
    Weather
        Every value within its declared range; `notes` say what was filled.

    Raises
    ------
    WeatherError
        The file is missing, is of no known format, is cut short, or holds a value outside its
        range. Names file, line, column, value and what is allowed.
    """
    where = str(path)
    return _read(where, _read_text(where, Path(path)))


def _read(where: str, text: str) -> Weather:
    """Read the text of a weather file; see `read_weather`."""
    if satellite.series_reader(text) is not None:
        return _only(where, years_of_text(where, text))
    reader = _recognise(text)
    if reader is None:
        raise WeatherError(Problem(where, "is not a weather file of a known format", FORMATS_TEXT))
    if reader in YEAR_FIRST_LINE:
        _check_row_count(where, text, YEAR_FIRST_LINE[reader])
    raw = reader(where, text)
    problems = station_problems(where, raw.station)
    problems += value_problems(raw.columns, raw.locate, allow_missing=True)
    if problems:
        raise WeatherError(problems)
    if reader is log.read_log:
        labels, columns, notes = log.to_hours(raw)

        def locate(row: int, column: str) -> str:
            return f"{where}: hour ending {labels[row]}, column {column!r}"
    else:
        labels = year_labels(where, raw.labels, raw.locate)
        ahead_h, notes = hours_ahead_of_utc(raw, labels), ()
        if ahead_h:
            raw = in_standard_time(raw, ahead_h)
            notes = (f"{where}: times in UTC moved to standard time by longitude, "
                     f"UTC{ahead_h:+d}",)  # fmt: skip
        columns, locate = dict(raw.columns), raw.locate
    full, fill_notes = complete(raw, columns, locate)
    full, sun_notes = examine(where, raw.station, labels, full)
    return make_weather(
        where,
        raw.name,
        raw.source,
        raw.station,
        labels,
        full,
        notes=(*notes, *fill_notes, *sun_notes),
        locate=locate,
    )


def years_of_text(where: str, text: str) -> dict[int, Weather]:
    """Read every year of a file of the satellite sources.

    Parameters
    ----------
    where
        Name of the file, for messages.
    text
        What is in it.

    Returns
    -------
    dict
        The years by their number; 0 is a typical year.

    Raises
    ------
    WeatherError
        It is of no satellite source, damaged, or holds what cannot be.
    """
    reader = satellite.series_reader(text)
    if reader is None:
        raise WeatherError(Problem(where, "is not a weather file of a known format", FORMATS_TEXT))
    series = reader(where, text)
    years = {}
    for year, part in split_years(where, series):
        raw = to_table(where, year, part)
        problems = station_problems(where, raw.station)
        problems += value_problems(raw.columns, raw.locate, allow_missing=True)
        if problems:
            raise WeatherError(problems)
        full, fill_notes = complete(raw, dict(raw.columns), raw.locate)
        full, sun_notes = examine(where, raw.station, raw.labels, full)
        notes = (*series.notes, *humidity_notes(where, series), *fill_notes, *sun_notes)
        years[year] = make_weather(
            where, raw.name, raw.source, raw.station, raw.labels, full, notes=notes
        )
    return years


def _only(where: str, years: dict[int, Weather]) -> Weather:
    """The one year of a file, or a message that names those it has."""
    if len(years) == 1:
        return next(iter(years.values()))
    some = ", ".join(map(str, sorted(years)))
    raise WeatherError(
        Problem(where, f"holds {len(years)} years: {some}", f"one year, as in {where}#{max(years)}")
    )


def open_years(path: str | Path) -> list[Weather]:
    """Read all years of a file or folder.

    Parameters
    ----------
    path
        A file of any supported format, with one year or several; or a folder, all files of which
        are read.

    Returns
    -------
    list of Weather
        One for each year, by the time of their first hour, then by name of the file.

    Raises
    ------
    WeatherError
        There is no such file or folder, it is empty, or one of the files is faulty.
    """
    top = Path(path)
    if not top.is_dir():
        files = [top]
    else:
        files = sorted(one for one in top.iterdir() if one.is_file() and one.name[0] != ".")
        if not files:
            raise WeatherError(Problem(str(path), "is an empty folder", FORMATS_TEXT))
    years: list[Weather] = []
    for file in files:
        text = _read_text(str(file), file)
        if satellite.series_reader(text) is None:
            years.append(read_weather(file))
        else:
            years.extend(years_of_text(str(file), text).values())
    return sorted(years, key=lambda one: str(one.label_local[0]))


def _year_of_file(name: str) -> Weather | None:
    """Read ``FILE#YEAR``; None if the name is none of that form."""
    path, mark, year = name.rpartition("#")
    if not mark or not re.fullmatch(r"\d{4}", year) or Path(name).exists():
        return None
    text = _read_text(path, Path(path))
    if satellite.series_reader(text) is None:
        raise WeatherError(Problem(name, "is of a format with one year a file", path))
    years = years_of_text(path, text)
    if int(year) not in years:
        raise WeatherError(Problem(name, "is not in the file", ", ".join(map(str, sorted(years)))))
    return years[int(year)]


def default_weather() -> Weather:
    """Typical year of Greensboro NC, the TMY3 file that comes with the package."""
    return _shipped_weather(DEFAULT_NAME)


def is_one_day(name: str) -> bool:
    """Whether a name is that of a design day or a test condition, which leave no day to choose."""
    from restcab.weather.conditions import CONDITIONS

    return name.lower() in CONDITIONS or _is_design_day(name)


def _is_design_day(name: str) -> bool:
    return "@" in name and not Path(name).exists()


def open_weather(name_or_path: str | Path | None = None) -> Weather:
    """Find weather by name or path.

    Parameters
    ----------
    name_or_path
        None for the default year; the name of a typical year (`greensboro`, `miami`), of a test
        condition (see `restcab.weather.conditions`) or of a built-in climate (`phoenix-az`); a
        design day of a climate (`phoenix-az@7-0.4`); a year of a file that holds several
        (`lot.csv#2016`); else the path of a file.

    Returns
    -------
    Weather
        The hourly weather.

    Raises
    ------
    WeatherError
        Neither a known name nor a readable file.
    """
    from restcab.weather.climate_days import design_day_by_name
    from restcab.weather.climates import climate_ids, read_climate, suggest_climate
    from restcab.weather.conditions import CONDITIONS, condition_weather

    if name_or_path is None:
        return default_weather()
    name = str(name_or_path)
    if name.lower() in SHIPPED_FILES:
        return _shipped_weather(name.lower())
    if name.lower() in CONDITIONS:
        return condition_weather(name.lower())
    if name.lower() in climate_ids():
        from restcab.weather.synthesis import synthesise

        return synthesise(read_climate(name))
    if _is_design_day(name):
        return design_day_by_name(name)
    of_year = _year_of_file(name)
    if of_year is not None:
        return of_year
    if Path(name).exists() or re.search(r"[/\\.]", name):
        return read_weather(name)
    known = [*SHIPPED_FILES, *CONDITIONS]
    raise WeatherError(
        Problem(
            name,
            "is neither a known weather nor a file",
            f"a file, a climate of `restcab climates`, or one of {', '.join(known)}",
            nearest(name.lower(), known) or suggest_climate(name),
        )
    )


def open_weathers(name_or_path: str | Path | None = None) -> list[Weather]:
    """Find all years that a name stands for.

    Parameters
    ----------
    name_or_path
        As for `open_weather`; or a folder, or a file of several years.

    Returns
    -------
    list of Weather
        The years of a folder or file, else the one weather of the name.

    Raises
    ------
    WeatherError
        As `open_weather` and `open_years`.
    """
    name = str(name_or_path)
    if name_or_path is not None and not _is_known(name) and Path(name).exists():
        return open_years(name)
    return [open_weather(name_or_path)]


def _is_known(name: str) -> bool:
    """Whether a name is one of ours, whatever files there are."""
    from restcab.weather.climates import climate_ids
    from restcab.weather.conditions import CONDITIONS

    return name.lower() in {*SHIPPED_FILES, *CONDITIONS, *climate_ids()}


def _shipped_weather(name: str) -> Weather:
    """Read one of the typical years in the package."""
    packed = resources.files("restcab").joinpath("data", "weather", SHIPPED_FILES[name])
    return _read(name, gzip.decompress(packed.read_bytes()).decode("ascii"))


def _recognise(text: str) -> Reader | None:
    """Choose the reader from the first lines."""
    first, _, rest = text.partition("\n")
    if first.upper().startswith("LOCATION,"):
        return formats.read_epw
    if rest.startswith(formats.TMY3_DATE_TITLES[0]):
        return formats.read_tmy3
    if formats.TMY2_HEADER.match(first.rstrip()):
        return formats.read_tmy2
    if log.is_log(text):
        return log.read_log
    return None


def _check_row_count(where: str, text: str, first_line: int) -> None:
    """Find a file cut short before its torn last line is read as a bad cell."""
    last_line = text.rstrip().count("\n") + 1
    n_row = last_line - first_line + 1
    if n_row not in (HOURS_PER_YEAR, HOURS_PER_LEAP_YEAR):
        raise WeatherError(
            Problem(
                place(where, last_line),
                f"the file ends after {max(n_row, 0)} hourly rows; it seems cut short or joined",
                f"{HOURS_PER_YEAR} rows, or {HOURS_PER_LEAP_YEAR} in a leap year",
            )
        )


def _read_text(where: str, path: Path) -> str:
    """Read and decode a file; anything that is not text is a fault."""
    try:
        content = read_bytes(path)
    except FileNotFoundError as error:
        raise WeatherError(Problem(where, "there is no such file", FORMATS_TEXT)) from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise WeatherError(Problem(where, f"cannot be read ({reason})", FORMATS_TEXT)) from error
    if not content.strip():
        raise WeatherError(Problem(where, "the file is empty", FORMATS_TEXT))
    if b"\0" in content:
        raise WeatherError(Problem(where, "is not a text file", FORMATS_TEXT))
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        # Station names in older EPW files are in Latin-1, in which every byte is a letter.
        text = content.decode("latin-1")
    # One end of line from here on: other signs that Python takes for one are letters of a name.
    return text.replace("\r\n", "\n").replace("\r", "\n")
