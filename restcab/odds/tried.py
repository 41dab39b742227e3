"""Samples of one truck, each run once however many banks are asked about.

A bank changes nothing in a rest until it gives out. So a sample is run once for each unit, on an
endless supply, and the banks are stepped on what it draws.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from restcab.duty.outlast import outlast, which_last
from restcab.engine.rests import BankSetup, take_cases
from restcab.odds.trials import Made, Trial, join_cases, made_of, outcomes, run_made
from restcab.odds.unsure import Samples
from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.season.cycling import peak_w
from restcab.units import SECONDS_PER_HOUR


class Fed(NamedTuple):
    """Samples on an endless supply, as far as their rests are to be held.

    Parameters
    ----------
    draw_w
        What unit and hotel load draw [W], shape (n_step, n_sample).
    more_w
        Bound of what they draw while the unit cycles, beyond that mean, of the same shape [W].
    cool
        Whether the unit keeps the bunk cool, bank or no bank, shape (n_sample,).
    """

    draw_w: FloatArray
    more_w: FloatArray
    cool: BoolArray

    def take(self, index: IntArray) -> "Fed":
        """Pick some of the samples, in any order and number."""
        return Fed(
            self.draw_w.take(index, axis=1), self.more_w.take(index, axis=1), self.cool[index]
        )

    def beside(self, other: "Fed") -> "Fed":
        """Put others behind them."""
        return Fed(
            np.concatenate([self.draw_w, other.draw_w], axis=1),
            np.concatenate([self.more_w, other.more_w], axis=1),
            np.concatenate([self.cool, other.cool]),
        )


class Tried:
    """Samples of one truck, each run once with a unit however often it is asked for.

    Truck, weather and the kind of unit are the same in all that one of these is asked, and the kind
    of bank at a time.
    """

    def __init__(self) -> None:
        self._place: dict[tuple[float, bytes], int] = {}
        self._fed: dict[float, Fed] = {}

    def fed(self, trials: Sequence[Trial], samples: Sequence[Samples]) -> Fed:
        """Run samples on an endless supply, or remember them.

        Parameters
        ----------
        trials, samples
            As for `run_trials`, whose order is kept.
        """
        first, known = trials[0], self._fed
        made, hours = made_of(trials, samples, endless_bank=True), first.hours
        keys = [(hours, told) for told in made.told()]
        new = {key: index for index, key in enumerate(keys) if key not in self._place}
        if new:
            found = _fed(first, made.take(np.array(list(new.values()))))
            begins = known[hours].cool.size if hours in known else 0
            self._place.update({key: begins + index for index, key in enumerate(new)})
            known[hours] = known[hours].beside(found) if begins else found
        return known[hours].take(np.array([self._place[key] for key in keys]))

    def held(self, trials: Sequence[Trial], samples: Sequence[Samples]) -> BoolArray:
        """Whether samples hold their rests, in the order of the trials and their samples.

        Parameters
        ----------
        trials, samples
            As for `run_trials`.
        """
        fed, first = self.fed(trials, samples), trials[0]
        pairs = list(zip(trials, samples, strict=True))

        def banks(some: IntArray, times: float) -> BankSetup:
            every = join_cases([trial.bank(own, times * trial.bank_ah) for trial, own in pairs])
            return take_cases(every, some)

        def lasts(some: IntArray, times: float, at_peaks: bool) -> BoolArray:
            bank, drawn = banks(some, times), fed.take(some)
            assert bank.other_w is not None
            net_w = drawn.draw_w + bank.other_w[: len(drawn.draw_w)]
            most_w = net_w + drawn.more_w if at_peaks else net_w
            step_s = first.step_h * SECONDS_PER_HOUR
            return outlast(net_w, most_w, step_s, bank.params, bank.soc_start_frac).held

        def engine_lasts(some: IntArray) -> BoolArray:
            made = made_of(trials, samples, endless_bank=False).take(some)
            run = run_made(first, made)
            return outcomes(first.scene, run, first.hours).held

        # What the unit does not keep cool, no bank holds.
        held, cool = np.zeros(fed.cool.size, dtype=np.bool_), np.flatnonzero(fed.cool)
        held[cool] = which_last(cool, lasts, engine_lasts)
        return held

    def probability(self, trial: Trial, samples: Samples) -> float:
        """Share of the samples that hold the rest of a trial [-]."""
        return float(self.held([trial], [samples]).mean())


def _fed(first: Trial, made: Made) -> Fed:
    """Run samples of trials like a first one, as they were made."""
    run = run_made(first, made)
    within = slice(round(first.hours / first.step_h))
    return Fed(
        run.drain_w[within], (peak_w(made.unit, run) - run.power_w)[within],
        outcomes(first.scene, run, first.hours).held,
    )  # fmt: skip
