"""Read a year with a critical eye: the sun, the clock and the air must be those of the place.

A file can keep every value within its range and still be wrong: a sun labelled an hour off, watts
written as kilowatts, an offset from UTC with the wrong sign, degrees Fahrenheit. Each test here
compares a column with what the place and the date alone allow. What can be mended without doubt is
mended and noted; all else is refused. Limits are design assumptions, wide enough for every place
where trucks go; beside each stands what it was held against.
"""

from collections.abc import Mapping

import numpy as np

from restcab.errors import Problem, WeatherError
from restcab.physics.arrays import FloatArray, IntArray
from restcab.weather.position import day_of_year_of
from restcab.weather.schema import TimeArray
from restcab.weather.sunlit import outside_hours

SHIFT_NOTED_H = 0.3
"""A sun found less than this beside its hour is left alone: clear days tell it to a tenth of an
hour, and cloudy afternoons move it by another tenth."""
SHIFT_SURE_H = 0.6
"""A month so far off is believed without its neighbours; clouds have made 0.4 h in a month of Sand
Point, Alaska (computed)."""
SHIFT_MENDED_MAX_H = 1.5
"""A sun farther off is refused: a slip of label or daylight-saving time is an hour."""
SHIFT_SPREAD_MAX_H = 0.75
"""Months may differ by this from a course that a clock could have: one level, or two."""
CLEAR_DAYS_MIN = 5
CLEAR_KT_MIN, CLEAR_KT_SHARE = 0.45, 0.85
"""A day counts as clear with this daily clearness and this share of the month's clearest."""
DARK_SHARE_MAX = 0.02
"""Share of the sun in hours in which it is below the horizon; real years have less than 0.0001."""
KT_TOP_MIN, KT_TOP_MAX = 0.30, 0.90
"""Clearness of the clearest tenth of the days. Real years have 0.6 to 0.8."""
SUN_DAYS_MIN = 3
OFFSET_MAX_H = 3.5
"""Standard time against the sun: legal zones differ by up to 3 h (western China, from memory)."""
TEMP_EQUATOR_C, TEMP_PER_DEG2_K, TEMP_PER_M_K = 28.0, 0.0072, 0.0065
"""Mean of the year at sea level, falling with the square of the latitude, and its fall with height
(rough course through well known stations, from memory)."""
TEMP_SEASON_K_PER_DEG = 0.25
TEMP_ABOVE_MAX_K, TEMP_BELOW_MAX_K = 20.0, 28.0
"""Room for a month's mean above and below that course: Death Valley in July lies 11 K above it,
San Francisco 10 K below, Verkhoyansk in January 23 K below (from memory)."""
SEASON_LATITUDE_MIN_DEG = 25.0
_HOURS = 24
_N_MONTH = 12


def examine(
    where: str,
    station: Mapping[str, float],
    labels: TimeArray,
    columns: Mapping[str, FloatArray],
) -> tuple[dict[str, FloatArray], tuple[str, ...]]:
    """Hold a weather against its place; mend a mislabelled sun.

    Parameters
    ----------
    where
        File, for messages.
    station
        Keys of the schema: latitude, longitude, elevation, offset from UTC.
    labels
        Ends of the hours in local standard time, hourly, shape (n_hour,).
    columns
        All columns of the schema, shape (n_hour,).

    Returns
    -------
    dict, tuple of str
        The columns, with the sun at its right hours, and a note for each thing mended.

    Raises
    ------
    WeatherError
        Something cannot be the weather of that place, and what was meant is in doubt.
    """
    problems = [
        *temperature_problems(where, station, labels, columns["temp_air_c"]),
        *offset_problems(where, station),
    ]
    outside, _ = outside_w_per_m2(station, labels)
    ghi = columns["ghi_w_per_m2"]
    if not problems:
        problems = sun_problems(where, labels, ghi, outside)
    if problems:
        raise WeatherError(problems)
    late_h = steady(sun_late_h(labels, ghi, outside))
    if not np.any(np.abs(late_h) > SHIFT_NOTED_H):
        return dict(columns), ()
    _refuse_unclear_shift(where, late_h)
    middle = float(np.nanmedian(late_h))
    by_month = np.where(np.isfinite(late_h), late_h, middle)
    by_month = np.where(np.abs(by_month) > SHIFT_NOTED_H, by_month, 0.0)
    months = ", ".join(f"{one + 1}: {by_month[one]:+.1f}" for one in np.flatnonzero(by_month))
    note = (
        f"{where}: on clear days the sun stands up to {np.abs(by_month).max():.1f} h beside that "
        f"of the place; moved to it, month by month (hours late: {months})"
    )
    return move_sun(station, labels, columns, by_month), (note,)


