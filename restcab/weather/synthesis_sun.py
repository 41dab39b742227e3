"""Sun of a synthetic year: daily clearness, then global, beam and diffuse of every hour.

References
----------
.. [1] Erbs, D. G., Klein, S. A. and Duffie, J. A. (1982), "Estimation of the diffuse radiation
   fraction for hourly, daily and monthly-average global radiation", Solar Energy 28(4), 293-302
   (from memory; checked against an independent program in the tests).
"""

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.physics.clearsky import extraterrestrial_w_per_m2, solar_time_h
from restcab.weather.climates import Climate
from restcab.weather.sunlit import outside_hours
from restcab.weather.synthesis_parts import (
    PartYear,
    middle_positions,
    rank_to,
    standardised,
)
from restcab.weather.year import HOURS, MONTH_OF_DAY, MONTH_SLICES, N_DAY, N_HOUR, month_means

KT_LOW, KT_HIGH = 0.03, 0.80
"""Range of daily clearness: darkest overcast, and a clear mountain day (design assumption)."""
KT_HOUR_MAX = 0.88
"""Largest share of the extraterrestrial sun that reaches the ground in an hour (design
assumption; the clearest skies pass 0.82 to 0.85 with the sun overhead)."""
BEAM_MAX_FRAC = 0.80
"""Largest share in beam alone (design assumption: 1090 W/m² outside a mountain winter)."""
_DAY_OF_YEAR: FloatArray = np.arange(1.0, N_DAY + 1.0)[:, np.newaxis]
_MID_HOUR: FloatArray = np.arange(0.5, HOURS)
LABEL_ERROR_MIN_H = 0.3
"""Smallest shift of the sun taken for a wrong label; in 35 of the 40 stations the middle of the
irradiance lies within 0.2 h of solar noon on the year's mean, in the other five 0.5 to 1 h off
(computed)."""
_BETA_ROOM = 0.9
"""A beta distribution is two peaks at its ends when its variance comes near the limit."""
_SPLIT_PASSES = 8
_UNEXPLAINED_MIN = 0.05


def daily_clearness(climate: Climate, own: FloatArray, temp: PartYear) -> FloatArray:
    """Clearness index of every day [-], shape (365,).

    Beta distribution with the month's mean and standard deviation; the order of the days goes with
    temperature and daily range as strongly as in the facts.

    Parameters
    ----------
    climate
        Facts of the station.
    own
        Random series of clearness itself, shape (365,).
    temp
        Mean dry bulb of day and night parts [°C].
    """
    from scipy.special import betaincinv

    score = _clearness_score(climate, own, temp)
    mean = (np.asarray(climate.months["kt_mean"]) - KT_LOW) / (KT_HIGH - KT_LOW)
    variance = (np.asarray(climate.months["kt_sd"]) / (KT_HIGH - KT_LOW)) ** 2
    size = mean * (1.0 - mean) / np.minimum(variance, _BETA_ROOM * mean * (1.0 - mean)) - 1.0
    clearness = np.empty(N_DAY)
    for month, days in enumerate(MONTH_SLICES):
        share = middle_positions(days.stop - days.start)
        ordered = betaincinv(mean[month] * size[month], (1.0 - mean[month]) * size[month], share)
        clearness[days] = rank_to(score[days], KT_LOW + (KT_HIGH - KT_LOW) * ordered)
    return clearness


def _clearness_score(climate: Climate, own: FloatArray, temp: PartYear) -> FloatArray:
    """Mix what temperature and daily range tell about clearness with a series of its own."""
    warmth = standardised(temp.daily())
    # A clear day lies above the mean of the nights around it; so the range shows.
    width = standardised(temp.day - 0.5 * (temp.night + np.roll(temp.night, 1)))
    together = month_means(warmth * width)
    with_warmth = np.asarray(climate.months["corr_temp_kt"])
    with_width = np.asarray(climate.months["corr_range_kt"])
    # Regression on two correlated series that gives both correlations.
    room = np.maximum(1.0 - together**2, _UNEXPLAINED_MIN)
    by_warmth = (with_warmth - together * with_width) / room
    by_width = (with_width - together * with_warmth) / room
    explained = by_warmth * with_warmth + by_width * with_width
    shrink = np.sqrt(np.minimum(1.0, (1.0 - _UNEXPLAINED_MIN) / np.maximum(explained, 1e-9)))
    rest = np.sqrt(1.0 - np.clip(explained * shrink**2, 0.0, 1.0))
    return np.asarray(
        (shrink * by_warmth)[MONTH_OF_DAY] * warmth
        + (shrink * by_width)[MONTH_OF_DAY] * width
        + rest[MONTH_OF_DAY] * own
    )


