"""Test conditions of published standards, as chambers.

The values were read in summaries, not in the standards: VERIFY AGAINST THE STANDARD before a
result is quoted as a test to it. What a summary does not state is set by us and marked.
"""

from dataclasses import dataclass

from restcab.errors import Problem, WeatherError, nearest
from restcab.weather.design_day import chamber
from restcab.weather.schema import Weather

VERIFY = "verify against the standard"
M_PER_S_PER_KM_PER_H = 1.0 / 3.6
WIND_MAX_M_PER_S = 8.0 * M_PER_S_PER_KM_PER_H
"""Upper limit of the air speed in the two SAE chamber tests (8 km/h)."""


@dataclass(frozen=True)
class Condition:
    """One named test condition.

    Parameters
    ----------
    title
        Standard and case.
    temp_air_c
        Air temperature [°C].
    rh_frac
        Relative humidity [-].
    irradiance_w_per_m2
        Sun on a horizontal plane [W/m²].
    wind_m_per_s
        Air speed [m/s].
    target
        What the cab has to hold, in words.
    source
        Where the values were read.
    assumed
        Which values the source does not state; design assumptions.
    """

    title: str
    temp_air_c: float
    rh_frac: float
    irradiance_w_per_m2: float
    wind_m_per_s: float
    target: str
    source: str
    assumed: str


_SUMMARY = "test laboratory's summary of the standard (read)"
_ARTICLE = "trade press article on the recommended practice (read)"

CONDITIONS = {
    "sae-j2918-cooling": Condition(
        "SAE J2918 (2022), engine-off cooling",
        temp_air_c=37.8,
        rh_frac=0.50,
        irradiance_w_per_m2=600.0,
        wind_m_per_s=WIND_MAX_M_PER_S,
        target="sleeper 10 h: each point up to 24.4 °C, mean 22.8 °C (+1.6/-2.8 K)",
        source=_SUMMARY,
        assumed="air speed at its upper limit; lamps straight overhead",
    ),
    "sae-j2918-heating": Condition(
        "SAE J2918 (2022), engine-off heating",
        temp_air_c=0.0,
        rh_frac=0.50,
        irradiance_w_per_m2=0.0,
        wind_m_per_s=WIND_MAX_M_PER_S,
        target="sleeper at least 20 °C",
        source=_SUMMARY,
        assumed="relative humidity; air speed as in the cooling test",
    ),
    "sae-j2646": Condition(
        "SAE J2646 (2022), cab air conditioning",
        temp_air_c=43.3,
        rh_frac=0.40,
        irradiance_w_per_m2=0.0,
        wind_m_per_s=WIND_MAX_M_PER_S,
        target="not read",
        source=_SUMMARY,
        assumed="no sun (the summary states none); air speed at its upper limit",
    ),
    "tmc-rp439-hot": Condition(
        "TMC RP 439, hot end",
        temp_air_c=48.9,
        rh_frac=0.20,
        irradiance_w_per_m2=0.0,
        wind_m_per_s=0.0,
        target="up to 25.6 °C (78 °F) for 10 h",
        source=_ARTICLE,
        assumed="relative humidity, no sun, still air",
    ),
    "tmc-rp439-cold": Condition(
        "TMC RP 439, cold end",
        temp_air_c=-23.3,
        rh_frac=0.50,
        irradiance_w_per_m2=0.0,
        wind_m_per_s=0.0,
        target="at least 20 °C (68 °F) for 10 h",
        source=_ARTICLE,
        assumed="relative humidity, still air",
    ),
}


def condition_weather(name: str, n_hour: int = 72) -> Weather:
    """Make the chamber of a named test condition.

    Parameters
    ----------
    name
        Key of `CONDITIONS`.
    n_hour
        Length [h].

    Returns
    -------
    Weather
        A chamber; its notes say what was assumed.

    Raises
    ------
    WeatherError
        There is no such condition.
    """
    if name not in CONDITIONS:
        raise WeatherError(
            Problem(
                name,
                "is not a known test condition",
                ", ".join(CONDITIONS),
                nearest(name, list(CONDITIONS)),
            )
        )
    condition = CONDITIONS[name]
    return chamber(
        name=condition.title,
        temp_air_c=condition.temp_air_c,
        rh_frac=condition.rh_frac,
        irradiance_w_per_m2=condition.irradiance_w_per_m2,
        wind_m_per_s=condition.wind_m_per_s,
        n_hour=n_hour,
        source=f"{condition.title}: {condition.source}; {VERIFY}",
        notes=(f"{condition.title}: {VERIFY}", f"assumed, not stated: {condition.assumed}"),
    )
