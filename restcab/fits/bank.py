"""The charge that a bank holds, from its volts and amps while it feeds a night.

The bank is followed as in every study (`restcab.physics.battery`) under the power that was logged,
and its volts are compared. The volts of a full and of a half empty bank differ by little more than
a cheap meter is off; only where they fall away at the end do they tell the charge sharply, and only
if it is known how full the bank was at first. A night that stays in the upper half therefore tells
nothing, and is said to.

What is found is the charge at the draw of the night: the rate effect is taken as the chemistry's
table has it, for the same unit will draw much the same again (design assumption).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from restcab.duty.bank_temperature import lag_h
from restcab.fits.estimate import READINGS_MAX, Channel, Coordinate, Estimate, Sought, solve
from restcab.fits.logged import Logged, power_of
from restcab.fits.parameters import BANK, NIGHT, Parameter
from restcab.physics.arrays import FloatArray
from restcab.physics.battery.bank_heat import lagged_c
from restcab.physics.battery.cells import BankParams, full_bank
from restcab.physics.battery.discharge import discharge_step
from restcab.season.scene import Scene
from restcab.spec.model import Spec
from restcab.weather.cab_log import CabLog

VOLTS_OFF_FRAC = 0.005
"""What a cheap meter's volts are off, and the leads between it and the bank, as a share of the
nominal volts (design assumption: 0.06 V of 12 V)."""
AMPS_LOG_SD = 0.01
"""What a shunt is off, as a factor (common practice: shunts of class 0.5 to 1)."""
RESISTANCE_LOG_SD, KNEE_LOG_SD = 0.3, 0.2
"""Resistance of the bank, and the exponent of the fall of its volts near empty, as factors (design
assumption)."""
TEMP_SD_K = 3.0
"""Temperature of the bank against the air around it, which it follows by rule (design
assumption)."""
FULL_KNOWN_SD = 0.01
"""Charge missing where the log shows a full charge or its header says how full (design
assumption)."""
FULL_VOLTS_FRAC, FULL_AMPS_PER_AH, FULL_BEFORE_H = 0.96, 0.03, 1.0
"""A bank is full that takes less than this current per rated ampere-hour at this share of its
absorption voltage, at most so long before the discharge (common practice, no source)."""
DRAWS_FROM_FRAC = 0.1
"""Draw from which volts are compared, as a share of the rated current: at rest, the charge before
still shows in them."""
END_MORE_FRAC = 1.03
"""Volts over those of an empty bank down to which they are compared: what follows, no model of the
fall is good for (design assumption)."""
BRIDGED_H = 1.0
"""Longest gap of volts or amps that is bridged [h]; a longer one ends what is followed."""
MOVES_FROM_FRAC = 0.003
"""Volts that move less than this share are a nominal value, no reading."""

BANK_REASONS = (
    "no volts and amps of the bank in the logs",
    "the bank feeds next to nothing in the logs",
    "the volts in the logs do not move: a nominal value, or a charger that holds them",
)
"""Why a log tells nothing of the bank, the one nearest to telling last."""

CHARGE = "bank"


def _none(_: Spec) -> float:
    return 0.0


CHARGE_OF = Parameter(CHARGE, "charge of the bank", BANK, _none, step=0.01)
"""Its spreads are those of the run: what [claim] says of the charge and of the age together."""
_RESISTANCE = Parameter("resistance", "resistance of the bank", BANK, _none, step=0.05)
_KNEE = Parameter("knee", "fall of the volts near empty", BANK, _none, step=0.05)
_AMPS = Parameter("amps", "factor of the shunt", BANK, _none, step=0.01)
_VOLTS = Parameter("volts", "offset of the volts", NIGHT, _none, False, 0.01)
_MISSING = Parameter("missing", "charge missing at first", NIGHT, _none, False, 0.01)
_TEMP = Parameter("temp", "warmth of the bank", NIGHT, _none, False, 1.0)


@dataclass(frozen=True, eq=False)
class BankRun:
    """One discharge of a log; arrays of shape (n_step,).

    Parameters
    ----------
    name
        Of the log.
    scene
        The truck under the log's weather.
    step_s
        Length of a step [s].
    power_w, volts_v
        Drawn from the bank, and at its terminals [W, V]; volts are NaN where there is no reading.
    temp_c
        Temperature of the bank at the end, as it follows the air [°C].
    missing_frac, missing_sd
        Charge missing when it begins and its standard deviation, as shares of the full charge.
    """

    name: str
    scene: Scene
    step_s: float
    power_w: FloatArray
    volts_v: FloatArray
    temp_c: float
    missing_frac: float
    missing_sd: float

    def bank(self, values: Mapping[str, FloatArray]) -> BankParams:
        """The banks of some trials, all of one knee."""
        rated_ah = self.scene.spec.bank.bank_ah * values[CHARGE]
        made = self.scene.bank(rated_ah, self.temp_c + values["temp"])
        knee = float(made.chem.knee_exponent * values["knee"][0])
        return replace(
            made, chem=replace(made.chem, knee_exponent=knee),
            resistance_full_ohm=made.resistance_full_ohm * values["resistance"],
        )  # fmt: skip

    def volts(self, values: Mapping[str, FloatArray]) -> FloatArray:
        """Volts of the banks of some trials through the run [V], shape (n_step, n_case)."""
        found = np.empty((len(self.power_w), len(values[CHARGE])))
        for knee in np.unique(values["knee"]):
            cases = np.flatnonzero(values["knee"] == knee)
            own = {name: value[cases] for name, value in values.items()}
            bank = self.bank(own)
            state = full_bank(bank, 1.0 - self.missing_frac - own["missing"])
            for step, power_w in enumerate(self.power_w):
                done = discharge_step(state, power_w * own["amps"], self.step_s, bank)
                state = done.state
                found[step, cases] = done.voltage_v + own["volts"]
        return found

    @property
    def charge_sd(self) -> float:
        """What is unsure of the charge before the log, by [claim], as a factor's logarithm."""
        spec = self.scene.spec
        age = spec.bank.age_frac
        older = min(1.0, age + spec.bank_age_spread_frac / math.sqrt(3.0))
        ah = [float(self.scene.bank(1.0, 25.0, at).full_ah) for at in (age, older)]
        return math.hypot(spec.unsure("bank_capacity_spread_frac") or 0.0, math.log(ah[0] / ah[1]))


