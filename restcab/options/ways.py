"""What each way to rest burns, draws and holds in a year, before money and emissions.

Every function works on arrays over the rests of a :class:`~restcab.options.year.YearOfRests`; an
option is what cools and what heats, and what each of them does stands in its record
(:mod:`restcab.spec.means`). What feeds the hotel load and the fans and pumps of the option is one
rule: in a rest at a plug the mains, else in a rest in which an engine runs that engine, which then
serves everything it can, else the declared bank if the option has one, else the truck's own
batteries. All options meet the same heat: what an idling engine adds through the floor is not
counted, which favours idling.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from restcab.duty.bank_course import BankYear
from restcab.duty.life import bank_life
from restcab.options.factors import Factors
from restcab.options.given import GivenValues
from restcab.options.idling import idled_frac
from restcab.options.kits import equipment_mass_kg
from restcab.options.year import YearOfRests
from restcab.options.yearly_use import Run, Use
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.engine_idle import IdleLine, auxiliary_fuel_gal, idle_fuel_gal, shaft_kwh
from restcab.physics.sources import charging_table, recharge_fuel_gal
from restcab.season.refill import recharge_fuel_gal_per_kwh
from restcab.spec.means import Engine, Means, PerRest
from restcab.spec.model import Spec
from restcab.spec.options import Way
from restcab.units import L_PER_GAL


@dataclass(frozen=True)
class _Rests:
    """Which rests of an option run an engine or hang on a plug; arrays of shape (n_rest,)."""

    engine_on: BoolArray
    plug_on: BoolArray
    cooled_by_engine: BoolArray
    heated_by_engine: BoolArray

    def without_engine(self) -> "_Rests":
        """Return the same rests with the engine off."""
        off = np.zeros_like(self.engine_on)
        return replace(self, engine_on=off, cooled_by_engine=off, heated_by_engine=off)


def use_of(way: Way, year: YearOfRests, spec: Spec, factors: Factors) -> Use:
    """Work out a year of one option.

    Parameters
    ----------
    way
        What cools and what heats.
    year
        The rests.
    spec
        The truck, its prices and habits.
    factors
        Fuel and efficiency factors.
    """
    option = _Option(way, scaled(year, factors["model.load"]), GivenValues(spec, factors))
    return option.use()


@dataclass(frozen=True)
class _Option:
    """An option through the rests of a year."""

    way: Way
    year: YearOfRests
    given: GivenValues

    def use(self) -> Use:
        """Add up the year."""
        way, year, spec = self.way, self.year, self.given.spec
        rests = _sorted_rests(way, year, spec)
        engine = way.engine
        # Not in every rest that asks for it is the main engine idled: restcab.options.idling.
        habit = engine is not None and engine.engine is not None and engine.engine.by_habit
        idled = idled_frac(spec, year) if habit else 1.0

        not_idled = rests.without_engine()

        def mean(of_idled: FloatArray, of_others: FloatArray) -> FloatArray:
            return np.asarray(idled * of_idled + (1.0 - idled) * of_others)

        def mixed(of: Callable[[_Rests], FloatArray]) -> FloatArray:
            """Mean of a rest that is idled, if it asks for that, and of the same rest without."""
            return mean(of(rests), of(not_idled))

        alternator_wh = mixed(self._alternator_wh)
        road_gal = recharge_fuel_gal(alternator_wh, recharge_fuel_gal_per_kwh(spec))
        mass_kg = equipment_mass_kg(way, spec)
        found = spec.options.shore_share_frac
        chance = np.where(rests.plug_on, found, 1.0)

        held = _Held(*map(mean, self._held(rests), self._held(not_idled)))

        life, left = self._bank_life()
        return Use(
            runs=self._runs(rests, idled),
            fuel_road_l=year.total(road_gal) * L_PER_GAL,
            road_kwh=year.total(_crank_kwh(alternator_wh, spec)),
            fuel_mass_l=mass_kg / 1000.0
            * spec.money.mass_fuel_frac_per_t * spec.money.driving_fuel_l,
            charger_kwh=year.total(mixed(self._charger_wh)) / 1000.0,
            electric_kwh=year.total(mixed(self._electric_wh) * chance) / 1000.0,
            mass_kg=mass_kg,
            bank_life_years=life,
            bank_life_remaining_years=left,
            held_frac=_share(held.whole * chance, np.ones(len(year), dtype=np.bool_)),
            cooled_held_frac=_share(held.cooling * chance, year.cooled),
            heated_held_frac=_share(held.heating * chance, year.heated),
        )  # fmt: skip

    def kept(self) -> tuple[FloatArray, FloatArray]:
        """Rests that it keeps, and the chance of a plug; see `kept_rests`."""
        rests = _sorted_rests(self.way, self.year, self.given.spec)
        chance = np.where(rests.plug_on, self.given.spec.options.shore_share_frac, 1.0)
        return self._held(rests).whole.astype(np.float64), chance

    def _runs(self, rests: _Rests, idled: float) -> dict[str, Run]:
        """What each means burns and buys in a year; those that do neither are left out."""
        year, found = self.year, self.given.spec.options.shore_share_frac
        runs = {}
        for means in self.way.means:
            run = Run(fuel_l=year.total(self._of(means.fuel_l)))
            if means.engine is not None:
                gal = year.total(self._engine_gal(rests)) * idled
                hours = year.total(self._engine_hours(rests)) * idled
                run = Run(engine_h=hours, fuel_l=run.fuel_l + gal * L_PER_GAL)
            if means.plug:
                plug_h = year.total(rests.plug_on * found) * year.hours
                bought_kwh = year.total(self._plug_wh(rests) * found) / 1000.0
                run = run._replace(plug_h=plug_h, plug_kwh=bought_kwh)
            if any(run):
                runs[means.word] = run
        return runs

    def _engine_of(self) -> Engine | None:
        return None if self.way.engine is None else self.way.engine.engine

    def _heat(self, rests: _Rests) -> tuple[FloatArray, FloatArray]:
        """Heat that the engine takes out and puts in [Wh]."""
        return (
            np.where(rests.cooled_by_engine, self.year.cooling_wh, 0.0),
            np.where(rests.heated_by_engine, self.year.heating_wh, 0.0),
        )

    def _engine_hours(self, rests: _Rests) -> FloatArray:
        """Hours that the engine runs in each rest [h]."""
        engine, year, given = self._engine_of(), self.year, self.given
        run_frac = np.ones(len(year))
        if engine is not None and engine.run_frac:
            cooling_wh, heating_wh = self._heat(rests)
            asked_h = np.maximum(
                cooling_wh / given[engine.ac_capacity], heating_wh / given[engine.heat_capacity]
            )
            run_frac = np.clip(asked_h / year.hours, given[engine.run_frac], 1.0)
        return np.where(rests.engine_on, run_frac * year.hours, 0.0)

    def _engine_own_wh(self, rests: _Rests) -> FloatArray:
        """What blower, controls and pumps of the engine draw in each rest [Wh]."""
        engine = self._engine_of()
        if engine is None:
            return np.zeros(len(self.year))
        own_w = np.full(len(self.year), self.given[engine.electric])
        if engine.coolant_pump:
            own_w += rests.heated_by_engine * self.given[engine.coolant_pump]
        return own_w * self._engine_hours(rests)

    def _engine_gal(self, rests: _Rests) -> FloatArray:
        """Fuel of the engine in each rest [gal]."""
        engine, given = self._engine_of(), self.given
        if engine is None:
            return np.zeros(len(self.year))
        hours = self._engine_hours(rests)
        fed_wh = np.where(rests.engine_on & ~rests.plug_on, self._drawn_wh(rests), 0.0)
        shaft = shaft_kwh(
            self._heat(rests)[0], given[engine.ac_cop], fed_wh + self._engine_own_wh(rests),
            given[engine.alternator], self.given.spec.charging.belt_efficiency_frac,
        )  # fmt: skip
        base, per_kwh = given[engine.fuel_base], given[engine.fuel_per_kwh]
        if not engine.speed:
            return auxiliary_fuel_gal(base, per_kwh, hours, shaft)
        low, high, rise = (given[name] for name in engine.speed)
        rpm = np.where(rests.cooled_by_engine | rests.heated_by_engine, high, low)
        return idle_fuel_gal(IdleLine(base, per_kwh, rise), hours, shaft, rpm)

    def _of(self, work: PerRest | None) -> FloatArray:
        """Values of a record's function; 0 if it has none."""
        return np.zeros(len(self.year)) if work is None else work(self.year, self.given)

    def _drawn_wh(self, rests: _Rests) -> FloatArray:
        """Direct current of hotel load, unit, fans and pumps, without the engine's own [Wh]."""
        cooling, heating = self.way.cooling, self.way.heating
        drawn_wh = np.array(self.year.hotel_wh)
        if cooling is not None:
            # An engine that runs cools too, unless the option cools by the plug.
            served = rests.engine_on & ~rests.plug_on
            drawn_wh += np.where(served, 0.0, self._of(cooling.draws_cooling_wh))
        if heating is not None:
            drawn_wh += self._of(heating.draws_heating_wh)
        return drawn_wh

    def _road_wh(self, rests: _Rests) -> FloatArray:
        """Electricity that equipment takes on the road for each rest [Wh]."""
        wanted = sum(
            (self._of(means.road_wh) for means in self.way.means), np.zeros(len(self.year))
        )
        return np.where(rests.engine_on, 0.0, wanted)

    def _bank(self) -> BankYear:
        """The declared bank through the year, with what the option's heating draws from it."""
        heating, year = self.way.heating, self.year
        if heating is None or heating.draws_heating_wh is None:
            return year.bank_without_heater
        if heating.in_bank_run:
            return year.bank
        bank, extra_wh = year.bank_without_heater, self._of(heating.draws_heating_wh)
        declared = self.given.spec.bank
        depth = bank.depth_frac + extra_wh / (declared.bank_ah * declared.system_voltage_v)
        return replace(
            bank, out_wh=bank.out_wh + extra_wh, in_wh=bank.in_wh + extra_wh * self._returned(),
            depth_frac=np.minimum(depth, 1.0), carried=bank.carried & (depth <= 1.0),
        )  # fmt: skip

    def _returned(self) -> float:
        """Energy put back for each that a battery gave, by the charging of the bank [-]."""
        bank = self.year.bank_without_heater
        return max(float(bank.in_wh.sum()) / max(float(bank.out_wh.sum()), 1e-9), 1.0)

    def _bank_life(self) -> tuple[float, float]:
        """Years that a new bank lives, and that the declared one has left."""
        if not self.way.on_bank:
            return np.inf, np.inf
        ageing = self.year.bank_ageing_per_year
        life = bank_life(self.given.spec, self._bank().depth_frac, ageing)
        factor = self.given["model.bank_life"]
        return life.years * factor, life.remaining_years * factor

    def _alternator_wh(self, rests: _Rests) -> FloatArray:
        """Energy put back on the road after each rest [Wh]; an engine puts it back at once."""
        if self.way.on_bank:
            taken_wh = self._bank().in_wh
        else:
            # The truck's own batteries, at the charging efficiency of the bank.
            taken_wh = self._drawn_wh(rests) * self._returned()
        at_rest = np.where(rests.engine_on | rests.plug_on, 0.0, taken_wh)
        return np.asarray(at_rest + self._road_wh(rests))

    def _mains_wh(self, rests: _Rests) -> FloatArray:
        """Heat made of mains electricity in each rest [Wh]."""
        heating = self.way.heating
        heat_wh = self._of(None if heating is None else heating.mains_heating_wh)
        return np.where(rests.plug_on, heat_wh, 0.0)

    def _electric_wh(self, rests: _Rests) -> FloatArray:
        """Electricity used for each rest [Wh]."""
        used_wh = self._drawn_wh(rests)
        if self.way.on_bank:
            bank = self._bank()
            fed_else = rests.engine_on | rests.plug_on
            used_wh = np.where(fed_else, used_wh, bank.out_wh + bank.direct_wh)
        return np.asarray(
            used_wh + self._engine_own_wh(rests) + self._mains_wh(rests) + self._road_wh(rests)
        )

    def _plug_wh(self, rests: _Rests) -> FloatArray:
        """Shore electricity bought at a plug in each rest [Wh]."""
        direct_wh = self._drawn_wh(rests) / self.given["shore.converter"]
        return np.where(rests.plug_on, direct_wh + self._mains_wh(rests), 0.0)

    def _charger_wh(self, rests: _Rests) -> FloatArray:
        """Shore electricity of the charger that ``charging.shore`` gives the bank [Wh]."""
        if not self.way.on_bank:
            return np.zeros(len(self.year))
        bought_wh = self._bank().shore_wh / self.given["shore.converter"]
        return np.where(rests.plug_on, 0.0, bought_wh)

    def _held(self, rests: _Rests) -> "_Held":
        """Rests that the option holds, a place with a plug taken for granted."""
        way, year = self.way, self.year
        cools, heats = (
            np.where(by_engine, self._keeps(way.engine, what), self._keeps(means, what))
            for what, means, by_engine in (
                ("cools", _without_engine(way.cooling), rests.cooled_by_engine),
                ("heats", _without_engine(way.heating), rests.heated_by_engine),
            )
        )
        cools, heats = ~year.cooled | cools, ~year.heated | heats
        fed = np.ones(len(year), dtype=np.bool_)
        if way.on_bank:
            fed = self._bank().carried | rests.engine_on | rests.plug_on
        return _Held(cools & heats & fed, cools & fed, heats & fed)

    def _keeps(self, means: Means | None, what: str) -> BoolArray:
        """Rests that a means can cool or heat."""
        holds = None if means is None else getattr(means, what)
        if holds is None:
            return np.zeros(len(self.year), dtype=np.bool_)
        return np.asarray(holds(self.year, self.given))


