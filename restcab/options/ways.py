"""A year of each way to rest in its own measures: what its rests take, added up.

What an option takes in each rest stands in :mod:`restcab.options.each_rest`. Here it is added up
over parts of a year, for any number of cases (prices, habits and factors) at once, with two rules.

The main engine idles in a share of the rests that ask for it (:mod:`restcab.options.idling`).

A rest that an option does not hold burns what the first option burns in it: the driver starts the
engine, as without the option. Nothing is saved on such a night. What the option would have burnt,
drawn and emitted in it gives way to what the first option burns there, as far as that truck's
habit of idling goes: a driver who idles in half of the hot nights idles in half of those that the
option leaves to him. Prices, mass and the wear of a bank stay: the equipment is on the truck all
the same.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from restcab.duty.life import life_of_wear
from restcab.options.each_rest import EachRest, Held, felt
from restcab.options.factors import Factors, stacked
from restcab.options.given import GivenValues
from restcab.options.idling import idled_frac
from restcab.options.kits import equipment_mass_kg
from restcab.options.year import YearOfRests
from restcab.options.yearly_use import Run, Use
from restcab.physics.arrays import BoolArray, FloatArray, FloatLike
from restcab.physics.sources import charging_table, recharge_fuel_gal
from restcab.season.refill import recharge_fuel_gal_per_kwh
from restcab.spec.model import Spec
from restcab.spec.options import Way
from restcab.units import L_PER_GAL


class Case(NamedTuple):
    """Prices, habits and factors that a year of rests is reckoned with.

    Cases that are reckoned together are the same in what a rest feels of the spec,
    `restcab.options.each_rest.felt`.
    """

    spec: Spec
    factors: Factors


class _Taken(NamedTuple):
    """What some rests take in a year; arrays of shape (n_case, n_part), or such as broadcast to it.

    Parameters
    ----------
    runs
        What burns diesel or hangs on a plug, by the word of the means.
    alternator_wh
        Energy put back on the road [Wh].
    charger_wh
        Shore electricity bought by the charger of the bank [Wh].
    electric_wh
        Electricity used [Wh].
    """

    runs: dict[str, "_Runs"]
    alternator_wh: FloatArray
    charger_wh: FloatArray
    electric_wh: FloatArray

    def plus(self, other: "_Taken") -> "_Taken":
        """Add the rests of another option."""
        words, none = dict.fromkeys((*self.runs, *other.runs)), _Runs()
        runs = {
            word: _Runs(
                *map(sum, zip(self.runs.get(word, none), other.runs.get(word, none), strict=True))
            )
            for word in words
        }
        return _Taken(runs, *(a + b for a, b in zip(self[1:], other[1:], strict=True)))


class _Runs(NamedTuple):
    """`Run` of one means in each case and part, its arrays as those of `_Taken`."""

    engine_h: FloatArray | float = 0.0
    fuel_l: FloatArray | float = 0.0
    plug_h: FloatArray | float = 0.0
    plug_kwh: FloatArray | float = 0.0


class OptionYears:
    """Years of the options under some cases, each from all rests of a year or a part of them.

    Parameters
    ----------
    year
        The rests.
    cases
        Prices, habits and factors.
    parts
        Rests of each part, shape (n_part, n_rest); they stand for the whole year. By default one
        part, of all of them. A driver who idles in half of the rests that ask for it does so in
        July and in January: the hours of the habit are not spent in whichever months are asked.

    Raises
    ------
    ValueError
        If the cases differ in what a rest feels.
    """

    def __init__(
        self, year: YearOfRests, cases: Sequence[Case], parts: BoolArray | None = None
    ) -> None:
        spec = cases[0].spec
        if any(felt(case.spec) != felt(spec) for case in cases):
            raise ValueError("cases differ in what a rest feels")
        self._year, self._cases = year, cases
        rests = np.ones((1, len(year)), dtype=np.bool_) if parts is None else parts
        self._of_part = rests.T.astype(np.float64)
        self._n_in_part = self._of_part.sum(axis=0)
        self._factors = stacked([case.factors for case in cases])
        self._idled_frac = np.array([[idled_frac(case.spec, year)] for case in cases])
        self._each: dict[Way, EachRest] = {}

    def uses(self, way: Way, first: Way) -> list[list[Use]]:
        """A year of an option for each part of each case.

        Parameters
        ----------
        way
            The option.
        first
            The option that takes over in the rests that it does not hold; the option itself: none
            does.
        """
        each = self._each_rest(way)
        if way == first:
            taken = self._taken(way, np.ones(len(self._year)))
        else:
            kept = each.held.whole.astype(np.float64)
            # Without a plug nothing is drawn from one: the flows count that share already.
            own, instead = kept, 1.0 - kept * each.chance_frac
            taken = self._taken(way, own).plus(self._taken(first, instead))
        return self._made_of(way, each, taken)

    def _each_rest(self, way: Way) -> EachRest:
        if way not in self._each:
            self._each[way] = EachRest(way, self._year, self._cases[0].spec, self._factors)
        return self._each[way]

    def _total(self, per_rest: FloatArray, counted_frac: FloatArray) -> FloatArray:
        """Sum over a year's rests, each counted in part, shape (n_case or 1, n_part)."""
        weight = self._year.rests_per_year / self._n_in_part
        return np.asarray(self._summed(self._year.counted(per_rest * counted_frac)) * weight)

    def _mean(self, per_rest: FloatArray) -> FloatArray:
        """Mean over the rests of each part, shape (n_case or 1, n_part)."""
        return np.asarray(self._summed(per_rest) / self._n_in_part)

    def _summed(self, per_rest: FloatArray) -> FloatArray:
        return np.atleast_2d(per_rest) @ self._of_part

    def _mixed(self, way: Way, idled: FloatArray, others: Callable[[], FloatArray]) -> FloatArray:
        """Mean of rests that are idled, as far as the habit goes, and of the same without."""
        engine = way.engine
        if engine is None or engine.engine is None or not engine.engine.by_habit:
            return idled
        return self._idled_frac * idled + (1.0 - self._idled_frac) * others()

    def _taken(self, way: Way, counted_frac: FloatArray) -> _Taken:
        """What an option takes in its rests, each counted in part."""
        each = self._each_rest(way)

        def of_year(name: str) -> FloatArray:
            return self._mixed(
                way,
                self._total(getattr(each.asked, name), counted_frac),
                lambda: self._total(getattr(each.engine_off, name), counted_frac),
            )

        runs = {}
        for means in way.means:
            run = _Runs(fuel_l=self._total(each.burnt_l[means.word], counted_frac))
            if means.engine is not None:
                fuel_l = run.fuel_l + of_year("engine_gal") * L_PER_GAL
                run = _Runs(engine_h=of_year("engine_h"), fuel_l=fuel_l)
            if means.plug:
                plug_h = self._total(each.plug_frac, counted_frac) * self._year.hours
                run = run._replace(plug_h=plug_h, plug_kwh=of_year("plug_wh") / 1000.0)
            runs[means.word] = run
        put_back_wh = of_year("put_back_wh") + of_year("owed_wh") * self._returned(each)
        return _Taken(runs, put_back_wh, of_year("charger_wh"), of_year("electric_wh"))

    def _returned(self, each: EachRest) -> FloatArray:
        """Energy put back for each that a battery gave, by the charging of the bank [-]."""
        bank = each.year.bank_without_heater
        put_back = self._summed(bank.in_wh) / np.maximum(self._summed(bank.out_wh), 1e-9)
        return np.maximum(put_back, 1.0)

    def _held_frac(self, way: Way, what: str, where: BoolArray) -> FloatArray:
        """Share of some rests that an option holds; 1 if there are none."""
        each, asked = self._each_rest(way), self._summed(where.astype(np.float64))

        def share(held: Held) -> FloatArray:
            found = self._summed(getattr(held, what) * each.chance_frac * where)
            return np.where(asked > 0.0, found / np.maximum(asked, 1.0), 1.0)

        return self._mixed(way, share(each.held), lambda: share(each.held_engine_off))

    def _made_of(self, way: Way, each: EachRest, taken: _Taken) -> list[list[Use]]:
        """Put the years of an option together."""
        year, specs = self._year, [case.spec for case in self._cases]
        shape = (len(specs), len(self._n_in_part))
        gal_per_kwh = np.array([[recharge_fuel_gal_per_kwh(spec)] for spec in specs])
        crank_frac = np.array([[_crank_frac(spec)] for spec in specs])
        mass_kg = [equipment_mass_kg(way, spec) for spec in specs]
        columns: dict[str, FloatArray] = {
            "fuel_road_l": recharge_fuel_gal(taken.alternator_wh, gal_per_kwh) * L_PER_GAL,
            "road_kwh": taken.alternator_wh / 1000.0 / crank_frac,
            "charger_kwh": taken.charger_wh / 1000.0,
            "electric_kwh": taken.electric_wh / 1000.0,
            "held_frac": self._held_frac(way, "whole", np.ones(len(year), dtype=np.bool_)),
            "cooled_held_frac": self._held_frac(way, "cooling", year.cooled),
            "heated_held_frac": self._held_frac(way, "heating", year.heated),
        }
        if way.on_bank:
            columns["wear_frac"] = self._mean(each.bank_wear_frac)
            columns["ageing_per_year"] = self._mean(year.bank_ageing_per_year)

        def everywhere(value: FloatLike) -> list[list[float]]:
            """Numbers by case and part."""
            found: list[list[float]] = (np.zeros(shape) + value).tolist()
            return found

        numbers = {name: everywhere(value) for name, value in columns.items()}
        runs = {word: [everywhere(value) for value in run] for word, run in taken.runs.items()}

        def use(case: int, part: int) -> Use:
            spec, factors = self._cases[case]
            own = {name: value[case][part] for name, value in numbers.items()}
            life = left = np.inf
            if way.on_bank:
                of_bank = life_of_wear(spec, own.pop("wear_frac"), own.pop("ageing_per_year"))
                longer = GivenValues(spec, factors)["model.bank_life"]
                life, left = of_bank.years * longer, of_bank.remaining_years * longer
            found = {word: Run(*(value[case][part] for value in run)) for word, run in runs.items()}
            return Use(
                runs={word: run for word, run in found.items() if any(run)},
                mass_kg=mass_kg[case],
                fuel_mass_l=mass_kg[case] / 1000.0
                * spec.money.mass_fuel_frac_per_t * spec.money.driving_fuel_l,
                bank_life_years=life,
                bank_life_remaining_years=left,
                **own,
            )  # fmt: skip

        return [[use(case, part) for part in range(shape[1])] for case in range(shape[0])]


def _crank_frac(spec: Spec) -> float:
    """Electricity into the bank over the work of the crank behind it [-]."""
    charging = spec.charging
    wiring = charging_table().constant["wiring_efficiency_frac"]
    return wiring * charging.alternator_efficiency_frac * charging.belt_efficiency_frac
