"""The hot day that a claim names: "11 hours on a 100 °F day" says only its peak."""

import math

from restcab.errors import InputError, Problem
from restcab.said import said, temperature
from restcab.weather.design_day import design_day
from restcab.weather.schema import Weather

DAILY_RANGE_K = 11.2
WET_BULB_C = 23.5
"""Daily range of the dry bulb, and wet bulb with the peak: Atlanta in July, 5 %, ASHRAE
Handbook—Fundamentals (2021) ch. 14 example 9 (read)."""
TAU_BEAM, TAU_DIFFUSE = 0.515, 2.066
"""Clear sky of Atlanta on 21 July, the same chapter, example 4 (read)."""
WIND_M_PER_S = 3.4
"""The handbook's summer wind, ch. 26 table 10 (read)."""
SOURCE = (
    "Design day of ASHRAE Handbook Fundamentals 2021 ch. 14: profile of table 6, clear sky of "
    "Atlanta in July (read)"
)


def claim_day(
    site: Weather,
    temp_peak_c: float,
    n_hour: float,
    daily_range_k: float = DAILY_RANGE_K,
    temp_wet_c: float | None = None,
) -> Weather:
    """Make the clear hot day of a claim, repeated.

    Parameters
    ----------
    site
        Weather whose latitude, longitude and height place the sun and the air pressure.
    temp_peak_c
        Highest outdoor temperature [°C].
    n_hour
        Hours that the weather must reach beyond its first day [h].
    daily_range_k
        Daily range [K].
    temp_wet_c
        Wet bulb at the peak [°C]; the humidity ratio is the same all day, up to saturation.
        Default: `WET_BULB_C`, or the peak if that is lower.

    Returns
    -------
    Weather
        On 21 July, or 21 January south of the equator; no cloud.

    Raises
    ------
    InputError
        The site is a test chamber, which has no sun of its own; or the wet bulb is above the peak.
    """
    if site.is_chamber:
        raise InputError(
            Problem("--weather", f"{site.name} is a test chamber", "a place, for the sun's path")
        )
    return design_day(
        name=said("clear day of ", temperature(temp_peak_c, decimals=0), f" at {site.name}"),
        temp_peak_c=temp_peak_c,
        daily_range_k=daily_range_k,
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        utc_offset_h=site.utc_offset_h,
        elevation_m=site.elevation_m,
        month=7 if site.latitude_deg >= 0.0 else 1,
        day=21,
        tau_beam=TAU_BEAM,
        tau_diffuse=TAU_DIFFUSE,
        edition="2013",
        temp_wet_c=min(WET_BULB_C, temp_peak_c) if temp_wet_c is None else temp_wet_c,
        wind_m_per_s=WIND_M_PER_S,
        n_day=2 + math.ceil((n_hour + 24.0) / 24.0),
        source=SOURCE,
    )