def sun_hours(climate: Climate, clearness: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Global and diffuse horizontal and direct normal irradiance [W/m²], shape (8760,) each.

    The global of an hour is the sun outside the atmosphere times the clearness of that hour in the
    mean day times the clearness of the day; its diffuse share follows [1]_, scaled for each hour
    of the mean day to the month's mean diffuse. So the monthly means of both are kept, and global
    is beam plus diffuse in every hour.

    Parameters
    ----------
    climate
        Facts of the station.
    clearness
        Clearness index of every day [-], shape (365,).
    """
    late_h = sun_label_error_h(climate)
    outside, cos_zenith = _outside(climate, np.zeros_like(late_h))
    mean_ghi, mean_dhi = (
        np.asarray(climate.mean_day[name]) for name in ("ghi_w_per_m2", "dhi_w_per_m2")
    )
    if late_h.any():
        as_labelled, _ = _outside(climate, late_h)
        mean_ghi, mean_dhi = (
            _relabelled(one, late_h, as_labelled, outside) for one in (mean_ghi, mean_dhi)
        )
    ghi = _global(outside, clearness, mean_ghi)
    dhi = _diffuse(outside, ghi, mean_dhi)
    normal = extraterrestrial_w_per_m2(_DAY_OF_YEAR)
    dni = np.divide(ghi - dhi, cos_zenith, out=np.zeros_like(ghi), where=cos_zenith > 0.0)
    # A low sun shines through much air: what the split gives beyond reason is diffuse.
    dni = np.minimum(dni, BEAM_MAX_FRAC * normal)
    dhi = np.maximum(ghi - dni * cos_zenith, 0.0)
    return ghi.reshape(N_HOUR), dni.reshape(N_HOUR), dhi.reshape(N_HOUR)


def sun_label_error_h(climate: Climate) -> FloatArray:
    """How much later than the sun a climate's mean-day irradiance runs [h], shape (12,).

    In the typical years of some stations the sun is labelled up to an hour off local standard
    time: the middle of the day's irradiance then lies far from solar noon in most months, farther
    than clouds move it. Such months are moved back; the others have zero.
    """
    mean_day = np.asarray(climate.mean_day["ghi_w_per_m2"])
    middle_h = (mean_day * _MID_HOUR).sum(axis=1) / mean_day.sum(axis=1)
    clock_noon: FloatArray = np.full((N_DAY, 1), 12.0)
    solar_h = solar_time_h(clock_noon, climate.longitude_deg, climate.utc_offset_h, _DAY_OF_YEAR)
    late_h = middle_h - (24.0 - month_means(solar_h)[:, 0])
    # A single month may be right: cloudy mornings move the middle, too (Los Angeles in June).
    is_off = abs(float(np.median(late_h))) > LABEL_ERROR_MIN_H
    return np.where(is_off & (np.abs(late_h) > LABEL_ERROR_MIN_H), late_h, 0.0)


def _relabelled(
    mean_day: FloatArray, late_h: FloatArray, as_labelled: FloatArray, outside: FloatArray
) -> FloatArray:
    """Mean days of irradiance at the right hours, shape (12, 24), with the same daily sums.

    What is moved is the ratio to the sun outside the atmosphere: irradiance itself, moved by half
    an hour, would leave too much of it at sunrise and sunset.
    """
    whole = np.floor(late_h).astype(np.int64)[:, np.newaxis]
    part = late_h[:, np.newaxis] - whole
    mean_outside = month_means(as_labelled)
    ratio = np.divide(mean_day, mean_outside, out=np.zeros_like(mean_day), where=mean_outside > 1.0)
    hours, month = np.arange(HOURS), np.arange(len(mean_day))[:, np.newaxis]
    first = ratio[month, (hours + whole) % HOURS]
    second = ratio[month, (hours + whole + 1) % HOURS]
    moved = ((1.0 - part) * first + part * second) * month_means(outside)
    total = moved.sum(axis=1, keepdims=True)
    right = moved * np.divide(
        mean_day.sum(axis=1, keepdims=True), total, out=np.zeros_like(total), where=total > 0.0
    )
    return np.where(late_h[:, np.newaxis] == 0.0, mean_day, right)


def _outside(climate: Climate, late_h: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Extraterrestrial sun on a horizontal face, and mean cosine of the sunlit part of the hour.

    Integrated over each hour, cut at sunrise and sunset; shape (365, 24) each. ``late_h`` makes the
    clock of each month run late by so much.
    """
    return outside_hours(
        _DAY_OF_YEAR,
        _MID_HOUR,
        climate.latitude_deg,
        climate.longitude_deg,
        climate.utc_offset_h,
        late_h[MONTH_OF_DAY][:, np.newaxis],
    )


def _global(outside: FloatArray, clearness: FloatArray, mean_day: FloatArray) -> FloatArray:
    """Global of every hour, shape (365, 24), whose monthly mean days are given."""
    shape = outside * clearness[:, np.newaxis]
    mean = month_means(shape)
    scale = np.divide(mean_day, mean, out=np.zeros_like(mean), where=mean > 0.0)
    return np.minimum(scale[MONTH_OF_DAY] * shape, KT_HOUR_MAX * outside)


def _diffuse(outside: FloatArray, ghi: FloatArray, mean_day: FloatArray) -> FloatArray:
    """Diffuse of every hour, shape (365, 24), whose monthly mean days are given."""
    kt = np.divide(ghi, outside, out=np.zeros_like(ghi), where=outside > 0.0)
    share = diffuse_frac(kt) * ghi
    dhi = share
    for _ in range(_SPLIT_PASSES):
        # Diffuse cannot exceed global; what one hour cannot take, the others take.
        mean = month_means(dhi)
        scale = np.divide(mean_day, mean, out=np.ones_like(mean), where=mean > 0.0)
        share = share * scale[MONTH_OF_DAY]
        dhi = np.minimum(share, ghi)
    return dhi


def diffuse_frac(kt: FloatArray) -> FloatArray:
    """Diffuse share of the global sun in an hour of a given clearness index [1]_ [-]."""
    middle = 0.9511 + kt * (-0.1604 + kt * (4.388 + kt * (-16.638 + kt * 12.336)))
    return np.where(kt <= 0.22, 1.0 - 0.09 * kt, np.where(kt <= 0.80, middle, 0.165))
