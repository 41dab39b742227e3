"""Readers of the public year formats: EPW, TMY3 and TMY2.

They read only the columns that the schema needs, keep line numbers for messages, and keep the
label convention of all three: hour h of 1 to 24 is the hour that ENDS at h:00 local standard
time. (`pvlib.iotools` is the oracle of the tests, not the reader: it labels EPW and TMY2 hours
by their start and TMY3 hours by their end, moves 29 February of TMY3 to 1 March, cannot split a
TMY2 station name of two words, and reports a bad cell without its line.)

References
----------
.. [1] "EnergyPlus Auxiliary Programs: Weather Converter": EPW fields and missing-value codes
   (from memory).
.. [2] Wilcox, S. and Marion, W. (2008), "Users Manual for TMY3 Data Sets", NREL/TP-581-43156
   (column titles read in a file; missing-value code from memory).
.. [3] Marion, W. and Urban, K. (1995), "User's Manual for TMY2s", NREL (fields read in the
   documentation of pvlib; missing-value codes from memory).
"""

import re
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from restcab.errors import Problem, WeatherError
from restcab.physics.arrays import FloatArray, IntArray
from restcab.weather.calendar import labels_from_parts
from restcab.weather.raw import (
    FileColumn,
    RawTable,
    as_numbers,
    place,
    read_cells,
    split_line,
    to_schema_unit,
)
from restcab.weather.schema import TimeArray

PA_PER_MBAR = 100.0
FRAC_PER_TENTH = 0.1

EPW_FIRST_LINE = 9
EPW_DATE_TITLES = ("year", "month", "day", "hour")
# Position from 0 [1]. An infrared of 0 is written by some converters where it is unknown: no sky
# on earth sends 0.
EPW_COLUMNS = {
    6: FileColumn("temp_air_c", "dry bulb temperature", missing=(99.9,)),
    7: FileColumn("temp_dew_c", "dew point temperature", missing=(99.9,)),
    9: FileColumn("pressure_pa", "atmospheric station pressure", missing=(999999.0,)),
    12: FileColumn("sky_ir_w_per_m2", "horizontal infrared radiation", missing=(9999.0, 0.0)),
    13: FileColumn("ghi_w_per_m2", "global horizontal radiation", missing=(9999.0,)),
    14: FileColumn("dni_w_per_m2", "direct normal radiation", missing=(9999.0,)),
    15: FileColumn("dhi_w_per_m2", "diffuse horizontal radiation", missing=(9999.0,)),
    21: FileColumn("wind_m_per_s", "wind speed", missing=(999.0,)),
    23: FileColumn("cloud_frac", "opaque sky cover", FRAC_PER_TENTH, missing=(99.0,)),
}

TMY3_FIRST_LINE = 3
TMY3_DATE_TITLES = ("Date (MM/DD/YYYY)", "Time (HH:MM)")
TMY3_MISSING = (-9900.0,)
TMY3_COLUMNS = (
    FileColumn("temp_air_c", "Dry-bulb (C)", missing=TMY3_MISSING),
    FileColumn("temp_dew_c", "Dew-point (C)", missing=TMY3_MISSING),
    FileColumn("pressure_pa", "Pressure (mbar)", PA_PER_MBAR, TMY3_MISSING),
    FileColumn("ghi_w_per_m2", "GHI (W/m^2)", missing=TMY3_MISSING),
    FileColumn("dni_w_per_m2", "DNI (W/m^2)", missing=TMY3_MISSING),
    FileColumn("dhi_w_per_m2", "DHI (W/m^2)", missing=TMY3_MISSING),
    FileColumn("wind_m_per_s", "Wspd (m/s)", missing=TMY3_MISSING),
    FileColumn("cloud_frac", "OpqCld (tenths)", FRAC_PER_TENTH, TMY3_MISSING),
)

