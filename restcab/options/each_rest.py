"""What each way to rest burns, draws and holds in each rest of a year, whatever that costs.

Every function works on arrays over the rests of a :class:`~restcab.options.year.YearOfRests`; an
option is what cools and what heats, and what each of them does stands in its record
(:mod:`restcab.spec.means`). What feeds the hotel load and the fans and pumps of the option is one
rule: in a rest at a plug the mains, else in a rest in which an engine runs that engine, which then
serves everything it can, else the declared bank if the option has one, else the truck's own
batteries. All options meet the same heat: what an idling engine adds through the floor is not
counted, which favours idling.

Nothing here reads a price, so that one year of rests serves as many prices as are tried. A factor
may be an array of shape (n_case, 1): what depends on it then has a row for each case.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from restcab.duty.bank_course import BankYear
from restcab.options.factors import Factors
from restcab.options.given import GivenValues
from restcab.options.year import YearOfRests
from restcab.physics.arrays import BoolArray, FloatArray, FloatLike
from restcab.physics.battery.chemistry import chemistry
from restcab.physics.battery.life import wear_frac
from restcab.physics.engine_idle import IdleLine, auxiliary_fuel_gal, idle_fuel_gal, shaft_kwh
from restcab.spec.means import Engine, Means, PerRest
from restcab.spec.model import Spec
from restcab.spec.options import Way


def felt(spec: Spec) -> tuple[object, ...]:
    """All that a rest feels of a spec, beside what its year was run with."""
    options = spec.options
    return (
        spec.bank, spec.heater, spec.charging.belt_efficiency_frac, options.idle_when,
        options.shore_share_frac,
    )  # fmt: skip


class Flows(NamedTuple):
    """What an option takes in each rest; arrays of shape (n_rest,) or (n_case, n_rest).

    Parameters
    ----------
    engine_h, engine_gal
        Hours that its engine runs [h], and the fuel of it [gal].
    plug_wh
        Shore electricity bought at a plug, times the chance of one [Wh].
    put_back_wh
        Energy put into the declared bank, or into equipment, on the road after the rest [Wh].
    owed_wh
        Energy that batteries gave beside the run of the declared bank [Wh]: the charging of that
        bank says how much more than this is put back.
    charger_wh
        Shore electricity of the charger that ``charging.shore`` gives the bank [Wh].
    electric_wh
        Electricity used, from whatever source, on the road too, times that chance where the rest
        takes a plug [Wh].
    """

    engine_h: FloatArray
    engine_gal: FloatArray
    plug_wh: FloatArray
    put_back_wh: FloatArray
    owed_wh: FloatArray
    charger_wh: FloatArray
    electric_wh: FloatArray


class Held(NamedTuple):
    """Rests that an option holds, in all, and by cooling or heating alone.

    Arrays of shape (n_rest,) or (n_case, n_rest); a place with a plug is taken for granted.
    """

    whole: BoolArray
    cooling: BoolArray
    heating: BoolArray


@dataclass(frozen=True)
class _Served:
    """Which rests of an option run an engine or hang on a plug; arrays of shape (n_rest,)."""

    engine_on: BoolArray
    plug_on: BoolArray
    cooled_by_engine: BoolArray
    heated_by_engine: BoolArray

    def without_engine(self) -> "_Served":
        """Return the same rests with the engine off."""
        off = np.zeros_like(self.engine_on)
        return replace(self, engine_on=off, cooled_by_engine=off, heated_by_engine=off)


class EachRest:
    """An option in each rest of a year.

    Parameters
    ----------
    way
        What cools and what heats.
    year
        The rests.
    spec
        The truck and its habits; only what `felt` names is read.
    factors
        Fuel and efficiency factors, scalar or of shape (n_case, 1).
    """

    def __init__(self, way: Way, year: YearOfRests, spec: Spec, factors: Factors) -> None:
        self.way = way
        self.year = scaled(year, factors["model.load"])
        self._spec, self._given = spec, GivenValues(spec, factors)
        self._served = _sorted_rests(way, year, spec)

    @cached_property
    def asked(self) -> Flows:
        """With the engine on in every rest that asks for one."""
        return self._flows(self._served)

    @cached_property
    def engine_off(self) -> Flows:
        """With the engine off in all rests."""
        return self._flows(self._served.without_engine())

    @cached_property
    def held(self) -> Held:
        """Rests held with the engine on in every rest that asks for one."""
        return self._held(self._served)

    @cached_property
    def held_engine_off(self) -> Held:
        """Rests held with the engine off."""
        return self._held(self._served.without_engine())

    @cached_property
    def chance_frac(self) -> FloatArray:
        """Chance of a plug in a rest that takes one, else 1 [-], shape (n_rest,)."""
        return np.where(self._served.plug_on, self._spec.options.shore_share_frac, 1.0)

    @cached_property
    def plug_frac(self) -> FloatArray:
        """Chance of a plug in a rest that takes one, else 0 [-], shape (n_rest,)."""
        return np.where(self._served.plug_on, self._spec.options.shore_share_frac, 0.0)

    @cached_property
    def burnt_l(self) -> dict[str, FloatArray]:
        """Diesel that each means burns in each rest other than in an engine [L], by its word."""
        return {means.word: self._of(means.fuel_l) for means in self.way.means}

    @cached_property
    def bank_wear_frac(self) -> FloatArray:
        """Share of its life that each rest wears the declared bank [-]."""
        return wear_frac(self._bank.depth_frac, chemistry(self._spec.bank.chemistry))

    def _flows(self, served: _Served) -> Flows:
        hours, drawn_wh = self._engine_hours(served), self._drawn_wh(served)
        own_wh, mains_wh = self._engine_own_wh(served, hours), self._mains_wh(served)
        road_wh, fed_else = self._road_wh(served), served.engine_on | served.plug_on
        zero = np.zeros(len(self.year))
        from_bank_wh, put_back_wh, owed_wh, charger_wh = drawn_wh, zero, drawn_wh, zero
        if self.way.on_bank:
            bank = self._bank
            from_bank_wh, put_back_wh, owed_wh = bank.out_wh + bank.direct_wh, bank.in_wh, zero
            charger_wh = bank.shore_wh / self._given["shore.converter"]
            extra_wh = self._beside_bank_run_wh
            if extra_wh is not None:
                owed_wh = extra_wh
        used_wh = np.where(fed_else, drawn_wh, from_bank_wh)
        at_plug_wh = zero
        if any(means.plug for means in self.way.means):
            at_plug_wh = drawn_wh / self._given["shore.converter"] + mains_wh
        return Flows(
            engine_h=hours,
            engine_gal=self._engine_gal(served, hours, drawn_wh, own_wh),
            plug_wh=at_plug_wh * self.plug_frac,
            put_back_wh=np.where(fed_else, 0.0, put_back_wh) + road_wh,
            owed_wh=np.where(fed_else, 0.0, owed_wh),
            charger_wh=np.where(served.plug_on, 0.0, charger_wh),
            electric_wh=(used_wh + own_wh + mains_wh + road_wh) * self.chance_frac,
        )

    def _of(self, work: PerRest | None) -> FloatArray:
        """Values of a record's function; 0 if it has none."""
        return np.zeros(len(self.year)) if work is None else work(self.year, self._given)

    @property
    def _engine(self) -> Engine | None:
        return None if self.way.engine is None else self.way.engine.engine

    def _engine_hours(self, served: _Served) -> FloatArray:
        """Hours that the engine runs in each rest [h]."""
        engine, year, given = self._engine, self.year, self._given
        run_frac: FloatLike = 1.0
        if engine is not None and engine.run_frac:
            asked_h = np.maximum(
                np.where(served.cooled_by_engine, year.cooling_wh, 0.0) / given[engine.ac_capacity],
                np.where(served.heated_by_engine, year.heating_wh, 0.0)
                / given[engine.heat_capacity],
            )
            run_frac = np.clip(asked_h / year.hours, given[engine.run_frac], 1.0)
        return np.where(served.engine_on, run_frac * year.hours, 0.0)

    def _engine_own_wh(self, served: _Served, hours: FloatArray) -> FloatArray:
        """What blower, controls and pumps of the engine draw in each rest [Wh]."""
        engine = self._engine
        if engine is None:
            return np.zeros(len(self.year))
        own_w: FloatLike = self._given[engine.electric]
        if engine.coolant_pump:
            own_w = own_w + served.heated_by_engine * self._given[engine.coolant_pump]
        return np.asarray(own_w * hours)

    def _engine_gal(
        self, served: _Served, hours: FloatArray, drawn_wh: FloatArray, own_wh: FloatArray
    ) -> FloatArray:
        """Fuel of the engine in each rest [gal]."""
        engine, given = self._engine, self._given
        if engine is None:
            return np.zeros(len(self.year))
        fed_wh = np.where(served.engine_on & ~served.plug_on, drawn_wh, 0.0)
        shaft = shaft_kwh(
            np.where(served.cooled_by_engine, self.year.cooling_wh, 0.0), given[engine.ac_cop],
            fed_wh + own_wh, given[engine.alternator], self._spec.charging.belt_efficiency_frac,
        )  # fmt: skip
        base, per_kwh = given[engine.fuel_base], given[engine.fuel_per_kwh]
        if not engine.speed:
            return auxiliary_fuel_gal(base, per_kwh, hours, shaft)
        low, high, rise = (given[name] for name in engine.speed)
        rpm = np.where(served.cooled_by_engine | served.heated_by_engine, high, low)
        return idle_fuel_gal(IdleLine(base, per_kwh, rise), hours, shaft, rpm)

    def _drawn_wh(self, served: _Served) -> FloatArray:
        """Direct current of hotel load, unit, fans and pumps, without the engine's own [Wh]."""
        cooling, heating = self.way.cooling, self.way.heating
        drawn_wh = self.year.hotel_wh
        if cooling is not None:
            # An engine that runs cools too, unless the option cools by the plug.
            by_engine = served.engine_on & ~served.plug_on
            drawn_wh = drawn_wh + np.where(by_engine, 0.0, self._of(cooling.draws_cooling_wh))
        if heating is not None:
            drawn_wh = drawn_wh + self._of(heating.draws_heating_wh)
        return drawn_wh

    def _road_wh(self, served: _Served) -> FloatArray:
        """Electricity that equipment takes on the road for each rest [Wh]."""
        wanted = sum(
            (self._of(means.road_wh) for means in self.way.means), np.zeros(len(self.year))
        )
        return np.where(served.engine_on, 0.0, wanted)

    def _mains_wh(self, served: _Served) -> FloatArray:
        """Heat made of mains electricity in each rest [Wh]."""
        heating = self.way.heating
        heat_wh = self._of(None if heating is None else heating.mains_heating_wh)
        return np.where(served.plug_on, heat_wh, 0.0)

    @cached_property
    def _beside_bank_run_wh(self) -> FloatArray | None:
        """What the option's heating draws from the bank and the bank's run does not know [Wh]."""
        heating = self.way.heating
        if heating is None or heating.draws_heating_wh is None or heating.in_bank_run:
            return None
        return self._of(heating.draws_heating_wh)

    @cached_property
    def _bank(self) -> BankYear:
        """The declared bank through the year; what `_beside_bank_run_wh` draws is not put back."""
        heating, year = self.way.heating, self.year
        if heating is not None and heating.draws_heating_wh is not None and heating.in_bank_run:
            return year.bank
        bank, extra_wh = year.bank_without_heater, self._beside_bank_run_wh
        if extra_wh is None:
            return bank
        declared = self._spec.bank
        depth = bank.depth_frac + extra_wh / (declared.bank_ah * declared.system_voltage_v)
        return replace(
            bank, out_wh=bank.out_wh + extra_wh, depth_frac=np.minimum(depth, 1.0),
            carried=bank.carried & (depth <= 1.0),
        )  # fmt: skip

    def _held(self, served: _Served) -> Held:
        """Rests that the option holds, a place with a plug taken for granted."""
        way, year = self.way, self.year
        cools = np.where(
            served.cooled_by_engine,
            self._keeps(way.engine, "cools"), self._keeps(_without_engine(way.cooling), "cools"),
        )  # fmt: skip
        heats = np.where(
            served.heated_by_engine,
            self._keeps(way.engine, "heats"), self._keeps(_without_engine(way.heating), "heats"),
        )  # fmt: skip
        cools, heats = ~year.cooled | cools, ~year.heated | heats
        fed = np.ones(len(year), dtype=np.bool_)
        if way.on_bank:
            fed = self._bank.carried | served.engine_on | served.plug_on
        return Held(cools & heats & fed, cools & fed, heats & fed)

    def _keeps(self, means: Means | None, what: str) -> BoolArray:
        """Rests that a means can cool or heat."""
        holds = None if means is None else getattr(means, what)
        if holds is None:
            return np.zeros(len(self.year), dtype=np.bool_)
        return np.asarray(holds(self.year, self._given))


def _without_engine(means: Means | None) -> Means | None:
    """A means that works whether or not an engine runs."""
    return None if means is None or means.engine is not None else means


def scaled(year: YearOfRests, factor: FloatLike) -> YearOfRests:
    """Return the year with all heat and the energy behind it made larger by a factor.

    A factor of shape (n_case, 1) gives what it scales a row for each case.
    """
    if np.all(factor == 1.0):
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


def _sorted_rests(way: Way, year: YearOfRests, spec: Spec) -> _Served:
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
    return _Served(on, plug, on & year.cooled & ~plug, on & year.heated & (heating is engine))
