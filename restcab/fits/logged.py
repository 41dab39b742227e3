"""From a log of a cab to a night that the engine can follow."""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from restcab.engine.assemble import build_network
from restcab.errors import Problem, WeatherError
from restcab.fits.night import Night
from restcab.fits.parameters import DAMP_LOG_SD, SKY_SD_K, WIND_LOG_SD
from restcab.physics.air import dew_point_c, humidity_ratio_from_rh, pressure_at_elevation_pa
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.clearsky import DAILY_RANGE_FRAC
from restcab.physics.films import wind_at_height
from restcab.physics.refrigeration.fan import fan_power_frac
from restcab.physics.sky import sky_ir_w_per_m2
from restcab.season.declared_unit import declared_draws
from restcab.season.scene import forcing_of
from restcab.season.surroundings import TERRAIN, site_of
from restcab.spec.model import Spec
from restcab.spec.rest import NO_GROUND
from restcab.weather.cab_log import CabLog
from restcab.weather.estimated_sun import estimated_ghi_w_per_m2
from restcab.weather.position import split_ghi
from restcab.weather.schema import STATION_BOUNDS, TimeArray, Weather, make_weather

CLOUD_UNKNOWN_FRAC, WIND_UNKNOWN_M_PER_S = 0.6, 3.0
"""Taken where the log has no cloud and no wind: under this cloud the sun of a day is that of the
median day of seven typical years within 3 % (computed; their mean cloud, 0.47, gives 6 % more: the
sun falls steeply with the last of the cloud); the median wind of the nights of twelve typical years
of the stations is 3.0 m/s (computed)."""
CLOUD_LOGGED_SKY_SD_K = 3.0
WIND_LOGGED_SD = {"station": 0.15, "beside": 0.08}
"""Wind along the cab as a factor: from the nearest station, or read beside the truck: a cheap cup
anemometer states 5 %, and no place beside a truck is quite free (design assumption)."""
DEW_BELOW_K, DEW_MOST_C = 3.0, 16.0
"""Dew point taken where no humidity was logged: so far below the coldest air, and no higher; how
unsure it is, the parameter ``damp`` says (design assumption)."""
DAMP_LOGGED_SD = 0.06
SUN_SD = {"sensor": 0.03, "cloud": 0.22, "none": 0.40}
"""Strength of the sun as a factor: read by a sensor (design assumption), estimated from cloud, from
place and time alone. Over the days of seven typical years the estimate from cloud scatters by 0.16,
over their five last hours by 0.26; without cloud by 0.35 and 0.42 (computed): the spreads lie
between day and evening."""
NO_GROUND_MORE = 1.5
"""Warmth around a truck is unsure by so much more where the log is too short to follow the
ground."""
GROUND_FROM_H = 24.0
"""Shortest log whose own sun and air warm the ground [h]."""
DAY_H = 24
"""Hours before a log whose weather is estimated, for what they leave in the ground."""
DAILY_RANGE_K, DAILY_RANGE_SD_K, AIR_OFF_SD_K = 11.0, 4.0, 2.0
"""Range of the air in a day, how it scatters, and how far an hour lies off the usual course (from
memory: the range is 8 to 15 K over most of the land)."""
DIM_W_PER_M2 = 20.0
UNIT_ON_FRAC = 0.12
"""Draw above which the unit counts as running, as a share of its rated input."""
_SMOOTH_S = 1800.0
_TOGETHER = 0.5
"""Correlation of volts and amps from which they tell which way the amps are counted."""
_START_S = 1200.0
_HOUR = np.timedelta64(1, "h")
_HOUR_S = 3600.0


class Logged(NamedTuple):
    """A night as read, its weather, and what had to be assumed of it."""

    night: Night
    weather: Weather
    notes: tuple[str, ...]


