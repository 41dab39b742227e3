"""Sun where nobody measured it: from place, time and cloud.

References
----------
.. [1] Haurwitz, B. (1945), "Insolation in relation to cloudiness and cloud density", Journal of
   Meteorology 2, 154-166: clear sky,
   1098 cos z exp(-0.059 / cos z) (read, as in pvlib).
.. [2] Kasten, F. and Czeplak, G. (1980), "Solar and terrestrial radiation dependent on the amount
   and type of cloud", Solar Energy 24, 177-189: 1 - 0.75 N^3.4 (from memory).
"""

from collections.abc import Mapping

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.weather.position import sun_at_mid_interval
from restcab.weather.schema import TimeArray


def estimated_ghi_w_per_m2(
    label_local: TimeArray, station: Mapping[str, float], cloud_frac: FloatArray
) -> FloatArray:
    """Sun on a horizontal face that place, time and cloud let expect.

    Parameters
    ----------
    label_local
        Ends of the hours in local standard time, shape (n_hour,).
    station
        Keys of the weather schema: place and offset from UTC.
    cloud_frac
        Opaque cloud cover, 0 to 1, shape (n_hour,).

    Returns
    -------
    FloatArray
        Mean of each hour [W/m²], shape (n_hour,).
    """
    sun = sun_at_mid_interval(label_local, **station)
    height = np.maximum(np.sin(np.radians(sun.altitude_deg)), 1e-3)
    clear = 1098.0 * height * np.exp(-0.059 / height)
    through = 1.0 - 0.75 * np.clip(cloud_frac, 0.0, 1.0) ** 3.4
    return np.asarray(np.where(sun.is_up, clear * through, 0.0))