@dataclass(frozen=True, eq=False)
class BankTask(Sought):
    """Discharges of one bank, and the numbers sought."""

    runs: tuple[BankRun, ...]
    apart: ClassVar[tuple[str, ...]] = ("knee",)

    def predicted(self, trials: FloatArray) -> list[FloatArray]:
        """Volts of each run at the readings, shapes (n, n_case)."""
        found = []
        for channel in self.channels:
            values = {
                entry.parameter.name: entry.parameter.value(trials[:, column])
                for column, entry in enumerate(self.coordinates)
                if entry.night in (None, channel.night)
            }
            found.append(self.runs[channel.night].volts(values)[channel.at])
        return found


def estimate_bank(runs: Sequence[BankRun]) -> Estimate[BankTask] | None:
    """Fit the charge of a bank to some discharges; None if [claim] says that it is sure."""
    spread = runs[0].charge_sd if runs else 0.0
    if spread <= 0.0:
        return None
    coordinates = [
        Coordinate(CHARGE_OF, None, spread), Coordinate(_RESISTANCE, None, RESISTANCE_LOG_SD),
        Coordinate(_KNEE, None, KNEE_LOG_SD), Coordinate(_AMPS, None, AMPS_LOG_SD),
    ]  # fmt: skip
    channels = []
    for number, run in enumerate(runs):
        nominal_v = run.scene.spec.bank.system_voltage_v
        coordinates += [
            Coordinate(_VOLTS, number, VOLTS_OFF_FRAC * nominal_v),
            Coordinate(_MISSING, number, run.missing_sd), Coordinate(_TEMP, number, TEMP_SD_K),
        ]  # fmt: skip
        at = _compared(run)
        hours = np.asarray((at + 1.0) * run.step_s / 3600.0)
        channels.append(Channel(number, "volts", at, hours, run.volts_v[at], 1))
    return solve(BankTask(tuple(coordinates), tuple(channels), tuple(runs)))


def least_draw_w(spec: Spec) -> float:
    """Draw from which a bank counts as feeding something [W]."""
    bank = spec.bank
    return DRAWS_FROM_FRAC * bank.bank_ah / bank.rated_hours * bank.system_voltage_v


