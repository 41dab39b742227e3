"""How every pair on offer does in one place: the same figures as ``size`` and ``claim`` give.

A bank changes nothing in a rest until it gives out. So the rests of the year are run once for each
unit, on an endless supply, and so are the samples of the rest that decides a bank; the banks are
then stepped on these draws side by side. Where the unit's cycling inside a step could turn the
answer, and only there, the engine runs the rest again with the bank.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from restcab.duty.bank_course import BankYear, bank_load, bank_years, refilled_in_time
from restcab.duty.life import BankLife, bank_life
from restcab.duty.outlast import outlast, which_last
from restcab.duty.run import run_duty
from restcab.duty.season_bank import coldest_rest, is_heated
from restcab.duty.smallest import bank_need
from restcab.duty.week import duty_week
from restcab.duty.week_bank import judged_rests
from restcab.engine.record import RestRun, pick_run
from restcab.engine.rests import BankSetup
from restcab.odds.trials import Trial
from restcab.odds.tried import Tried
from restcab.offers.pairs import Pair, truck_with
from restcab.offers.place import Place
from restcab.offers.verdict import Judged, Wanted
from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.physics.battery.cells import BankParams
from restcab.season.cycling import peak_w
from restcab.season.heating import heater_of, run_kept
from restcab.season.held import is_held
from restcab.season.refill import charge_current_a
from restcab.season.scene import Scene
from restcab.units import SECONDS_PER_HOUR

NEW, WORN = AGES = (0.0, 1.0)


@dataclass(frozen=True)
class UnitHere:
    """One unit in one place, fed without end.

    Parameters
    ----------
    place
        The cab and the climate.
    pair
        A pair with that unit.
    """

    place: Place
    pair: Pair

    @cached_property
    def scene(self) -> Scene:
        """The truck with it."""
        scene = self.place.scene_of(truck_with(self.place.spec, self.pair_bare))
        scene.all_rests.__dict__["unit_map"] = scene.unit_map
        return scene

    @property
    def pair_bare(self) -> Pair:
        """The pair without what is done to the cab, which the place has already."""
        return Pair(self.pair.unit, self.pair.battery, self.pair.count)

    @cached_property
    def every(self) -> RestRun:
        """All rests of the weather."""
        every = self.scene.all_rests
        return run_kept(every, every.unit(1.0, len(every.start_h)))

    @cached_property
    def season(self) -> RestRun:
        """Those of the season among them."""
        return pick_run(self.every, self.place.in_season)

    @cached_property
    def cool(self) -> BoolArray:
        """Rests of the season that the unit keeps cool, bank or no bank."""
        return is_held(self.scene.spec, self.season)

    @cached_property
    def more_w(self) -> FloatArray:
        """Bound of the draw while it cycles, beyond its mean, in the rests of the season [W]."""
        unit = self.scene.unit(1.0, len(self.scene.start_h))
        return peak_w(unit, self.season) - self.season.power_w

    @cached_property
    def least(self) -> tuple[RestRun, BoolArray]:
        """The season with a unit of this kind that just holds it, and which rests that holds."""
        scene = self.scene
        scale = self.place.scale_of(scene.spec)
        run = run_kept(scene, scene.unit(scale, len(scene.start_h)))
        return run, is_held(scene.spec, run)


def judge(place: Place, pairs: Sequence[Pair], wanted: Wanted) -> list[Judged]:
    """Judge pairs in one place.

    Parameters
    ----------
    place
        The cab and the climate.
    pairs
        All of them with what is done to this very cab.
    wanted
        What they must do: only the pairs that do are taken through the week of duty.

    Returns
    -------
    list of Judged
        In the order of the pairs.
    """
    units: dict[str, UnitHere] = {}
    kinds: dict[tuple[str, str], list[int]] = {}
    for index, pair in enumerate(pairs):
        units.setdefault(pair.unit.name, UnitHere(place, pair))
        kinds.setdefault((pair.unit.name, pair.battery.name), []).append(index)
    found: dict[int, Judged] = {}
    tried: dict[str, Tried] = {}
    for (unit_name, _), indices in kinds.items():
        banks = _Banks(units[unit_name], [pairs[index] for index in indices])
        here = banks.judged(tried.setdefault(unit_name, Tried()))
        asks = [at for at, one in enumerate(here) if wanted.met_by(one)]
        if asks:
            for at, carried in zip(asks, banks.weeks_carried(asks), strict=True):
                here[at] = replace(here[at], week_carried=carried)
        found |= dict(zip(indices, here, strict=True))
    return [found[index] for index in range(len(pairs))]


def trial_of(scene: Scene, rest: int) -> Trial:
    """A rest of the season with the declared unit and bank."""
    start_h, spec = float(scene.start_h[rest]), scene.spec
    return Trial(scene, start_h, spec.rest.hours, spec.bank.bank_ah)


class _Banks:
    """Banks of one kind, in several numbers, with one unit."""

    def __init__(self, unit: UnitHere, pairs: Sequence[Pair]) -> None:
        self.unit, self.pairs = unit, pairs
        place = unit.place
        self.scenes = [
            place.scene_of(truck_with(place.spec, Pair(pair.unit, pair.battery, pair.count)))
            for pair in pairs
        ]
        # The unit's map is that of the unit, whatever bank feeds it.
        for scene in self.scenes:
            scene.__dict__["unit_map"] = unit.scene.unit_map
            scene.all_rests.__dict__["unit_map"] = unit.scene.all_rests.unit_map
        self.rated_ah = [scene.spec.bank.bank_ah for scene in self.scenes]
        season = unit.season
        self.loads = [bank_load(s, season.drain_w, season.temp_out_c) for s in self.scenes]

    @cached_property
    def rest(self) -> int:
        """The rest that decides a bank of this kind, as ``size`` finds it."""
        run, held = self.unit.least
        scene = self.scenes[len(self.scenes) // 2]
        return bank_need(scene.sized_for, bank_load(scene, run.drain_w, run.temp_out_c), held).rest

    def judged(self, tried: Tried) -> list[Judged]:
        """Judge all of them."""
        (new, worn), (odds, worn_odds) = self.lasting, self._odds(tried)
        in_time = self._in_time(self.unit.cool & new)
        lives, years = self._lives()
        cool, warm = self.unit.cool, ~self.unit.cool
        return [
            Judged(
                pair=pair,
                rest=self.rest,
                rests=len(cool),
                cool=int(cool.sum()),
                held_frac=float((cool & new[at]).mean()),
                empty=int((~new[at]).sum()),
                warm=int((warm & new[at]).sum()),
                worn_held_frac=float((cool & worn[at]).mean()),
                probability_frac=float(odds[at]),
                worn_probability_frac=float(worn_odds[at]),
                peak_w=float(self.unit.season.drain_w.max()),
                refilled_in_time=bool(in_time[at]),
                life=lives[at],
                year=years[at],
            )
            for at, pair in enumerate(self.pairs)
        ]

    @cached_property
    def lasting(self) -> BoolArray:
        """Rests of the season through which each bank lasts, full at every start.

        New and at the end of its life: shape (2, n_bank, n_rest).
        """
        n_rest, count = len(self.unit.scene.start_h), len(self.pairs)
        net_w = np.tile(np.concatenate([load.net_w for load in self.loads], axis=1), 2)
        peaks_w = net_w + np.tile(self.unit.more_w, 2 * count)
        temp_c = np.tile(np.concatenate([load.temp_c for load in self.loads]), 2)
        rated = np.tile(np.repeat(self.rated_ah, n_rest), 2)
        age = np.repeat(AGES, count * n_rest)
        scene, step_s = self.scenes[0], self.unit.season.step_h * SECONDS_PER_HOUR

        def lasts(some: IntArray, times: float, at_peaks: bool) -> BoolArray:
            params = scene.bank(times * rated[some], temp_c[some], age[some])
            most_w = peaks_w if at_peaks else net_w
            full = np.ones(len(some))
            return outlast(net_w[:, some], most_w[:, some], step_s, params, full).held

        def engine_lasts(some: IntArray) -> BoolArray:
            params = scene.bank(rated[some], temp_c[some], age[some])
            return self._engine_lasts(some % n_rest, params, net_w[:, some])

        new, worn = np.split(np.arange(len(rated)), 2)
        held = np.zeros(len(rated), dtype=np.bool_)
        held[worn] = which_last(worn, lasts, engine_lasts)
        # What a worn bank carries a new one does.
        held[new] = held[worn]
        more = new[~held[new]]
        held[more] = which_last(more, lasts, engine_lasts)
        return held.reshape(2, count, n_rest)

    def _engine_lasts(self, rest: IntArray, params: BankParams, net_w: FloatArray) -> BoolArray:
        """Let the engine run rests of the season, each with its bank."""
        scene, n_case = self.scenes[0], len(rest)
        # beside unit and hotel load, which the engine draws itself
        other_w = net_w - self.unit.season.power_w[:, rest] - scene.spec.rest.hotel_load_w
        run = scene.run(
            scene.unit(1.0, n_case), rest, BankSetup(params, np.ones(n_case), other_w),
            heater_of(scene.spec, n_case),
        )  # fmt: skip
        assert run.exhausted is not None
        return np.asarray(~run.exhausted[-1])

    def _odds(self, tried: Tried) -> FloatArray:
        """Probability with which each bank and the unit hold the deciding rest, new and worn.

        Shape (2, n_bank).
        """
        trials, samples = [], []
        for age in AGES:
            aged = [scene.with_bank_of_age(age) for scene in self.scenes]
            trials += [trial_of(scene, self.rest) for scene in aged]
            # Only the age of a bank is drawn about another value: all other inputs are the same.
            samples += [self.unit.place.drawn(aged[0], age)] * len(aged)
        if self.unit.scene.spec.bank.heater_w <= 0.0:
            # What the air heater draws and the panel gives is the same, whatever the bank.
            for trial in trials:
                trial.__dict__["other_w"] = trials[0].other_w
        held = tried.held(trials, samples).reshape(len(trials), -1)
        return np.asarray(held.mean(axis=1).reshape(2, -1))

    def _in_time(self, held: BoolArray) -> BoolArray:
        """Whether the drive refills each bank after the longest of the rests it holds, new."""
        scene, count, n_rest = self.scenes[0], len(self.pairs), len(self.unit.scene.start_h)
        net_w = np.concatenate([load.net_w for load in self.loads], axis=1)
        temp_c = np.stack([load.temp_c for load in self.loads])
        rated = np.repeat(self.rated_ah, n_rest)
        params = scene.bank(rated, temp_c.ravel(), NEW)
        step_s = self.unit.season.step_h * SECONDS_PER_HOUR
        taken = outlast(net_w, net_w, step_s, params, np.ones(len(rated))).soc_used_frac
        used = np.where(held, taken.reshape(count, n_rest), -1.0)
        rest, bank = np.argmax(used, axis=1), np.arange(count)
        return refilled_in_time(
            scene, np.array(self.rated_ah), np.maximum(used[bank, rest], 0.0), temp_c[bank, rest],
            scene.start_h[rest] + scene.spec.rest.hours,
        )  # fmt: skip

    def _lives(self) -> tuple[list[BankLife], list[BankYear]]:
        """Life of each bank that feeds the unit through all rests of the weather, and the year."""
        run = self.unit.every
        all_rests = [scene.all_rests for scene in self.scenes]
        loads = [bank_load(every, run.drain_w, run.temp_out_c) for every in all_rests]
        years = bank_years(all_rests[0], loads, self.rated_ah)
        ageing = self.unit.place.ageing(all_rests[0], self.rated_ah)
        lives = [
            bank_life(every.spec, year.depth_frac, rate)
            for every, year, rate in zip(all_rests, years, ageing, strict=True)
        ]
        return lives, years

    def weeks_carried(self, at: Sequence[int]) -> list[bool]:
        """Whether some of the banks carry their weeks of duty again and again.

        They are judged as ``size`` judges a bank it recommends: at the age that ``bank.size_for``
        says, in the week around the deciding rest and, if the season is heated, in that around its
        coldest; what unit or bank does not hold from full does not judge the week.
        """
        scene, season = self.scenes[at[0]].sized_for, self.unit.season
        lasting = self.lasting[AGES.index(scene.spec.bank.age_frac)]
        rated = np.array([self.rated_ah[each] for each in at])
        coldest, carried = coldest_rest(season), np.ones(len(at), dtype=np.bool_)
        for rest in (self.rest, *((coldest,) if is_heated(season, coldest) else ())):
            asked = duty_week(scene, 1.0, rest, season)
            judged = [judged_rests(scene, asked, self.unit.cool & lasting[each]) for each in at]
            run = run_duty(
                scene, asked, rated, charge_current_a(scene.spec), np.logical_and.reduce(judged)
            )
            own = [run.carried[some, case].all() for case, some in enumerate(judged)]
            carried &= np.array(own) & run.periodic
        return carried.tolist()