def night_of(spec: Spec, log: CabLog, place: Mapping[str, float] | None = None) -> Logged:
    """Make a night of a log.

    Parameters
    ----------
    spec
        The truck as it stood.
    log
        From `restcab.weather.cab_log`.
    place
        Keys of the weather schema for what the log's header does not say.

    Raises
    ------
    WeatherError
        If the log cannot be used for this truck.
    """
    notes: list[str] = []
    station = _station(log, place, notes)
    weather = _weather(log, station, bool(station), notes)
    hours = len(log) * log.step_s / _HOUR_S
    spreads = _spreads(spec, log, bool(station), hours)
    if not station:
        albedo = site_of(spec, weather).albedo
        spec = spec.with_values("rest", ground=NO_GROUND, ground_albedo_frac=albedo)
    network = build_network(spec.cab, lot=site_of(spec, weather).lot)
    first = weather.label_local[0]
    begin = (log.time_local[0] - first).astype(np.int64) / _HOUR_S - log.step_s / _HOUR_S
    power_w = power_of(log)
    # While the bank is charged, its amps do not say what the unit draws.
    power_w = np.where(np.nan_to_num(power_w) < 0.0, np.nan, power_w)
    hotel_w = log.extra.get("hotel_w", spec.rest.hotel_load_w)
    unit_on = _unit_on(spec, power_w, hotel_w)
    runs = bool(unit_on.any())
    if not runs and "hotel_w" not in log.extra:
        hotel_w = 0.0
    people = log.extra.get("occupants", float(spec.rest.occupants_count) if runs else 0.0)
    if runs and "occupants" not in log.extra:
        notes.append(
            f"{log.name}: taken with {people:g} people in the bunk ('# occupants = 0' says none)"
        )
    bunk_c = log.columns["bunk"]
    start = bunk_c[: max(1, round(_START_S / log.step_s))]
    if not np.isfinite(start).any():
        start = bunk_c[np.isfinite(bunk_c)][:1]
    night = Night(
        log.name, spec, network, forcing_of(spec, weather, network), float(begin),
        float(log.step_s), smoothed(log.columns["outdoor"], log.step_s), float(np.nanmean(start)),
        _heater(log, notes), unit_on, bunk_c, power_w, people, hotel_w,
        _noon_h(weather), _sun_shape(log, weather), spreads,
    )  # fmt: skip
    return Logged(night, weather, tuple(notes))


def _station(log: CabLog, place: Mapping[str, float] | None, notes: list[str]) -> dict[str, float]:
    """Place of a log; empty if nobody says."""
    known = {**(place or {}), **log.station}
    if not {"latitude_deg", "longitude_deg"} <= known.keys():
        notes.append(
            f"{log.name}: the place is not known ('# latitude_deg', '# longitude_deg' in the "
            "header, or --weather): no sun, sea level"
        )
        return {}
    known.setdefault("elevation_m", 0.0)
    known.setdefault("utc_offset_h", float(round(known["longitude_deg"] / 15.0)))
    return {key: known[key] for key in STATION_BOUNDS}


