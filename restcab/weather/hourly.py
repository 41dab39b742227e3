"""Weather as plain arrays for the engine, which knows no pandas."""

from dataclasses import dataclass

from restcab.physics.air import humidity_ratio_from_dew_point
from restcab.physics.arrays import FloatArray
from restcab.physics.sky import temp_sky_c
from restcab.weather.schema import TimeArray, Weather


@dataclass(frozen=True, eq=False)
class HourlyTable:
    """Hourly outdoor state, arrays of shape (n_hour,).

    Parameters
    ----------
    time_local
        Ends of the hours in local standard time, `datetime64[s]`.
    temp_air_c
        Dry-bulb temperature at the label [°C].
    humidity_ratio
        Humidity ratio at the label [kg/kg dry air].
    pressure_pa
        Air pressure at the label [Pa].
    wind_m_per_s
        Wind at 10 m height at the label [m/s].
    temp_sky_c
        Temperature of a black sky with the same infrared [°C]; air temperature in a chamber.
    """

    time_local: TimeArray
    temp_air_c: FloatArray
    humidity_ratio: FloatArray
    pressure_pa: FloatArray
    wind_m_per_s: FloatArray
    temp_sky_c: FloatArray

    def __len__(self) -> int:
        return len(self.time_local)


def hourly_table(weather: Weather) -> HourlyTable:
    """Convert a weather to plain arrays.

    Parameters
    ----------
    weather
        Hourly weather.

    Returns
    -------
    HourlyTable
        Arrays of shape (n_hour,).
    """
    temp_air = weather.values("temp_air_c")
    pressure = weather.values("pressure_pa")
    sky = temp_air if weather.is_chamber else temp_sky_c(weather.values("sky_ir_w_per_m2"))
    return HourlyTable(
        time_local=weather.label_local,
        temp_air_c=temp_air,
        humidity_ratio=humidity_ratio_from_dew_point(weather.values("temp_dew_c"), pressure),
        pressure_pa=pressure,
        wind_m_per_s=weather.values("wind_m_per_s"),
        temp_sky_c=sky,
    )