TMY2_FIRST_LINE = 2
TMY2_HEADER = re.compile(
    r" ?(?P<wban>\d{5}) (?P<city>.{22}) (?P<state>..)\s+(?P<zone>-?\d+)"
    r" +(?P<ns>[NS])\s+(?P<lat>\d+)\s+(?P<lat_min>\d+)"
    r" +(?P<ew>[EW])\s+(?P<lon>\d+)\s+(?P<lon_min>\d+)\s+(?P<elevation>-?\d+)\s*$"
)
TMY2_DATE_FIELDS = {"year": (1, 3), "month": (3, 5), "day": (5, 7), "hour": (7, 9)}
# First and last+1 character from 0 [3].
TMY2_COLUMNS = {
    (17, 21): FileColumn("ghi_w_per_m2", "global horizontal radiation", missing=(9999.0,)),
    (23, 27): FileColumn("dni_w_per_m2", "direct normal radiation", missing=(9999.0,)),
    (29, 33): FileColumn("dhi_w_per_m2", "diffuse horizontal radiation", missing=(9999.0,)),
    (63, 65): FileColumn("cloud_frac", "opaque sky cover", FRAC_PER_TENTH, (99.0,)),
    (67, 71): FileColumn("temp_air_c", "dry bulb temperature", 0.1, (9999.0,)),
    (73, 77): FileColumn("temp_dew_c", "dew point temperature", 0.1, (9999.0,)),
    (84, 88): FileColumn("pressure_pa", "station pressure", PA_PER_MBAR, (9999.0,)),
    (95, 98): FileColumn("wind_m_per_s", "wind speed", 0.1, (999.0,)),
}
TMY2_LINE_LENGTH = 98


def read_epw(where: str, text: str) -> RawTable:
    """Read an EnergyPlus weather file."""
    head = _header_fields(where, text, 10)
    cells = read_cells(where, text, EPW_FIRST_LINE, [0, 1, 2, 3, *EPW_COLUMNS])

    def numbers(position: int, title: str) -> FloatArray:
        return as_numbers(cells[position], where, title)

    parts = [numbers(position, title) for position, title in enumerate(EPW_DATE_TITLES)]
    return RawTable(
        where=where,
        name=", ".join(part for part in (head[1], head[2], head[3]) if part and part != "-"),
        source=f"EPW file, {head[4]}, WMO station {head[5]}",
        station=_station(where, head[6], head[7], head[9], head[8]),
        labels=labels_from_parts(*_whole(where, EPW_FIRST_LINE, EPW_DATE_TITLES, parts)),
        columns={
            column.name: to_schema_unit(numbers(position, column.title), column)
            for position, column in EPW_COLUMNS.items()
        },
        titles={column.name: column.title for column in EPW_COLUMNS.values()},
        first_line=EPW_FIRST_LINE,
    )


def read_tmy3(where: str, text: str) -> RawTable:
    """Read a TMY3 file (a typical meteorological year of the US national solar database)."""
    head = _header_fields(where, text, 7)
    titles = text.split("\n", 2)[1].rstrip("\r").split(",")
    wanted = [*TMY3_DATE_TITLES, *(column.title for column in TMY3_COLUMNS)]
    absent = [title for title in wanted if title not in titles]
    if absent:
        raise WeatherError(
            Problem(place(where, 2), f"column {title!r} is absent") for title in absent
        )
    position = {title: titles.index(title) for title in wanted}
    cells = read_cells(where, text, TMY3_FIRST_LINE, sorted(position.values()), len(titles))
    cells = cells.rename(columns={at: title for title, at in position.items()})
    return RawTable(
        where=where,
        name=f"{head[1].title()}, {head[2]}",
        source=f"TMY3 file, station {head[0]}",
        station=_station(where, head[4], head[5], head[6], head[3]),
        labels=_tmy3_labels(where, cells),
        columns={
            column.name: to_schema_unit(
                as_numbers(cells[column.title], where, column.title), column
            )
            for column in TMY3_COLUMNS
        },
        titles={column.name: column.title for column in TMY3_COLUMNS},
        first_line=TMY3_FIRST_LINE,
    )


def _tmy3_labels(where: str, cells: pd.DataFrame) -> TimeArray:
    """Combine the date and time columns; 24:00 ends the day of its date."""
    date_title, time_title = TMY3_DATE_TITLES
    dates = pd.to_datetime(cells[date_title], format="%m/%d/%Y", errors="coerce")
    _reject(where, TMY3_FIRST_LINE, date_title, cells[date_title], dates.isna(), "MM/DD/YYYY")
    # 24 spellings in 8760 rows: convert each once.
    codes, spellings = pd.factorize(cells[time_title])
    hours = {text: _hour_of(text) for text in spellings}
    unread = np.array([hours[text] is None for text in spellings] + [True])[codes]
    _reject(where, TMY3_FIRST_LINE, time_title, cells[time_title], unread, "01:00 to 24:00")
    hour = np.array([hours[text] or 0 for text in spellings], dtype=np.int64)[codes]
    day = dates.to_numpy().astype("datetime64[D]").astype("datetime64[h]")
    return np.asarray(day + hour.astype("timedelta64[h]"))