def _weather(
    log: CabLog, station: Mapping[str, float], has_place: bool, notes: list[str]
) -> Weather:
    """Hourly weather of a log and of the day before: what was not read is estimated."""
    step = np.timedelta64(log.step_s, "s")
    first = (log.time_local[0] - step).astype("datetime64[h]") - DAY_H * _HOUR
    last = -((-log.time_local[-1].astype(np.int64)) // 3600)
    count = int(last - first.astype("datetime64[s]").astype(np.int64) // 3600) + 1
    labels = (first + np.arange(count + 1) * _HOUR).astype("datetime64[s]")

    def at_labels(name: str, otherwise: float | FloatArray) -> FloatArray:
        values = log.columns.get(name)
        if values is None or not np.isfinite(values).any():
            return np.broadcast_to(np.asarray(otherwise, dtype=float), labels.shape).copy()
        good = np.isfinite(values)
        own = np.interp(labels[DAY_H:].astype(np.int64), seconds[good], values[good])
        return with_day_before(own)

    outdoor = smoothed(log.columns["outdoor"], log.step_s)
    seconds = log.time_local.astype(np.int64).astype(float)
    own_c = np.interp(labels[DAY_H:].astype(np.int64), seconds, outdoor)
    clock_h = (labels - labels.astype("datetime64[D]")).astype(np.int64) // 3600
    air_c = with_day_before(own_c, -np.asarray(DAILY_RANGE_FRAC)[clock_h - 1])
    where = {**dict.fromkeys(STATION_BOUNDS, 0.0), **station}
    pressure = float(pressure_at_elevation_pa(where["elevation_m"]))
    dew_c = np.minimum(at_labels("dew", min(float(outdoor.min()) - DEW_BELOW_K, DEW_MOST_C)), air_c)
    if "humidity" in log.columns and "dew" not in log.columns:
        damp = np.clip(at_labels("humidity", 0.7), 0.02, 1.0)
        dew_c = np.minimum(dew_point_c(humidity_ratio_from_rh(air_c, damp, pressure), pressure),
                           air_c)  # fmt: skip
    cloud = np.clip(at_labels("cloud", CLOUD_UNKNOWN_FRAC), 0.0, 1.0)
    ghi = _sun(log, labels, station, cloud, has_place, notes)
    dni, dhi = (np.zeros_like(ghi), ghi)
    if has_place and ghi.any():
        dni, dhi = split_ghi(labels, station, ghi)
    columns = {
        "temp_air_c": air_c, "temp_dew_c": np.maximum(dew_c, -60.0),
        "pressure_pa": np.full(labels.shape, pressure),
        "wind_m_per_s": np.maximum(at_labels("wind", WIND_UNKNOWN_M_PER_S), 0.0)
        / _wind_over_station(log),
        "ghi_w_per_m2": ghi, "dni_w_per_m2": dni, "dhi_w_per_m2": np.minimum(dhi, 1000.0),
        "sky_ir_w_per_m2": sky_ir_w_per_m2(air_c, np.maximum(dew_c, -60.0), cloud),
        "cloud_frac": cloud,
    }  # fmt: skip
    return make_weather(log.where, log.name, f"log {log.name}", where, labels, columns)


def _wind_over_station(log: CabLog) -> float:
    """Wind as logged over that of a station, at 10 m [-]."""
    if "wind_height_m" not in log.extra or "wind" not in log.columns:
        return 1.0
    return float(wind_at_height(1.0, log.extra["wind_height_m"], TERRAIN))


def _sun(
    log: CabLog, labels: TimeArray, station: Mapping[str, float], cloud: FloatArray,
    has_place: bool, notes: list[str],
) -> FloatArray:  # fmt: skip
    """Sun on a horizontal face, means of the hours [W/m²]."""
    expected = np.zeros(len(labels))
    if has_place:
        expected = estimated_ghi_w_per_m2(labels, station, cloud)
    if "sun" not in log.columns:
        if expected[DAY_H:].max() > 5.0:
            how = "place, time and cloud" if "cloud" in log.columns else "place and time"
            notes.append(f"{log.name}: no sun in the log: estimated from {how}")
        return expected
    values = np.maximum(log.columns["sun"], 0.0)
    hour = -((-(log.time_local - labels[0]).astype(np.int64)) // 3600)
    good = np.isfinite(values)
    total = np.bincount(hour[good], weights=values[good], minlength=len(labels))
    number = np.bincount(hour[good], minlength=len(labels))
    if float(total.sum()) > 0.0 and not has_place:
        raise WeatherError(
            Problem(log.where, "has a sun but no place",
                    "'# latitude_deg', '# longitude_deg' in the header, or --weather")
        )  # fmt: skip
    read = np.divide(total, number, out=expected.copy(), where=number > 0)
    # The sun of an hour a day later tells more of the day before than cloud does.
    read[:DAY_H] = np.where(
        _a_day_later(number.astype(float)) > 0, _a_day_later(read), read[:DAY_H]
    )
    return np.asarray(read)


def _a_day_later(values: FloatArray) -> FloatArray:
    """Values of a series a day after each of its first hours; 0 beyond its end."""
    found = np.zeros(DAY_H)
    later = values[DAY_H : 2 * DAY_H]
    found[: len(later)] = later
    return found


def with_day_before(values: FloatArray, usual: FloatArray | None = None) -> FloatArray:
    """Hours of a log, and the day before as it may have been.

    What the pavement still gives off in a night it took up on the day before. That day is taken as
    the log's own: each hour as a day later, and a straight line where the log has no such hour; or
    a straight line and the usual course of a day, by as much as the log shows of it.

    Parameters
    ----------
    values
        At the hours of a log, shape (n,).
    usual
        Usual course at all hours, of a range of 1, shape (`DAY_H` + n,).

    Returns
    -------
    FloatArray
        Shape (`DAY_H` + n,).
    """
    known = min(len(values), DAY_H)
    course = np.zeros(DAY_H + len(values))
    if usual is not None:
        course = _range_k(values[:known], usual[DAY_H : DAY_H + known]) * usual
    own = values - course[DAY_H:]
    at = np.append(np.arange(known), DAY_H)
    before = np.interp(np.arange(DAY_H), at, np.append(own[:known], own[0]))
    return np.concatenate([before + course[:DAY_H], values])


def _range_k(air_c: FloatArray, usual: FloatArray) -> float:
    """Range of the air in a day, by some of its hours and what is known of days [K]."""
    moved = usual - usual.mean()
    known = (AIR_OFF_SD_K / DAILY_RANGE_SD_K) ** 2
    found = (moved @ air_c + known * DAILY_RANGE_K) / (moved @ moved + known)
    return max(float(found), 0.0)


def _noon_h(weather: Weather) -> float:
    """Noon on the hour axis of a weather [h]."""
    first = weather.label_local[0]
    midnight = first.astype("datetime64[D]").astype("datetime64[s]")
    return 12.0 - float((first - midnight).astype(np.int64)) / _HOUR_S


def _sun_shape(log: CabLog, weather: Weather) -> FloatArray | None:
    """Sun of each step over the sun between the hours; None without a sensor."""
    if "sun" not in log.columns:
        return None
    half_hour = 1800.0
    labels = weather.label_local.astype(np.int64).astype(float)
    seconds = log.time_local.astype(np.int64).astype(float)
    # A mean of the hour stands half an hour before its label, one of a step half a step.
    between = np.interp(seconds - 0.5 * log.step_s + half_hour, labels,
                        weather.values("ghi_w_per_m2"))  # fmt: skip
    own = np.maximum(np.nan_to_num(log.columns["sun"], nan=-1.0), -1.0)
    known = (between > DIM_W_PER_M2) & (own >= 0.0)
    ratio = np.divide(own, between, out=np.ones_like(own), where=known)
    return np.asarray(np.clip(ratio, 0.0, 3.0))


def _spreads(spec: Spec, log: CabLog, has_place: bool, hours: float) -> dict[str, float]:
    """How unsure the night's own circumstances are, by what was logged."""
    sun = "sensor" if "sun" in log.columns else "cloud" if "cloud" in log.columns else "none"
    where = "beside" if "wind_height_m" in log.extra else "station"
    more = 1.0 if hours >= GROUND_FROM_H and "sun" in log.columns else NO_GROUND_MORE
    ground = 1.0 if spec.rest.ground == NO_GROUND else more
    return {
        "sky": CLOUD_LOGGED_SKY_SD_K if "cloud" in log.columns else SKY_SD_K,
        "wind": WIND_LOGGED_SD[where] if "wind" in log.columns else WIND_LOG_SD,
        "damp": DAMP_LOGGED_SD if {"dew", "humidity"} & log.columns.keys() else DAMP_LOG_SD,
        "sunshine": SUN_SD[sun] if has_place else 0.0,
        "surroundings": ground * spec.claim.surroundings_spread_k,
    }


def power_of(log: CabLog) -> FloatArray:
    """Power drawn from the bank [W], discharge positive; NaN where it was not read.

    A shunt may count either way. Where the volts move, they fall with the draw; else a bank gives
    more than it takes in a rest.
    """
    blank = np.full(len(log), np.nan)
    power = log.columns.get("power", blank)
    if {"volts", "amps"} <= log.columns.keys():
        volts, amps = log.columns["volts"], log.columns["amps"]
        power = volts * amps
        both = np.isfinite(power)
        if both.sum() > 2 and np.ptp(volts[both]) > 0.0 and np.ptp(amps[both]) > 0.0:
            together = float(np.corrcoef(volts[both], amps[both])[0, 1])
            if abs(together) > _TOGETHER:
                return np.asarray(-power if together > 0.0 else power)
    known = power[np.isfinite(power)]
    return np.asarray(-power if known.size and float(known.mean()) < 0.0 else power)


def _unit_on(spec: Spec, power_w: FloatArray, hotel_w: float) -> BoolArray:
    """From the first time that the unit runs until it is switched off; its thermostat decides.

    A unit that has little left to do draws no more than its fan and controls for hours, and still
    holds the bunk: it is on as long as it draws half of that.
    """
    with np.errstate(invalid="ignore"):
        runs = np.flatnonzero(power_w > UNIT_ON_FRAC * spec.cooling.power_w + hotel_w)
    on = np.zeros(len(power_w), dtype=np.bool_)
    if runs.size < 2:
        return on
    off_w = spec.cooling.standby_power_w
    idle_w = hotel_w + off_w + 0.5 * max(_idle_w(spec) - off_w, 0.0)
    with np.errstate(invalid="ignore"):
        off = power_w[runs[-1] + 1 :] <= idle_w
    # One low reading is a glitch, two are a switch.
    ends = np.flatnonzero(off[:-1] & off[1:]) if off.size > 1 else np.zeros(0, dtype=int)
    last = int(ends[0]) if ends.size else off.size
    on[runs[0] : runs[-1] + 1 + last] = True
    return on


def _idle_w(spec: Spec) -> float:
    """Draw of a unit that is switched on and has nothing to do [W]."""
    draws = declared_draws(spec.cooling)
    return draws.controls_w + spec.cooling.fan_power_w * float(fan_power_frac(draws.fan_idle_frac))


def _heater(log: CabLog, notes: list[str]) -> FloatArray:
    """Heat of a fan heater in each step [W]."""
    if "heater" in log.columns:
        values = log.columns["heater"]
        missing = int(np.isnan(values).sum())
        if missing:
            notes.append(f"{log.name}: heater: {missing} steps without a reading hold the last")
        known = np.flatnonzero(np.isfinite(values))
        if not known.size:
            return np.zeros(len(log))
        at = np.clip(np.searchsorted(known, np.arange(len(log)), side="right") - 1, 0, None)
        return np.asarray(values[known[at]])
    return np.full(len(log), log.extra.get("heater_w", 0.0))


def smoothed(values: FloatArray, step_s: float) -> FloatArray:
    """Running mean over half an hour: what a sensor's noise adds, a cab does not feel."""
    import numpy.lib.stride_tricks as tricks

    width = max(1, int(_SMOOTH_S / step_s) // 2 * 2 + 1)
    padded = np.pad(values, width // 2, mode="reflect", reflect_type="odd")
    return np.asarray(tricks.sliding_window_view(padded, width).mean(axis=1))