def _month_of(labels: TimeArray) -> IntArray:
    """Month of each hour, 0 to 11, by its beginning."""
    start = labels.astype("datetime64[s]") - np.timedelta64(3600, "s")
    return np.asarray(start.astype("datetime64[M]").astype(np.int64) % _N_MONTH)


def outside_w_per_m2(
    station: Mapping[str, float], labels: TimeArray, late_h: FloatArray | float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Sun outside the atmosphere [W/m²] and cosine of its zenith [-], shape (n_hour,) each."""
    start = labels.astype("datetime64[s]") - np.timedelta64(3600, "s")
    midnight = start.astype("datetime64[D]").astype("datetime64[s]")
    mid_hour = (start - midnight).astype(np.float64) / 3600.0 + 0.5
    return outside_hours(
        day_of_year_of(np.asarray(start)).astype(np.float64),
        mid_hour,
        station["latitude_deg"],
        station["longitude_deg"],
        station["utc_offset_h"],
        late_h,
    )


def sun_late_h(labels: TimeArray, ghi_w_per_m2: FloatArray, outside: FloatArray) -> FloatArray:
    """How much later than the sun the irradiance of each month runs [h], shape (12,).

    From the clear days of the month: the phase of the day's first harmonic against that of the sun
    outside the atmosphere. NaN for a month with too few clear days.

    Parameters
    ----------
    labels
        As in `examine`.
    ghi_w_per_m2, outside
        Sun on a horizontal face, means of the hours, and the same outside the atmosphere (from
        `outside_w_per_m2`) [W/m²], shape (n_hour,).
    """
    first, n_day = _whole_days(labels)
    late = np.full(_N_MONTH, np.nan)
    if n_day == 0:
        return late
    days = slice(first, first + n_day * _HOURS)
    ghi, out = (x[days].reshape(n_day, _HOURS) for x in (ghi_w_per_m2, outside))
    month = _month_of(labels)[days].reshape(n_day, _HOURS)[:, 0]
    turn = np.exp(2j * np.pi * (np.arange(_HOURS) + 0.5) / _HOURS)
    total = out.sum(axis=1)
    kt = np.divide(ghi.sum(axis=1), total, out=np.zeros(n_day), where=total > 0.0)
    for one in range(_N_MONTH):
        of_month = month == one
        if not of_month.any():
            continue
        clear = of_month & (kt >= max(CLEAR_KT_MIN, CLEAR_KT_SHARE * kt[of_month].max()))
        if clear.sum() >= CLEAR_DAYS_MIN:
            ours, theirs = ((x[clear].sum(axis=0) * turn).sum() for x in (ghi, out))
            late[one] = float(np.angle(ours * np.conj(theirs))) * _HOURS / (2.0 * np.pi)
    return late


def steady(late_h: FloatArray) -> FloatArray:
    """Median of each month and its neighbours: one month alone may be cloudy in the mornings.

    A shift too large for that stands, even of one month: typical years are joined from several.

    Parameters
    ----------
    late_h
        From `sun_late_h`, shape (12,), NaN where unknown; it stays unknown only where the
        neighbours are, too.
    """
    three = np.stack([np.roll(late_h, step) for step in (-1, 0, 1)])
    found = np.full(_N_MONTH, np.nan)
    known = np.isfinite(three).any(axis=0)
    found[known] = np.nanmedian(three[:, known], axis=0)
    return np.where(np.abs(late_h) > SHIFT_SURE_H, late_h, found)


def _whole_days(labels: TimeArray) -> tuple[int, int]:
    """First row of the first whole day, and number of whole days, of hourly labels."""
    hour_of_end = (labels.astype("datetime64[h]").astype(np.int64)) % _HOURS
    starts = np.flatnonzero(hour_of_end == 1)
    if not len(starts):
        return 0, 0
    first = int(starts[0])
    return first, (len(labels) - first) // _HOURS


def _refuse_unclear_shift(where: str, late_h: FloatArray) -> None:
    """Refuse a sun whose shift no clock explains."""
    known = late_h[np.isfinite(late_h)]
    worst = float(known[np.argmax(np.abs(known))])
    # One level, or two: daylight-saving time, or a month from another source.
    beside = np.minimum(np.abs(known - known.min()), np.abs(known - known.max()))
    if abs(worst) > SHIFT_MENDED_MAX_H or beside.max() > SHIFT_SPREAD_MAX_H:
        raise WeatherError(
            Problem(
                where,
                f"the sun of clear days stands {abs(worst):.1f} h too "
                f"{'late' if worst > 0.0 else 'early'}",
                f"within {SHIFT_MENDED_MAX_H:g} h of the sun of the place, steady over the months; "
                "check longitude, offset from UTC and the label of the hour",
            )
        )


def move_sun(
    station: Mapping[str, float],
    labels: TimeArray,
    columns: Mapping[str, FloatArray],
    late_h: FloatArray,
) -> dict[str, FloatArray]:
    """Move the sun of each month to its hours.

    The clearness of the hours is what moves: irradiance itself, moved by half an hour, would leave
    too much of it at sunrise and sunset. The monthly sums of global and diffuse are kept.

    Parameters
    ----------
    station, labels, columns
        As in `examine`; of the columns those of the sun are needed.
    late_h
        How late the sun of each month runs [h], shape (12,); 0 leaves a month alone.

    Returns
    -------
    dict
        All columns, global being beam plus diffuse in the moved months.
    """
    late = late_h[_month_of(labels)]
    as_labelled, _ = outside_w_per_m2(station, labels, late)
    outside, cos_zenith = outside_w_per_m2(station, labels)
    full = dict(columns)
    is_moved = late != 0.0
    rows = np.arange(len(labels), dtype=np.float64)
    for name in ("ghi_w_per_m2", "dhi_w_per_m2"):
        bright = as_labelled > 1.0
        ratio = np.divide(columns[name], as_labelled, out=np.zeros_like(outside), where=bright)
        moved = np.interp(rows + late, rows[bright], ratio[bright]) * outside
        # The energy of the sun stays what it was, month by month.
        scale = _month_sums(labels, columns[name]) / np.maximum(_month_sums(labels, moved), 1e-9)
        full[name] = np.where(is_moved, moved * scale[_month_of(labels)], columns[name])
    full["dhi_w_per_m2"] = np.minimum(full["dhi_w_per_m2"], full["ghi_w_per_m2"])
    beam = np.divide(
        full["ghi_w_per_m2"] - full["dhi_w_per_m2"],
        cos_zenith,
        out=np.zeros_like(outside),
        where=cos_zenith > 0.0,
    )
    dni_max = columns["dni_w_per_m2"].max()
    dni = np.minimum(beam, dni_max)
    full["dni_w_per_m2"] = np.where(is_moved, dni, columns["dni_w_per_m2"])
    full["dhi_w_per_m2"] = np.where(
        is_moved,
        np.maximum(full["ghi_w_per_m2"] - dni * cos_zenith, 0.0),
        columns["dhi_w_per_m2"],
    )
    return full


def _month_sums(labels: TimeArray, values: FloatArray) -> FloatArray:
    return np.bincount(_month_of(labels), weights=values, minlength=_N_MONTH).astype(np.float64)


def sun_problems(
    where: str, labels: TimeArray, ghi_w_per_m2: FloatArray, outside: FloatArray
) -> list[Problem]:
    """What speaks against a sun: none at all, one at night, or one too weak or too strong.

    Parameters
    ----------
    where, labels
        As in `examine`.
    ghi_w_per_m2, outside
        As in `sun_late_h`.
    """
    first, n_day = _whole_days(labels)
    if n_day < SUN_DAYS_MIN or outside.sum() <= 0.0:
        return _beyond_outside(where, ghi_w_per_m2, outside)
    total = float(ghi_w_per_m2.sum())
    if total <= 0.0:
        what = f"there is no sun at all in {n_day} days"
        return [Problem(where, what, "sun on a horizontal face in W/m²")]
    days = slice(first, first + n_day * _HOURS)
    daily, lit = (x[days].reshape(n_day, _HOURS).sum(axis=1) for x in (ghi_w_per_m2, outside))
    bright = lit > 0.25 * lit.max()
    top = float(np.quantile(daily[bright] / lit[bright], 0.9))
    if not KT_TOP_MIN <= top <= KT_TOP_MAX:
        # Short logs may be of one dull spell.
        if top > KT_TOP_MAX or n_day >= 28 or top < 0.01:
            return [
                Problem(
                    where,
                    f"on the clearest days {100.0 * top:.3g} % of the sun outside the atmosphere "
                    "reaches the ground",
                    f"{100 * KT_TOP_MIN:.0f} to {100 * KT_TOP_MAX:.0f} %; check that the sun is in "
                    "W/m² as a mean of the hour, and the latitude",
                )
            ]
        return []
    dark = float(ghi_w_per_m2[outside <= 0.0].sum()) / total
    if dark > DARK_SHARE_MAX:
        hint = ""
        late = sun_late_h(labels, ghi_w_per_m2, outside)
        if np.isfinite(late).any():
            # Twelve hours early and late are the same: take the size of the shift.
            hint = f"; it runs some {np.nanmedian(np.abs(late)):.0f} h beside the sun of the place"
            if np.nanmedian(np.abs(late)) <= SHIFT_MENDED_MAX_H:
                return []
        return [
            Problem(
                where,
                f"{100.0 * dark:.0f} % of the sun shines with the sun below the horizon{hint}",
                f"at most {100 * DARK_SHARE_MAX:.0f} %; check longitude, offset from UTC, and that "
                "times are the ends of the hours in standard time",
            )
        ]
    return []


def _beyond_outside(where: str, ghi_w_per_m2: FloatArray, outside: FloatArray) -> list[Problem]:
    """Refuse more sun than there is outside the atmosphere, in a weather too short for more."""
    # A clock that is off may show some of the hours before or after as well, once a day.
    days = np.ceil(len(ghi_w_per_m2) / _HOURS)
    slip_wh = SHIFT_MENDED_MAX_H * days * float(ghi_w_per_m2.max())
    total, there = float(ghi_w_per_m2.sum()), float(outside.sum())
    if total <= there + slip_wh:
        return []
    return [
        Problem(
            where,
            f"{total:,.0f} Wh/m² of sun in {len(ghi_w_per_m2)} h",
            f"at most what there is outside the atmosphere, {there:,.0f} Wh/m²; check latitude, "
            "date, offset from UTC, and that the sun is in W/m²",
        )
    ]


def offset_problems(where: str, station: Mapping[str, float]) -> list[Problem]:
    """What speaks against the offset from UTC: more than legal time differs from the longitude."""
    beside_h = station["utc_offset_h"] - station["longitude_deg"] / 15.0
    beside_h = (beside_h + 12.0) % 24.0 - 12.0
    if abs(beside_h) <= OFFSET_MAX_H:
        return []
    return [
        Problem(
            f"{where}: utc_offset_h",
            f"{station['utc_offset_h']:+g} h at longitude {station['longitude_deg']:g} deg",
            f"about {station['longitude_deg'] / 15.0:+.0f} h, the standard time of the place; east "
            "is positive for both",
        )
    ]


def expected_temp_c(
    latitude_deg: float, elevation_m: float, month: IntArray | FloatArray
) -> FloatArray:
    """Rough mean temperature of a place in a month (0 to 11) [°C], by latitude and height alone."""
    year_c = TEMP_EQUATOR_C - TEMP_PER_DEG2_K * latitude_deg**2 - TEMP_PER_M_K * elevation_m
    season = -np.cos(2.0 * np.pi * (np.asarray(month, dtype=np.float64) - 0.3) / _N_MONTH)
    return np.asarray(year_c + TEMP_SEASON_K_PER_DEG * latitude_deg * season)


def temperature_problems(
    where: str, station: Mapping[str, float], labels: TimeArray, temp_air_c: FloatArray
) -> list[Problem]:
    """What speaks against the temperatures: a month far too warm or cold, or winter in July.

    Parameters
    ----------
    where, station, labels
        As in `examine`.
    temp_air_c
        Dry bulb [°C], shape (n_hour,).
    """
    month = _month_of(labels)
    count = np.bincount(month, minlength=_N_MONTH)
    known = np.flatnonzero(count >= 7 * _HOURS)
    if not len(known):
        return []
    mean_c = (np.bincount(month, weights=temp_air_c, minlength=_N_MONTH) / np.maximum(count, 1))[
        known
    ]
    latitude_deg, elevation_m = station["latitude_deg"], station["elevation_m"]
    off_k = mean_c - expected_temp_c(latitude_deg, elevation_m, known)
    allowed = "degrees Celsius at the latitude of the place; check unit and sign of both"
    wild = np.flatnonzero((off_k > TEMP_ABOVE_MAX_K) | (off_k < -TEMP_BELOW_MAX_K))
    if len(wild):
        worst = int(wild[np.argmax(np.abs(off_k[wild]))])
        what = (
            f"month {known[worst] + 1} has a mean of {mean_c[worst]:.0f} °C at latitude "
            f"{latitude_deg:.0f}, {abs(off_k[worst]):.0f} K "
            f"{'above' if off_k[worst] > 0.0 else 'below'} what such places have"
        )
        return [Problem(where, what, allowed)]
    if len(known) == _N_MONTH and abs(latitude_deg) >= SEASON_LATITUDE_MIN_DEG:
        summer = mean_c[[5, 6, 7]].mean() - mean_c[[11, 0, 1]].mean()
        if summer * np.sign(latitude_deg) <= 0.0:
            what = f"June to August is {abs(summer):.0f} K "
            what += f"{'warmer' if summer > 0.0 else 'colder'} than December to February"
            return [Problem(where, f"{what} at latitude {latitude_deg:.0f}", allowed)]
    return []