def _hour_of(text: str) -> int | None:
    """Full hour of a clock text such as 09:00; None if it is not one."""
    match = re.fullmatch(r"\s*(\d{1,2}):00\s*", str(text))
    return int(match[1]) if match and int(match[1]) <= 24 else None


def read_tmy2(where: str, text: str) -> RawTable:
    """Read a TMY2 file (fixed columns)."""
    lines = text.rstrip().split("\n")
    head = TMY2_HEADER.match(lines[0])
    if head is None:
        raise WeatherError(Problem(place(where, 1), "is not a TMY2 header"))
    lines = lines[1:]
    short = next((i for i, line in enumerate(lines) if len(line) < TMY2_LINE_LENGTH), None)
    if short is not None:
        raise WeatherError(
            Problem(
                place(where, TMY2_FIRST_LINE + short),
                f"{len(lines[short])} characters",
                f"at least {TMY2_LINE_LENGTH}",
            )
        )
    letters = np.array([line[:TMY2_LINE_LENGTH].encode("ascii", "replace") for line in lines])
    grid = letters.view("S1").reshape(len(lines), -1)

    def numbers(first: int, stop: int, title: str) -> FloatArray:
        field = np.ascontiguousarray(grid[:, first:stop]).view(f"S{stop - first}")[:, 0]
        try:
            return field.astype(np.float64)
        except ValueError:
            lines_of = pd.RangeIndex(TMY2_FIRST_LINE, TMY2_FIRST_LINE + len(field))
            return as_numbers(pd.Series(field.astype(str), index=lines_of), where, title)

    parts = [numbers(*span, title) for title, span in TMY2_DATE_FIELDS.items()]
    parts[0] = parts[0] + 1900.0
    latitude = _degrees(head["lat"], head["lat_min"]) * (1 if head["ns"] == "N" else -1)
    longitude = _degrees(head["lon"], head["lon_min"]) * (1 if head["ew"] == "E" else -1)
    return RawTable(
        where=where,
        name=f"{head['city'].strip().title()}, {head['state']}",
        source=f"TMY2 file, station {head['wban']}",
        station=_station(where, latitude, longitude, head["elevation"], head["zone"]),
        labels=labels_from_parts(*_whole(where, TMY2_FIRST_LINE, list(TMY2_DATE_FIELDS), parts)),
        columns={
            column.name: to_schema_unit(numbers(*span, column.title), column)
            for span, column in TMY2_COLUMNS.items()
        },
        titles={column.name: column.title for column in TMY2_COLUMNS.values()},
        first_line=TMY2_FIRST_LINE,
    )


def _degrees(degrees: str, minutes: str) -> float:
    return float(degrees) + float(minutes) / 60.0


def _header_fields(where: str, text: str, n_field: int) -> list[str]:
    """Split the first line; quotation marks are honoured."""
    fields = split_line(where, 1, text.split("\n", 1)[0])
    if len(fields) < n_field:
        raise WeatherError(Problem(place(where, 1), f"{len(fields)} fields", f"at least {n_field}"))
    return fields


def _station(
    where: str,
    latitude: str | float,
    longitude: str | float,
    elevation: str | float,
    utc_offset: str | float,
) -> Mapping[str, float]:
    """Convert the numbers of a station header."""
    texts = {
        "latitude_deg": latitude,
        "longitude_deg": longitude,
        "elevation_m": elevation,
        "utc_offset_h": utc_offset,
    }
    station = {}
    for key, text in texts.items():
        try:
            station[key] = float(text)
        except ValueError as error:
            problem = Problem(place(where, 1), f"{key}: {text!r} is not a number", "a number")
            raise WeatherError(problem) from error
    return station


def _whole(
    where: str, first_line: int, titles: Sequence[str], parts: Sequence[FloatArray]
) -> list[IntArray]:
    """Convert date numbers to integers."""
    for title, part in zip(titles, parts, strict=True):
        # Four digits at most: a larger number would leave the range of datetime64.
        bad = ~((part >= 0) & (part < 10_000))
        _reject(where, first_line, title, pd.Series(part.astype(str)), bad, "a whole number")
    return [part.astype(np.int64) for part in parts]


def _reject(
    where: str, first_line: int, title: str, cells: "pd.Series[str]", bad: object, allowed: str
) -> None:
    """Raise for the first cell marked as bad."""
    rows = np.flatnonzero(np.asarray(bad))
    if len(rows):
        row = int(rows[0])
        raise WeatherError(
            Problem(place(where, first_line + row, title), repr(str(cells.iloc[row])), allowed)
        )
