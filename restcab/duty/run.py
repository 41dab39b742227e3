"""Banks through a week of duty, again and again until the week repeats itself.

Banks of several sizes, or several charging currents, go through the same week side by side. What
matters is how full the bank is at the start of each rest once the first full charge is forgotten.
"""

from dataclasses import dataclass
from itertools import groupby

import numpy as np

from restcab.duty.bank_temperature import conductance_w_per_k, kept_c, lag_h
from restcab.duty.timetable import DRIVE, REST
from restcab.duty.week import Block, DutyWeek
from restcab.physics.arrays import BoolArray, FloatArray, FloatLike
from restcab.physics.battery.bank_heat import follow_c, heated_c
from restcab.physics.battery.cells import BankParams, BankState, full_bank, rested, stored_energy_wh
from restcab.physics.battery.charging import charge_for, charge_voltage_v
from restcab.physics.battery.discharge import discharge_step
from restcab.season.scene import Scene
from restcab.units import SECONDS_PER_HOUR

WEEKS_MAX = 8
"""A bank still sinking after these weeks is not refilled."""
PERIODIC_FRAC = 1e-3
"""State of charge at the week's two ends that counts as equal."""


@dataclass(frozen=True)
class DutyRun:
    """Banks through the last of their weeks; shape (n_rest, n_case) unless noted.

    Parameters
    ----------
    soc_start_frac, soc_end_frac
        State of charge at the start and the end of each rest.
    carried
        Whether the bank lasted to the end of the rest.
    out_wh
        Energy delivered by the bank in the rest [Wh].
    in_alternator_wh, in_other_wh
        Energy into its terminals from the alternator, and from roof panel and shore, up to the
        next rest [Wh].
    heater_wh
        Energy that the bank's own heater took from the alternator up to the next rest [Wh]; what
        it took from the bank in the rest is in ``out_wh``.
    loss_wh
        Energy lost in the bank up to the next rest [Wh].
    temp_c
        Mean temperature of the bank in the rest [°C].
    stored_start_wh, stored_end_wh
        Energy in the bank at the two ends of the week [Wh], shape (n_case,).
    periodic
        Whether the week ends as full as it began, shape (n_case,).
    """

    soc_start_frac: FloatArray
    soc_end_frac: FloatArray
    carried: BoolArray
    out_wh: FloatArray
    in_alternator_wh: FloatArray
    in_other_wh: FloatArray
    heater_wh: FloatArray
    loss_wh: FloatArray
    temp_c: FloatArray
    stored_start_wh: FloatArray
    stored_end_wh: FloatArray
    periodic: BoolArray

    @property
    def depth_frac(self) -> FloatArray:
        """Share of the full charge that each rest took [-]."""
        return np.asarray(np.maximum(self.soc_start_frac - self.soc_end_frac, 0.0))


def run_duty(
    scene: Scene,
    asked: DutyWeek,
    rated_ah: FloatLike,
    current_a: FloatLike,
    judged: BoolArray | None = None,
) -> DutyRun:
    """Take banks through the week again and again, from full, until it repeats itself.

    Parameters
    ----------
    scene
        The truck.
    asked
        The week.
    rated_ah
        Rated charge of each bank [Ah], scalar or (n_case,).
    current_a
        Current that the alternator offers each bank [A], scalar or (n_case,).
    judged
        Rests whose failure ends the search for a case, shape (n_rest,); by default all.

    Returns
    -------
    DutyRun
        The last week. A bank that failed a judged rest is not followed further on its own account:
        it only sinks from week to week.
    """
    rated, current = np.broadcast_arrays(
        np.atleast_1d(np.asarray(rated_ah, dtype=float)), np.asarray(current_a, dtype=float)
    )
    judge = np.ones(len(asked.start_h), dtype=np.bool_) if judged is None else judged
    first_c = np.full(rated.shape, asked.blocks[0].temp_air_c)
    banks = _Banks(scene, rated, current, first_c)
    for _ in range(WEEKS_MAX):
        run = banks.week(asked)
        failed = ~run.carried[judge].all(axis=0)
        if np.all(run.periodic | failed):
            break
    return run


