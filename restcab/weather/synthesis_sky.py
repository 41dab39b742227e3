"""Cloud and sky infrared of a synthetic year."""

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.physics.sky import sky_ir_w_per_m2
from restcab.weather.climates import Climate
from restcab.weather.synthesis_air import level_hours
from restcab.weather.synthesis_parts import PartYear, middle_positions, rank_to, standardised
from restcab.weather.year import HOURS, MONTH_OF_DAY, MONTH_SLICES, N_DAY, N_HOUR, month_means

SPREAD_DAY, SPREAD_NIGHT = 0.58, 0.68
"""Standard deviation of the mean cloud of day and night parts, relative to the greatest that their
mean allows (parts that are either cloudless or overcast have 1): means of six typical years from
Florida to Illinois, whose sky is mostly one or the other (computed with the facts)."""
NIGHT_BY_DAY_BEFORE, NIGHT_BY_DAY_AFTER = 0.35, 0.50
"""Weights of the clearness of the days around a night in its cloud; the same years have
correlations of 0.4 to 0.6 with the day before and 0.45 to 0.7 with the day after (computed)."""
MEAN_MIN = 0.02
_POWER_MAX = 4.0
"""The tuning exponent is sought between exp(-4) and exp(4): from almost always overcast to almost
cloudless."""
_HALVINGS = 16


def cloud_parts(climate: Climate, clearness: FloatArray, own_night: FloatArray) -> PartYear:
    """Cloud of every day part and night part before tuning [-].

    Cloud by day goes against the clearness of the day; by night it follows the days around in part
    and has a part of its own. Beta distribution, most parts cloudless or overcast.

    Parameters
    ----------
    climate
        Facts of the station.
    clearness
        Clearness index of every day [-], shape (365,).
    own_night
        Random series of the nights, shape (365,).
    """
    from scipy.special import betaincinv

    dull = -standardised(clearness)
    around = NIGHT_BY_DAY_BEFORE * dull + NIGHT_BY_DAY_AFTER * np.roll(dull, -1)
    rest = 1.0 - NIGHT_BY_DAY_BEFORE**2 - NIGHT_BY_DAY_AFTER**2
    night = around + np.sqrt(rest) * own_night
    known = np.asarray(climate.months["cloud_tenths"]) / 10.0
    mean = np.clip(np.where(np.isnan(known), 0.5, known), MEAN_MIN, 1.0 - MEAN_MIN)
    parts = []
    for score, spread in ((dull, SPREAD_DAY), (night, SPREAD_NIGHT)):
        size = 1.0 / spread**2 - 1.0
        cloud = np.empty(N_DAY)
        for month, days in enumerate(MONTH_SLICES):
            share = middle_positions(days.stop - days.start)
            ordered = betaincinv(mean[month] * size, (1.0 - mean[month]) * size, share)
            cloud[days] = rank_to(score[days], ordered)
        parts.append(cloud)
    return PartYear(*parts)


def cloud_and_infrared(
    climate: Climate, cloud: PartYear, temp_air_c: FloatArray, temp_dew_c: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Cloud [-] and horizontal infrared [W/m²] of every hour, shape (8760,) each.

    The cloud of the parts is bent by one exponent a month so that the month's mean infrared (or, where the facts have none, mean cloud) is kept.

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
