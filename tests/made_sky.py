"""A sky that is known at every instant, to write files of the satellite sources from."""

import numpy as np

from restcab.weather.critique import outside_w_per_m2

PLACE = {"latitude_deg": 36.1, "longitude_deg": -79.95, "utc_offset_h": -5.0, "elevation_m": 273.0}
H = np.timedelta64(1, "h")


def start_of_year(year: int, days: int = 365) -> np.ndarray:
    return np.datetime64(f"{year}-01-01T00", "h") + np.arange(24 * days) * H


def made(start_utc: np.ndarray, at_h: float):
    """Temperature, humidity, wind and sun at instants ``at_h`` after whole hours of UTC."""
    local = start_utc.astype("datetime64[s]") + np.timedelta64(round((at_h - 5.0) * 3600), "s")
    day = (local - np.datetime64("2001-01-01", "s")).astype(float) / 86400.0
    hour = 24.0 * (day % 1.0)
    temp = (
        15 - 11 * np.cos(2 * np.pi * (day - 15) / 365.25) - 5 * np.cos(2 * np.pi * (hour - 3) / 24)
    )
    # Sun at the instant: the middle of an hour that ends half an hour later.
    outside, cos_zenith = outside_w_per_m2(PLACE, local + np.timedelta64(1800, "s"))
    ghi, dhi = 0.7 * outside, 0.15 * outside
    dni = np.where(cos_zenith > 0, (ghi - dhi) / np.maximum(cos_zenith, 1e-6), 0.0)
    return temp, 60.0 + 0 * temp, 2.0 + hour / 24.0, ghi, dni, dhi
