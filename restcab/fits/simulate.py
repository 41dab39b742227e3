"""Logs that never were: the engine runs a truck through a test, a cheap logger reads along.

The tests of the fit, the plan of a test and the invented logs of the examples all come from here.
The simulated truck goes through its own days before (sun, pavement, a fine step), of which a fit
knows nothing; the readings have noise, an offset, gaps and stuck sensors if that is asked.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from restcab.engine.still import uniform
from restcab.fits.course import Course, follow
from restcab.fits.night import Night
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.season.scene import Scene

LEAD_IN_H = 48.0
"""Time the simulated truck stands parked before its log begins [h]."""
_BANK_V = 12.6
"""Voltage at which the bank of such a log gives its power [V]."""
LEAD_IN_STEP_S, STEP_S = 900.0, 60.0


@dataclass(frozen=True)
class Schedule:
    """What is done in a test; spans in hours after its begin, pairs of from and to.

    Parameters
    ----------
    hours
        Length of the log [h].
    heater_w
        Heat of the fan heater while it is on [W].
    heated_h
        When it is on.
    cooled_h
        When the cooling unit is switched on.
    occupants, hotel_w
        People in the bunk, and what the bank feeds besides the unit [W].
    """

    hours: float
    heater_w: float = 0.0
    heated_h: tuple[tuple[float, float], ...] = ()
    cooled_h: tuple[tuple[float, float], ...] = ()
    occupants: float = 0.0
    hotel_w: float = 0.0


@dataclass(frozen=True)
class Logger:
    """A cheap logger.

    Parameters
    ----------
    step_s
        Time between its rows [s].
    noise_k
        Standard deviation of a temperature reading [K].
    offset_k
        What the bunk's sensor reads too much [K].
    noise_w_frac
        Standard deviation of a reading of power, as a share.
    gain_w_frac
        What the shunt reads too much, as a share.
    """

    step_s: float = 300.0
    noise_k: float = 0.3
    offset_k: float = 0.2
    noise_w_frac: float = 0.02
    gain_w_frac: float = 0.0


def simulated_night(
    scene: Scene, start_h: float, schedule: Schedule, step_s: float = STEP_S
) -> Night:
    """A night of a scene, nothing read yet.

    Parameters
    ----------
    scene
        The truck under a weather.
    start_h
        Begin on the weather's hour axis [h].
    schedule
        What is done.
    step_s
        Time step [s].
    """
    count = round(schedule.hours * 3600.0 / step_s)
    ends_h = np.arange(1.0, count + 1.0) * step_s / 3600.0
    middle_h = ends_h - 0.5 * step_s / 3600.0
    blank = np.full(count, np.nan)
    return Night(
        name="simulated", spec=scene.spec, network=scene.network, forcing=scene.forcing,
        begin_h=start_h, step_s=step_s, temp_out_c=scene.temp_out_at_c(start_h + ends_h),
        start_c=float(scene.temp_out_at_c(start_h)),
        heater_w=np.where(_within(middle_h, schedule.heated_h), schedule.heater_w, 0.0),
        unit_on=_within(middle_h, schedule.cooled_h), bunk_c=blank, power_w=blank,
        occupants=schedule.occupants, hotel_w=schedule.hotel_w,
        noon_h=11.0 if scene.forcing.cyclic else 12.0,
    )  # fmt: skip


def _within(time_h: FloatArray, spans_h: tuple[tuple[float, float], ...]) -> BoolArray:
    inside = np.zeros(len(time_h), dtype=np.bool_)
    for begin_h, end_h in spans_h:
        inside |= (time_h > begin_h) & (time_h < end_h)
    return inside


def true_course(night: Night, values: Mapping[str, FloatArray]) -> Course:
    """The course of simulated trucks, each parked for two days before.

    Parameters
    ----------
    night
        From `simulated_night`.
    values
        The true parameters, each of shape (n_case,).
    """
    parked = Schedule(LEAD_IN_H)
    before = simulated_before(night, parked)
    network, _ = before.sorted
    cold = np.full(len(values["shell"]), float(before.temp_out_c[0]))
    humidity = float(before.moments.humidity_ratio_out[0])
    state = uniform(network, cold, humidity)
    follow(before, values, state)
    return follow(night, values, state)


def simulated_before(night: Night, parked: Schedule) -> Night:
    """The time before a simulated night, in which the truck stands parked with nothing on."""
    count = round(parked.hours * 3600.0 / LEAD_IN_STEP_S)
    begin_h = night.begin_h - parked.hours
    ends_h = begin_h + np.arange(1.0, count + 1.0) * LEAD_IN_STEP_S / 3600.0
    table = night.forcing.temp_out_c
    period = night.forcing.n_hour if night.forcing.cyclic else None
    outdoors_c = np.interp(ends_h, np.arange(len(table)), table, period=period)
    off = np.zeros(count)
    return replace(
        night, begin_h=begin_h, step_s=LEAD_IN_STEP_S, temp_out_c=outdoors_c, heater_w=off,
        unit_on=off > 0.0, bunk_c=off, power_w=off, occupants=0.0, hotel_w=0.0,
    )  # fmt: skip


@dataclass(frozen=True)
class Readings:
    """What a logger wrote: arrays of shape (n_row, n_case) or (n_row,).

    Parameters
    ----------
    time_h
        Hours since the begin, ends of the rows' intervals.
    bunk_c, outdoor_c
        Air [°C].
    heater_w, power_w
        Heat of the heater and power from the bank, means of the intervals [W].
    """

    time_h: FloatArray
    bunk_c: FloatArray
    outdoor_c: FloatArray
    heater_w: FloatArray
    power_w: FloatArray


def read_by(logger: Logger, night: Night, course: Course, seed: int) -> Readings:
    """Let a logger read a course.

    Parameters
    ----------
    logger
        How well and how often it reads.
    night, course
        From `simulated_night` and `true_course`.
    seed
        Same seed, same noise.
    """
    every = max(1, round(logger.step_s / night.step_s))
    rows = len(night) // every
    last = np.arange(1, rows + 1) * every - 1
    rng = np.random.default_rng(seed)
    n_case = course.bunk_c.shape[1]

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(values[: rows * every].reshape(rows, every, -1).mean(axis=1))

    noise = rng.standard_normal((3, rows, n_case))
    return Readings(
        night.time_h[last],
        course.bunk_c[last] + logger.offset_k + logger.noise_k * noise[0],
        night.temp_out_c[last][:, None] + logger.noise_k * noise[1],
        mean(night.heater_w)[:, 0],
        mean(course.power_w) * (1.0 + logger.gain_w_frac + logger.noise_w_frac * noise[2]),
    )


def log_text(
    night: Night, readings: Readings, begin: "np.datetime64", header: Mapping[str, object],
    case: int = 0, columns: Mapping[str, FloatArray] | None = None,
) -> str:  # fmt: skip
    """Write readings as the CSV of a logger.

    Parameters
    ----------
    night, readings
        What was run and read.
    begin
        Local standard time at which the log begins.
    header
        Keys and values of the lines before the titles; a key that begins with a blank is a
        comment.
    case
        Which case of the readings.
    columns
        Further columns by title, shape (n_row,).
    """
    found: dict[str, FloatArray] = {
        "bunk (C)": readings.bunk_c[:, case].round(2),
        "outdoor (C)": readings.outdoor_c[:, case].round(2),
    }
    if night.heater_w.any():
        found["heater (W)"] = readings.heater_w.round(0)
    if night.unit_on.any():
        found["volts (V)"] = np.full(len(readings.time_h), _BANK_V)
        found["amps (A)"] = (readings.power_w[:, case] / _BANK_V).round(2)
    found |= dict(columns or {})
    seconds = np.round(readings.time_h * 3600.0).astype("timedelta64[s]")
    times = np.datetime_as_string((begin.astype("datetime64[s]") + seconds), unit="s")
    lines = [
        f"# {key.strip()}" if key.startswith(" ") else f"# {key} = {value}"
        for key, value in header.items()
    ]
    lines.append(",".join(["time", *found]))
    table = zip(*found.values(), strict=True)
    for time, row in zip(times, table, strict=True):
        cells = ["" if np.isnan(value) else f"{value:g}" for value in row]
        lines.append(",".join([str(time).replace("T", " "), *cells]))
    return "\n".join(lines) + "\n"
