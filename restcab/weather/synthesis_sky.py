"""Cloud and sky infrared of a synthetic year."""

from collections.abc import Sequence

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.physics.sky import sky_ir_w_per_m2
from restcab.weather.climates import Climate
from restcab.weather.synthesis_air import level_hours
from restcab.weather.synthesis_parts import PartYear, middle_positions, mix, rank_to, standardised
from restcab.weather.synthesis_scores import by_month, half_year_correlation
from restcab.weather.synthesis_sun import KT_HIGH, KT_LOW
from restcab.weather.year import (
    HOURS,
    MONTH_OF_DAY,
    MONTH_SLICES,
    N_DAY,
    N_HOUR,
    N_MONTH,
    month_means,
)

SPREAD_DAY, SPREAD_NIGHT = (0.11, 1.26), (0.31, 0.97)
"""Relative spread of the mean cloud of day and night parts: a constant, and the share of the
relative spread of the daily clearness. Relative is the standard deviation to the greatest that the
mean allows (parts that are either cloudless or overcast have 1). Regression over the 72 months of
six typical years from Florida to Illinois and California, correlations 0.79 and 0.63 (computed)."""
SPREAD_MAX = 0.95
NIGHT_BY_DAY_BEFORE, NIGHT_BY_DAY_AFTER = 0.35, 0.50
"""Weights of the clearness of the days around a night in its cloud; the same years have
correlations of 0.4 to 0.6 with the day before and 0.45 to 0.7 with the day after (computed)."""
MEAN_MIN = 0.02
WITH_WARMTH_MAX = 0.7
"""Largest correlation of cloud and temperature on the nights of a month (design assumption)."""
_LINK_HALVINGS = 5
_POWER_MAX = 4.0
"""The tuning exponent is sought between exp(-4) and exp(4): from almost always overcast to almost
cloudless."""
_HALVINGS = 16


def cloud_parts(
    climate: Climate, clearness: FloatArray, own_night: FloatArray, temp: PartYear, dew: PartYear
) -> PartYear:
    """Cloud of every day part and night part before tuning [-].

    Cloud by day goes against the clearness of the day; by night it follows the days around in part
    and has a part of its own; as much of it goes with temperature as the infrared does in the
    facts. Beta distribution, most parts cloudless or overcast.

    Parameters
    ----------
    climate
        Facts of the station.
    clearness
        Clearness index of every day [-], shape (365,).
    own_night
        Random series of the nights, shape (365,).
    temp, dew
        Mean dry bulb and dew point of the parts [°C].
    """
    from scipy.special import betaincinv

    dull = -standardised(clearness)
    around = NIGHT_BY_DAY_BEFORE * dull + NIGHT_BY_DAY_AFTER * np.roll(dull, -1)
    rest = 1.0 - NIGHT_BY_DAY_BEFORE**2 - NIGHT_BY_DAY_AFTER**2
    night = around + np.sqrt(rest) * own_night
    known = np.asarray(climate.months["cloud_tenths"]) / 10.0
    mean = np.clip(np.where(np.isnan(known), 0.5, known), MEAN_MIN, 1.0 - MEAN_MIN)

    kt, kt_sd = (np.asarray(climate.months[name]) for name in ("kt_mean", "kt_sd"))
    varied = kt_sd / np.sqrt((kt - KT_LOW) * (KT_HIGH - kt))

    def ordered(spread: tuple[float, float]) -> list[FloatArray]:
        relative = np.minimum(spread[0] + spread[1] * varied, SPREAD_MAX)
        size = 1.0 / relative**2 - 1.0
        shares = [middle_positions(days.stop - days.start) for days in MONTH_SLICES]
        months = zip(mean * size, (1.0 - mean) * size, shares, strict=True)
        return [betaincinv(low, high, share) for low, high, share in months]

    nights = ordered(SPREAD_NIGHT)
    night = _with_warmth(climate, night, nights, temp.night, dew.night)
    return PartYear(_placed(dull, ordered(SPREAD_DAY)), _placed(night, nights))


def _placed(score: FloatArray, ordered: Sequence[FloatArray]) -> FloatArray:
    """Values of each month, given in rising order, where the scores rank them, shape (365,)."""
    return np.concatenate(
        [rank_to(score[days], values) for days, values in zip(MONTH_SLICES, ordered, strict=True)]
    )


def _with_warmth(
    climate: Climate,
    score: FloatArray,
    ordered: Sequence[FloatArray],
    temp_c: FloatArray,
    dew_c: FloatArray,
) -> FloatArray:
    """Score of the nights' cloud with which infrared goes with temperature as in the facts.

    Sought by bisection: the more cloud on warm nights, the closer the infrared follows.
    """
    wanted = by_month(climate, "night_temp_sky_ir")
    warm = standardised(temp_c)
    rest = standardised(score - month_means(score * warm)[MONTH_OF_DAY] * warm)
    low, high = np.full(N_MONTH, -WITH_WARMTH_MAX), np.full(N_MONTH, WITH_WARMTH_MAX)
    for _ in range(_LINK_HALVINGS):
        middle = 0.5 * (low + high)
        sky_ir = sky_ir_w_per_m2(temp_c, dew_c, _placed(mix(rest, warm, middle), ordered))
        too_close = half_year_correlation(temp_c, sky_ir) > wanted
        low, high = np.where(too_close, low, middle), np.where(too_close, middle, high)
    return mix(rest, warm, 0.5 * (low + high))


def cloud_and_infrared(
    climate: Climate, cloud: PartYear, temp_air_c: FloatArray, temp_dew_c: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Cloud [-] and horizontal infrared [W/m²] of every hour, shape (8760,) each.

    The cloud of the parts is bent by one exponent a month so that its mean infrared (or, where the
    facts have none, mean cloud) is kept.

    Parameters
    ----------
    climate
        Facts of the station.
    cloud
        Cloud of day and night parts, from `cloud_parts`.
    temp_air_c, temp_dew_c
        Dry bulb and dew point [°C], shape (8760,).
    """
    first = level_hours(cloud)
    infrared = np.asarray(climate.months["sky_ir_w_per_m2"])
    from_cloud = np.isnan(infrared)
    wanted = np.where(from_cloud, np.asarray(climate.months["cloud_tenths"]) / 10.0, infrared)

    def at(power: FloatArray) -> tuple[FloatArray, FloatArray]:
        bent = (first ** np.exp(power)[MONTH_OF_DAY][:, np.newaxis]).reshape(N_HOUR)
        return bent, sky_ir_w_per_m2(temp_air_c, temp_dew_c, bent)

    low, high = np.full(12, -_POWER_MAX), np.full(12, _POWER_MAX)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        means = (month_means(x.reshape(N_DAY, HOURS).mean(axis=1)) for x in at(middle))
        mean_cloud, mean_ir = means
        # A greater exponent makes less cloud, as cloud is below 1.
        too_much = np.where(from_cloud, mean_cloud, mean_ir) > wanted
        low, high = np.where(too_much, middle, low), np.where(too_much, high, middle)
    cloud_frac, sky_ir = at(0.5 * (low + high))
    # Some stations' facts come from another sky model and lie outside what cloud alone can do.
    mean_ir = month_means(sky_ir.reshape(N_DAY, HOURS).mean(axis=1))
    rest = np.where(from_cloud, 1.0, wanted / mean_ir)
    return cloud_frac, np.asarray(
        (sky_ir.reshape(N_DAY, HOURS) * rest[MONTH_OF_DAY][:, np.newaxis]).reshape(N_HOUR)
    )
