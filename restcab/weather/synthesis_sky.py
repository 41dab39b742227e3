"""Cloud and sky infrared of a synthetic year.

References
----------
.. [1] Kasten, F. and Czeplak, G. (1980), "Solar and terrestrial radiation dependent on the amount
   and type of cloud", Solar Energy 24(2), 177-189 (from memory).
"""

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.physics.sky import sky_ir_w_per_m2
from restcab.weather.climates import Climate
from restcab.weather.year import HOURS, MONTH_OF_DAY, N_DAY, N_HOUR, month_means

KT_CLEAR = 0.75
"""Daily clearness of a cloudless day (design assumption; the tuning below absorbs its error)."""
_OVERCAST_LOSS, _OVERCAST_POWER = 0.75, 3.4
_POWER_MAX = 4.0
"""The tuning exponent is sought between exp(-4) and exp(4): from almost always overcast to almost
cloudless."""
_HALVINGS = 16
_NOON_H = 12.0


def cloud_and_infrared(
    climate: Climate, clearness: FloatArray, temp_air_c: FloatArray, temp_dew_c: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Cloud [-] and horizontal infrared [W/m²] of every hour, shape (8760,) each.

    Cloud follows the clearness of the day [1]_, bent by one exponent a month so that the month's
    mean infrared (or, where the facts have none, mean cloud) is kept.

    Parameters
    ----------
    climate
        Facts of the station.
    clearness
        Clearness index of every day [-], shape (365,).
    temp_air_c, temp_dew_c
        Dry bulb and dew point [°C], shape (8760,).
    """
    first = _cloud_hours(clearness)
    infrared = np.asarray(climate.months["sky_ir_w_per_m2"])
    from_cloud = np.isnan(infrared)
    wanted = np.where(from_cloud, np.asarray(climate.months["cloud_tenths"]) / 10.0, infrared)

    def at(power: FloatArray) -> tuple[FloatArray, FloatArray]:
        cloud = (first ** np.exp(power)[MONTH_OF_DAY][:, np.newaxis]).reshape(N_HOUR)
        return cloud, sky_ir_w_per_m2(temp_air_c, temp_dew_c, cloud)

    low, high = np.full(12, -_POWER_MAX), np.full(12, _POWER_MAX)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        cloud, sky_ir = at(middle)
        means = (month_means(x.reshape(N_DAY, HOURS).mean(axis=1)) for x in (cloud, sky_ir))
        mean_cloud, mean_ir = means
        # A greater exponent makes less cloud, as cloud is below 1.
        too_much = np.where(from_cloud, mean_cloud, mean_ir) > wanted
        low, high = np.where(too_much, middle, low), np.where(too_much, high, middle)
    cloud, sky_ir = at(0.5 * (low + high))
    # Some stations' facts come from another sky model and lie outside what cloud alone can do.
    mean_ir = month_means(sky_ir.reshape(N_DAY, HOURS).mean(axis=1))
    rest = np.where(from_cloud, 1.0, wanted / mean_ir)
    return cloud, np.asarray(
        (sky_ir.reshape(N_DAY, HOURS) * rest[MONTH_OF_DAY][:, np.newaxis]).reshape(N_HOUR)
    )


def _cloud_hours(clearness: FloatArray) -> FloatArray:
    """Cloud of every hour before tuning, shape (365, 24): straight lines from noon to noon."""
    loss = np.clip((1.0 - clearness / KT_CLEAR) / _OVERCAST_LOSS, 0.0, 1.0)
    daily = loss ** (1.0 / _OVERCAST_POWER)
    noon = np.arange(N_DAY) * HOURS + _NOON_H
    return np.asarray(
        np.interp(np.arange(N_HOUR) + 1.0, noon, daily, period=N_HOUR).reshape(N_DAY, HOURS)
    )
