"""Weather files to read: two published years in full, the shipped ones, an EPW made from one."""

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pytest
from support import write_epw

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
