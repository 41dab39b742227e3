"""Weather files to read: the two years in pvlib's wheel, and an EPW file made from one."""

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from restcab.errors import WeatherError
from restcab.weather.files import default_weather, open_weather, read_weather
from restcab.weather.schema import Weather


@pytest.fixture(scope="session")
def pvlib_data() -> Path:
    return Path(str(files("pvlib").joinpath("data")))


@pytest.fixture(scope="session")
def tmy3_text(pvlib_data: Path) -> str:
    return (pvlib_data / "723170TYA.CSV").read_text()


@pytest.fixture(scope="session")
def tmy2_text(pvlib_data: Path) -> str:
    return (pvlib_data / "12839.tm2").read_text()


@pytest.fixture(scope="session")
def greensboro() -> Weather:
    return default_weather()


@pytest.fixture(scope="session")
def miami() -> Weather:
    return open_weather("miami")


def write_epw(weather: Weather, *, years: dict[int, int] | None = None) -> str:
    """Write a weather as EPW text, by the field order of the format.

    ``years`` gives months another year, as in typical-year files.
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
    for at, row in zip(start.tolist(), rows, strict=True):
        year = (years or {}).get(at.month, at.year)
        lines.append(
            f"{year},{at.month},{at.day},{at.hour + 1},60,?9,{row.temp_air_c:.1f},"
            f"{row.temp_dew_c:.1f},50,{row.pressure_pa:.0f},0,0,{row.sky_ir_w_per_m2:.0f},"
            f"{row.ghi_w_per_m2:.0f},{row.dni_w_per_m2:.0f},{row.dhi_w_per_m2:.0f},"
            f"999999,999999,999999,9999,180,{row.wind_m_per_s:.1f},9,{row.cloud_frac * 10:.0f},"
            "9999,99999,9,999999999,20,0.1,0,88,0.2,0,0"
        )
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="session")
def epw_of() -> Callable[..., str]:
    return write_epw


@pytest.fixture
def write(tmp_path: Path) -> Callable[..., Path]:
    """Write a text to a file of the test's own directory."""

    def to_file(text: str, name: str = "weather.txt") -> Path:
        path = tmp_path / name
        path.write_text(text)
        return path

    return to_file


@pytest.fixture(scope="session")
def fault() -> Callable[[Path], str]:
    """Read a faulty file and return the message, which must name the file and exit with 2."""

    def message(path: Path) -> str:
        with pytest.raises(WeatherError) as caught:
            read_weather(path)
        assert caught.value.exit_code == 2
        assert str(path) in str(caught.value)
        return str(caught.value)

    return message


@pytest.fixture(scope="session")
def epw_text(greensboro: Weather) -> str:
    return write_epw(greensboro, years={month: 1980 + month % 5 for month in range(1, 13)})
