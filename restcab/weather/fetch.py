"""Fetch measured years of a place over the network: the only part of the program that uses it.

The asking is done by pvlib's own functions. What they return is written in the form of the source's
own files, read back by our readers and put through the same criticism as any other file, so that a
file that is on the disk is one that every command takes.

References
----------
.. [1] pvlib, `iotools.get_nasa_power`, `get_pvgis_hourly`, `get_nsrdb_psm4_conus` (read).
"""

import json
import os
from collections.abc import Callable, Mapping

import pandas as pd

from restcab.errors import InputError, Problem, WeatherError
from restcab.table_text import csv_text
from restcab.weather.files import years_of_text

FIRST_YEAR = 1980
YEARS_MAX = 40
POWER, PVGIS, NSRDB = "nasa-power", "pvgis", "nsrdb"
KEY_VARIABLE, EMAIL_VARIABLE = "NSRDB_API_KEY", "NSRDB_EMAIL"
"""Environment variables with the key of the source that asks for one."""
_POWER_NAMES = (
    "T2M", "T2MDEW", "PS", "WS10M", "ALLSKY_SFC_SW_DWN", "ALLSKY_SFC_SW_DNI",
    "ALLSKY_SFC_SW_DIFF", "ALLSKY_SFC_LW_DWN",
)  # fmt: skip
_PSM_NAMES = {
    "temp_air": "Temperature", "relative_humidity": "Relative Humidity", "pressure": "Pressure",
    "wind_speed": "Wind Speed", "ghi": "GHI", "dni": "DNI", "dhi": "DHI",
}  # fmt: skip


def fetch_years(
    latitude_deg: float,
    longitude_deg: float,
    first: int,
    last: int,
    source: str = POWER,
    url: str | None = None,
) -> str:
    """Fetch the hourly years of a place.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Place [°], north and east positive.
    first, last
        First and last year.
    source
        A key of `SOURCES`; `POWER` and `PVGIS` ask for no key.
    url
        Address of the service, where it is not pvlib's own.

    Returns
    -------
    str
        Text of a file in the form of the source, which our readers take.

    Raises
    ------
    InputError
        Place or years out of range, no key, no network, or the service refuses.
    WeatherError
        What came is no whole, credible year.
    """
    _check(latitude_deg, longitude_deg, first, last, source)
    where = f"--fetch from {source}"
    try:
        text = SOURCES[source](latitude_deg, longitude_deg, first, last, _address(url))
    except (KeyError, TypeError, IndexError, AttributeError) as error:
        what = f"answered in a form that is not known ({type(error).__name__}: {error})"
        raise WeatherError(Problem(where, what)) from error
    except (OSError, ValueError) as error:
        # All faults of requests are OSErrors; an answer that is no JSON is a ValueError.
        raise InputError(Problem(where, _reason(error), "a network, and a service that answers"))\
            from error  # fmt: skip
    years_of_text(where, text)
    return text


def _power(lat: float, lon: float, first: int, last: int, address: Mapping[str, str]) -> str:
    """Hourly file of NASA POWER, on the clock of UTC."""
    from pvlib import iotools

    data, meta = iotools.get_nasa_power(
        lat, lon, f"{first}-01-01", f"{last}-12-31", parameters=_POWER_NAMES,
        map_variables=False, **address,
    )  # fmt: skip
    clock = pd.DatetimeIndex(data.index)
    table = data[[name for name in _POWER_NAMES if name in data]].fillna(-999.0)
    table = table[(clock.year >= first) & (clock.year <= last)]
    clock = pd.DatetimeIndex(table.index)
    for at, (name, values) in enumerate(
        (("YEAR", clock.year), ("MO", clock.month), ("DY", clock.day), ("HR", clock.hour))
    ):
        table.insert(at, name, values)
    head = (
        "-BEGIN HEADER-\nNASA/POWER Source Native Resolution Hourly Data\n"
        f"Dates (month/day/year): 01/01/{first} through 12/31/{last} in UTC\n"
        f"Location: latitude  {meta['latitude']}   longitude {meta['longitude']}\n"
        f"elevation from the service = {float(meta['altitude'])} meters\n"
        "The value for missing source data that cannot be computed or is outside of the sources "
        "availability range: -999\n-END HEADER-\n"
    )
    return head + csv_text(table)