def _compared(run: BankRun) -> "np.ndarray[tuple[int], np.dtype[np.int64]]":
    """Steps whose volts are compared: those under load, until the bank is empty by its rating."""
    with np.errstate(invalid="ignore"):
        empty = np.flatnonzero(run.volts_v < END_MORE_FRAC * float(run.scene.bank(1.0, 25.0).end_v))
        loaded = np.isfinite(run.volts_v) & (run.power_w > least_draw_w(run.scene.spec))
    good = np.flatnonzero(loaded)
    if empty.size:
        good = good[good < empty[0]]
    return good[:: max(1, -(-len(good) // READINGS_MAX))]


def bank_run_of(log: CabLog, logged: Logged) -> BankRun | str:
    """The longest discharge of a log, or why there is none in words.

    Parameters
    ----------
    log
        From `restcab.weather.cab_log`.
    logged
        The same as a night.
    """
    if not {"volts", "amps"} <= log.columns.keys():
        return BANK_REASONS[0]
    night, spec = logged.night, logged.night.spec
    volts, power = log.columns["volts"], power_of(log)
    least_w = least_draw_w(spec)
    # Around zero a shunt's noise is neither.
    quiet = np.where(np.abs(power) < least_w, 0.0, power)
    begin, end = _discharge(quiet, max(1, round(BRIDGED_H * 3600.0 / log.step_s)))
    if end - begin < 2:
        return BANK_REASONS[1]
    begins = np.array([log.time_local[0]])
    scene = Scene(
        spec, logged.weather, night.network, night.forcing, np.array([night.begin_h]), begins
    )
    missing, sd = _missing(log, scene, quiet, begin)
    known = np.interp(np.arange(begin, end), np.flatnonzero(np.isfinite(power)),
                      power[np.isfinite(power)])  # fmt: skip
    run = BankRun(
        log.name, scene, float(log.step_s), np.maximum(known, 0.0), volts[begin:end],
        _temp_c(scene, log, end), missing, sd,
    )  # fmt: skip
    at = _compared(run)
    if not at.size:
        return BANK_REASONS[1]
    if np.ptp(run.volts_v[at]) < MOVES_FROM_FRAC * spec.bank.system_voltage_v:
        return BANK_REASONS[2]
    return run


def _discharge(power_w: FloatArray, bridged: int) -> tuple[int, int]:
    """Begin and end of the stretch without charging or a long gap that draws most."""
    known = np.isfinite(power_w)
    charged = np.nan_to_num(power_w) < 0.0
    gap = np.zeros(len(power_w), dtype=np.bool_)
    edges = np.flatnonzero(np.diff(np.concatenate(([True], known, [True])).astype(np.int8)))
    for first, last in edges.reshape(-1, 2):
        gap[first:last] = last - first > bridged or first == 0 or last == len(power_w)
    stops = np.concatenate(([True], gap | charged, [True]))
    spans = np.flatnonzero(np.diff(stops.astype(np.int8))).reshape(-1, 2)
    if not len(spans):
        return 0, 0
    drawn = [float(np.nansum(power_w[first:last])) for first, last in spans]
    first, last = spans[int(np.argmax(drawn))]
    return int(first), int(last)


def _missing(log: CabLog, scene: Scene, power_w: FloatArray, begin: int) -> tuple[float, float]:
    """Charge missing when a discharge begins, and its standard deviation."""
    bank, chem = scene.spec.bank, scene.bank(1.0, 25.0).chem
    since = max(0, begin - max(1, round(FULL_BEFORE_H * 3600.0 / log.step_s)))
    before = slice(since, begin)
    volts = log.columns["volts"][before]
    cells = float(np.asarray(scene.bank(1.0, 25.0).cells))
    with np.errstate(invalid="ignore"):
        amps = -power_w[before] / volts
        full = (
            (volts > FULL_VOLTS_FRAC * chem.absorption_v_cell * cells)
            & (amps < FULL_AMPS_PER_AH * bank.bank_ah) & (amps >= 0.0)
        )  # fmt: skip
    if full.any():
        return 0.0, FULL_KNOWN_SD
    if "soc_start_frac" in log.extra and not np.nansum(np.abs(power_w[:begin])):
        return 1.0 - log.extra["soc_start_frac"], FULL_KNOWN_SD
    most = scene.spec.claim.charge_missing_frac
    return 0.5 * most, max(most / math.sqrt(12.0), FULL_KNOWN_SD)


def _temp_c(scene: Scene, log: CabLog, end: int) -> float:
    """Temperature of the bank at the end of a discharge: there its charge is decided [°C]."""
    if scene.spec.bank.mounting == "inside":
        return float(np.nanmean(log.columns["bunk"]))
    outdoors = log.columns["outdoor"][:end]
    lag = float(np.asarray(lag_h(scene, scene.spec.bank.bank_ah)))
    return float(lagged_c(outdoors, log.step_s / 3600.0, lag)[-1])