class _Held(NamedTuple):
    """Rests that an option holds, or what share of them: in all, and by cooling or heating alone.

    Arrays of shape (n_rest,).
    """

    whole: NDArray[Any]
    cooling: NDArray[Any]
    heating: NDArray[Any]


def _without_engine(means: Means | None) -> Means | None:
    """A means that works whether or not an engine runs."""
    return None if means is None or means.engine is not None else means


def kept_rests(
    way: Way, year: YearOfRests, spec: Spec, factors: Factors
) -> tuple[FloatArray, FloatArray]:
    """Rests that an option keeps by itself, its engine on in all that ask for one.

    Parameters
    ----------
    way, year, spec, factors
        As for `use_of`.

    Returns
    -------
    tuple of ndarray
        1 where it keeps the rest, a plug taken for granted, else 0; and the chance of a plug where
        it takes one, else 1 [-]. Shapes (n_rest,).
    """
    option = _Option(way, scaled(year, factors["model.load"]), GivenValues(spec, factors))
    return option.kept()


def scaled(year: YearOfRests, factor: float) -> YearOfRests:
    """Return the year with all heat and the energy behind it made larger by a factor."""
    if factor == 1.0:
        return year

    def bank(of: BankYear) -> BankYear:
        return replace(
            of, out_wh=of.out_wh * factor, in_wh=of.in_wh * factor,
            depth_frac=np.minimum(of.depth_frac * factor, 1.0),
        )  # fmt: skip

    names = (
        "cooling_wh", "cooling_peak_w", "heating_wh", "heating_peak_w", "unit_wh", "heater_wh",
        "heater_electric_wh",
    )  # fmt: skip
    grown = {name: getattr(year, name) * factor for name in names}
    return replace(
        year, **grown, bank=bank(year.bank), bank_without_heater=bank(year.bank_without_heater)
    )


def _share(held: FloatArray, where: BoolArray) -> float:
    return float(held[where].mean()) if where.any() else 1.0


def _sorted_rests(way: Way, year: YearOfRests, spec: Spec) -> _Rests:
    """Sort the rests by what runs in them."""
    none = np.zeros(len(year), dtype=np.bool_)
    engine, cooling, heating = way.engine, way.cooling, way.heating
    on = none
    if engine is not None:
        on = (year.cooled & (cooling is engine)) | (year.heated & (heating is engine))
        if spec.options.idle_when == "always" and cooling is heating:
            on = ~none
    plug = none
    if cooling is not None and cooling.plug:
        plug = ~none
    elif heating is not None and heating.plug:
        plug = year.heated & ~on
    return _Rests(on, plug, on & year.cooled & ~plug, on & year.heated & (heating is engine))


def _crank_kwh(alternator_wh: FloatArray, spec: Spec) -> FloatArray:
    charging = spec.charging
    wiring = charging_table().constant["wiring_efficiency_frac"]
    chain = wiring * charging.alternator_efficiency_frac * charging.belt_efficiency_frac
    return np.asarray(alternator_wh / 1000.0 / chain)