def _pvgis(lat: float, lon: float, first: int, last: int, address: Mapping[str, str]) -> str:
    """Hourly file of PVGIS on a horizontal plane, on the clock of UTC."""
    from pvlib import iotools

    data, meta = iotools.get_pvgis_hourly(
        lat, lon, start=first, end=last, map_variables=False, **address
    )
    clock = pd.DatetimeIndex(data.index).strftime("%Y%m%d:%H%M")
    rows = [{"time": at, **row} for at, row in zip(clock, data.to_dict("records"), strict=True)]
    inputs = {key: value for key, value in meta["inputs"].items() if key != "descriptions"}
    return json.dumps({"inputs": inputs, "outputs": {"hourly": rows}, "meta": {"inputs": {}}})


def _nsrdb(lat: float, lon: float, first: int, last: int, address: Mapping[str, str]) -> str:
    """File of the NSRDB (PSM4, contiguous states), in local standard time; one request a year."""
    from pvlib import iotools

    key, email = os.environ[KEY_VARIABLE], os.environ[EMAIL_VARIABLE]
    years, meta = [], {}
    for year in range(first, last + 1):
        data, meta = iotools.get_nsrdb_psm4_conus(
            lat, lon, key, email, year=str(year), time_step=60, map_variables=True,
            parameters=tuple(_PSM_NAMES), **address,
        )  # fmt: skip
        years.append(data)
    table = pd.concat(years)
    clock = pd.DatetimeIndex(table.index)
    parts = {"Year": clock.year, "Month": clock.month, "Day": clock.day, "Hour": clock.hour,
             "Minute": clock.minute}  # fmt: skip
    body = pd.DataFrame(parts | {title: table[name].to_numpy() for name, title in _PSM_NAMES.items()
                                 if name in table})  # fmt: skip
    # pvlib reads the service's file and has nothing that writes one: the two lines are put together
    # anew from what it returns, whose "altitude" is the file's "Elevation".
    head = (
        "Source,Location ID,City,State,Country,Latitude,Longitude,Time Zone,Elevation,"
        "Local Time Zone,Version\n"
        f"NSRDB,{meta.get('Location ID', '-')},-,-,-,{meta['latitude']},{meta['longitude']},"
        f"{meta['Time Zone']},{meta['altitude']},{meta['Local Time Zone']},"
        f"{meta.get('Version', '4')}\n"
    )
    return head + csv_text(body)


SOURCES: Mapping[str, Callable[[float, float, int, int, Mapping[str, str]], str]] = {
    POWER: _power, PVGIS: _pvgis, NSRDB: _nsrdb,
}  # fmt: skip
"""What can be asked, by the name that the command line knows it by."""
ADDRESS_VARIABLE = "RESTCAB_FETCH_URL"
"""Environment variable with an address to ask in place of the service's own, such as a mirror."""


def _address(url: str | None) -> dict[str, str]:
    """Where to ask, as an argument of pvlib's function; none: where pvlib does."""
    given = os.environ.get(ADDRESS_VARIABLE) if url is None else url
    return {} if not given else {"url": given}


def _check(lat: float, lon: float, first: int, last: int, source: str) -> None:
    """Refuse what no service can answer before it is asked."""
    problems = []
    if not (-90.0 <= lat <= 90.0 and -180.0 <= lon <= 180.0):
        what, allowed = f"{lat:g},{lon:g} is no place", "latitude -90 to 90, longitude -180 to 180"
        problems.append(Problem("--fetch", what, allowed))
    if not (FIRST_YEAR <= first <= last and last - first < YEARS_MAX):
        what = f"{first}-{last} is no span of years"
        allowed = f"years from {FIRST_YEAR}, the first before the last, {YEARS_MAX} at most"
        problems.append(Problem("--years", what, allowed))
    lacking = [name for name in (KEY_VARIABLE, EMAIL_VARIABLE) if not os.environ.get(name)]
    if source == NSRDB and lacking:
        what = f"{source} asks for a key: {' and '.join(lacking)} not set in the environment"
        problems.append(Problem("--source", what, f"a key, or {POWER} or {PVGIS}, without one"))
    if problems:
        raise InputError(problems)


def _reason(error: Exception) -> str:
    """Say in one line what the network did; no address, which may hold a key."""
    name = type(error).__name__
    if "Timeout" in name:
        return "the service did not answer in time"
    if name in ("ConnectionError", "SSLError", "ProxyError", "ChunkedEncodingError"):
        return "the service cannot be reached: is there a network?"
    if name == "HTTPError":
        said = " ".join(str(error).split())
        key = os.environ.get(KEY_VARIABLE)
        return f"the service refuses: {(said.replace(key, '...') if key else said)[:160]}"
    return f"the service did not answer with data ({name})"
