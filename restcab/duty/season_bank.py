"""The bank that a season asks for: from full in each rest, and through its hardest weeks."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.duty.bank_course import BankLoad
from restcab.duty.smallest import BankNeed, bank_need
from restcab.duty.week_bank import DutyBank, bank_for_duty
from restcab.engine.record import RestRun
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.battery.bank import carry
from restcab.season.scene import Scene, strings_for
from restcab.units import SECONDS_PER_HOUR


class Carried(NamedTuple):
    """What a bank did in each rest, full at every start; shape (n_rest,).

    Parameters
    ----------
    held
        Whether it lasted to the end.
    soc_used_frac
        Share of its full charge missing at the end [-].
    """

    held: BoolArray
    soc_used_frac: FloatArray


@dataclass(frozen=True)
class SeasonBank:
    """The bank that carries the asked share of a season's rests.

    Parameters
    ----------
    need
        The smallest rated charge, and the rest that decided it.
    strings_one_rest
        Strings of the declared battery that carry that rest from full.
    duty
        Strings that also carry the week around it, and what they do there.
    cold
        The same in the week around the coldest rest, None if no rest of the season is heated.
    carried
        What the strings of the larger of both do in each rest of the season.
    """

    need: BankNeed
    strings_one_rest: int
    duty: DutyBank
    cold: DutyBank | None
    carried: Carried

    @property
    def strings(self) -> int:
        """Strings that carry all of it."""
        return max(self.duty.strings, 0 if self.cold is None else self.cold.strings)

    @property
    def rated_ah(self) -> float:
        """Rated charge of these strings [Ah]."""
        return max(self.duty.rated_ah, 0.0 if self.cold is None else self.cold.rated_ah)


def season_bank(
    scene: Scene,
    scale: float,
    run: RestRun,
    load: BankLoad,
    held: BoolArray,
    need: BankNeed | None = None,
) -> SeasonBank:
    """Find the smallest number of batteries for a unit.

    Parameters
    ----------
    scene
        The truck and its season, its bank of the age that is to be sized.
    scale
        Size of the unit relative to the declared one.
    run
        The season with that unit on an endless supply, the air heater's draw included.
    load
        What that asks of a bank.
    held
        Rests that the unit holds; the others do not count, shape (n_rest,).
    need
        Rated charge below which no bank is wanted, and the rest that asks for it; by default what
        carries each rest from full.

    Raises
    ------
    RequirementNotMet
        If no number of batteries is refilled.
    """
    need = bank_need(scene, load, held) if need is None else need
    strings = strings_for(scene.spec, need.rated_ah)
    full = held & carry_season(scene, load, strings * scene.spec.bank.rated_ah).held
    duty = bank_for_duty(scene, scale, need.rest, strings, full, run)
    coldest, cold = coldest_rest(run), None
    if is_heated(run, coldest):
        cold = bank_for_duty(scene, scale, coldest, duty.strings, full, run)
    rated_ah = max(duty.rated_ah, 0.0 if cold is None else cold.rated_ah)
    return SeasonBank(need, strings, duty, cold, carry_season(scene, load, rated_ah))


def coldest_rest(run: RestRun) -> int:
    """Index of the rest with the coldest air outdoors."""
    return int(np.argmin(run.temp_out_c.mean(axis=0)))


def is_heated(run: RestRun, rest: int) -> bool:
    """Whether the air heater ran in a rest."""
    return bool((run.heat_w[:, rest] > 0.0).any())


def carry_season(scene: Scene, load: BankLoad, rated_ah: float) -> Carried:
    """Feed the season's loads from one bank, full at every start."""
    params = scene.bank(np.full(len(load.temp_c), rated_ah), load.temp_c)
    step_s = scene.spec.rest.hours / len(load.net_w) * SECONDS_PER_HOUR
    outcome = carry(load.net_w.T, step_s, params)
    return Carried(outcome.held, np.asarray(outcome.state.charge_out_ah / params.full_ah))