class _Banks:
    """Banks side by side, their charge and their temperature."""

    def __init__(
        self, scene: Scene, rated_ah: FloatArray, current_a: FloatArray, temp_c: FloatArray
    ) -> None:
        self.scene, self.rated_ah, self.current_a, self.temp_c = scene, rated_ah, current_a, temp_c
        self._w_per_k = {k: conductance_w_per_k(scene, rated_ah, k) for k in (False, True)}
        self._lag_h = {k: lag_h(scene, rated_ah, k) for k in (False, True)}
        self._kept_c = kept_c(scene)
        self.state: BankState = full_bank(self._params())

    def _params(self) -> BankParams:
        """The banks at their present temperature."""
        return self.scene.bank(self.rated_ah, self.temp_c)

    def _soc(self) -> FloatArray:
        return np.asarray(1.0 - self.state.charge_out_ah / self._params().full_ah)

    def _stored_wh(self) -> FloatArray:
        return np.asarray(stored_energy_wh(self.state.charge_out_ah, self._params()))

    def week(self, asked: DutyWeek) -> DutyRun:
        """Go through one week."""
        shape = (len(asked.start_h), len(self.rated_ah))
        soc_start, soc_end, out, alternator, other, heater, loss, temp = (
            np.zeros(shape) for _ in range(8)
        )
        carried = np.ones(shape, dtype=np.bool_)
        stored_start = self._stored_wh()
        for (number, kind), blocks in groupby(asked.blocks, key=lambda block: block[:2]):
            if kind == REST:
                self.state = rested(self.state)
                soc_start[number] = self._soc()
                rest_h = 0.0
            for block in blocks:
                heat_wh = np.zeros(shape[1])
                warming_w = self._warming_w(block)
                asked_w = block.load_w - block.supply_w + warming_w * (kind == REST)
                if np.any(asked_w > 0.0):
                    given, wasted, alive = self._discharge(block, asked_w, carried[number])
                    carried[number] = alive
                    out[number] += given
                    heat_wh += wasted
                if kind == DRIVE or np.any(asked_w < 0.0):
                    by_alternator, by_other, wasted = self._charge(block, asked_w, warming_w)
                    alternator[number] += by_alternator
                    other[number] += by_other
                    heat_wh += wasted
                if kind == DRIVE:
                    heater[number] += warming_w * block.hours
                loss[number] += heat_wh
                mean_c = self._warm(block, heat_wh + warming_w * block.hours)
                if kind == REST:
                    temp[number] += mean_c * block.hours
                    rest_h += block.hours
            if kind == REST:
                soc_end[number] = self._soc()
                temp[number] /= rest_h
        periodic = np.abs(self._soc() - soc_start[0]) <= PERIODIC_FRAC
        return DutyRun(
            soc_start, soc_end, carried, out, alternator, other, heater, loss, temp,
            stored_start, self._stored_wh(), periodic,
        )  # fmt: skip

    def _warming_w(self, block: Block) -> FloatArray:
        """Power of the bank's own heater, from the alternator or from the bank itself [W]."""
        bank, driving = self.scene.spec.bank, block.kind == DRIVE
        works = driving or (block.kind == REST and bank.heater_when == "always")
        heater_w = bank.heater_w if works else 0.0
        _end, _mean, power_w = heated_c(
            self.temp_c, block.temp_air_c, self._lag_h[driving], block.hours,
            self._w_per_k[driving], heater_w, self._kept_c,
        )  # fmt: skip
        if driving:
            power_w = np.minimum(power_w, self.current_a * bank.system_voltage_v)
        return power_w

    def _discharge(
        self, block: Block, load_w: FloatArray, alive: BoolArray
    ) -> tuple[FloatArray, FloatArray, BoolArray]:
        """Feed the load: energy given and lost [Wh], banks still alive."""
        asked_w = np.where(alive, np.maximum(load_w, 0.0), 0.0)
        step = discharge_step(self.state, asked_w, block.hours * SECONDS_PER_HOUR, self._params())
        self.state = step.state
        return step.power_w * block.hours, step.loss_w * block.hours, alive & ~step.exhausted

    def _charge(
        self, block: Block, load_w: FloatArray, warming_w: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Charge: energy from the alternator, from elsewhere, and lost [Wh]."""
        params = self._params()
        volts = charge_voltage_v(self._soc(), params)
        other_w = np.maximum(-load_w, 0.0)
        other_a = other_w / volts
        alternator_a = np.maximum(self.current_a - warming_w / volts, 0.0) * (block.kind == DRIVE)
        offered_a = other_a + alternator_a
        done = charge_for(self.state, block.hours, offered_a, params)
        self.state = done.state
        # the panel's electricity is free: what the bank takes comes from there first
        by_other = np.minimum(done.energy_in_wh, other_w * block.hours)
        wasted = done.loss_gassing_wh + done.loss_voltage_wh
        return done.energy_in_wh - by_other, by_other, wasted

    def _warm(self, block: Block, heat_wh: FloatArray) -> FloatArray:
        """Let the bank's temperature follow the air and its own heat; returns the mean [°C]."""
        driving = block.kind == DRIVE
        settled_c = block.temp_air_c + heat_wh / block.hours / self._w_per_k[driving]
        self.temp_c, mean_c = follow_c(self.temp_c, settled_c, self._lag_h[driving], block.hours)
        return mean_c
