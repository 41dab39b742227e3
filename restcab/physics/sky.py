"""Long-wave sky: emissivity, sky temperature, what a tilted face sees.

References
----------
.. [1] Clark, G. and Allen, C. (1978), "The estimation of atmospheric radiation for clear and
   cloudy skies", Proc. 2nd National Passive Solar Conference, 675-678 (from memory).
.. [2] Walton, G. N. (1983), "Thermal Analysis Research Program Reference Manual",
   NBSIR 83-2655: cloud correction, and the split of the sky view into sky and air (read, in the
   engineering reference of a public whole-building engine; coefficients from memory).
"""

from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike
from restcab.physics.films import STEFAN_BOLTZMANN
from restcab.units import KELVIN_OFFSET


def emissivity_clear_clark_allen(temp_dew_c: FloatLike) -> FloatArray:
    """Emissivity of a clear sky from the dew point, after Clark and Allen [1].

    Parameters
    ----------
    temp_dew_c
        Dew point of the air near the ground [°C], -40 to 30.

    Returns
    -------
    FloatArray
        Emissivity of the sky dome relative to a black body at air temperature [-].
    """
    # 273 and not 273.15, as published.
    temp_dew_k = np.asarray(temp_dew_c, dtype=np.float64) + KELVIN_OFFSET
    return np.asarray(0.787 + 0.764 * np.log(temp_dew_k / 273.0))


def cloud_factor(cloud_frac: FloatLike) -> FloatArray:
    """Ratio of cloudy to clear sky emissivity, after Walton [2].

    Parameters
    ----------
    cloud_frac
        Share of the sky dome under opaque cloud [-], 0 to 1.

    Returns
    -------
    FloatArray
        Factor on the clear-sky emissivity [-], 1 (clear) to 1.154 (overcast).
    """
    tenths = 10.0 * np.asarray(cloud_frac, dtype=np.float64)
    return np.asarray(1.0 + tenths * (0.0224 + tenths * (-0.0035 + tenths * 0.00028)))


def sky_ir_w_per_m2(
    temp_air_c: FloatLike, temp_dew_c: FloatLike, cloud_frac: FloatLike
) -> FloatArray:
    """Infrared from the whole sky on a horizontal face, where it is not measured [1] [2].

    Parameters
    ----------
    temp_air_c
        Air temperature near the ground [°C].
    temp_dew_c
        Dew point near the ground [°C].
    cloud_frac
        Share of the sky dome under opaque cloud [-], 0 to 1.

    Returns
    -------
    FloatArray
        Horizontal infrared irradiance [W/m²].
    """
    emissivity = emissivity_clear_clark_allen(temp_dew_c) * cloud_factor(cloud_frac)
    # Hot, humid, overcast air would come out above a black body at air temperature.
    return np.minimum(emissivity, 1.0) * black_body_w_per_m2(temp_air_c)


def black_body_w_per_m2(temp_c: FloatLike) -> FloatArray:
    """Hemispherical emission of a black body [W/m²] at a temperature [°C]."""
    temp_k = np.asarray(temp_c, dtype=np.float64) + KELVIN_OFFSET
    return np.asarray(STEFAN_BOLTZMANN * temp_k**4)


def temp_sky_c(sky_ir_w_per_m2: FloatLike) -> FloatArray:
    """Temperature of a black sky that sends the given infrared.

    Parameters
    ----------
    sky_ir_w_per_m2
        Horizontal infrared irradiance from the sky [W/m²], above 0.

    Returns
    -------
    FloatArray
        Effective sky temperature [°C].
    """
    ir = np.asarray(sky_ir_w_per_m2, dtype=np.float64)
    return np.asarray((ir / STEFAN_BOLTZMANN) ** 0.25 - KELVIN_OFFSET)


class LongWaveView(NamedTuple):
    """Shares of what a face sees in the long wave [-]; they add up to 1."""

    sky_frac: FloatArray
    air_frac: FloatArray
    ground_frac: FloatArray


def long_wave_view(tilt_deg: FloatLike) -> LongWaveView:
    """Split the half-space before a tilted face into cold sky, air near the horizon and ground.

    Parameters
    ----------
    tilt_deg
        Tilt of the outward normal from the zenith [deg]: 0 faces up, 90 vertical, 180 down.

    Returns
    -------
    LongWaveView
        Shares [-]: the dome is ½(1 + cos tilt), of which the share √dome is sky and the rest air
        at air temperature [2].
    """
    dome_frac = 0.5 * (1.0 + np.cos(np.radians(np.asarray(tilt_deg, dtype=np.float64))))
    sky_share = np.sqrt(dome_frac)
    return LongWaveView(dome_frac * sky_share, dome_frac * (1.0 - sky_share), 1.0 - dome_frac)
