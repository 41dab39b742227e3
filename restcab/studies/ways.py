"""What each way to rest burns, draws and holds in a year, before money and emissions.

Every function works on arrays over the rests of a :class:`~restcab.studies.year.YearOfRests`; an
option is what cools, what heats, and what feeds the hotel load. In a rest in which an engine runs,
that engine serves everything it can. All options meet the same heat: what an idling engine adds
through the floor is not counted, which favours idling.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.engine_idle import (
    IdleLine,
    auxiliary_fuel_gal,
    heater_fuel_l,
    idle_fuel_gal,
    shaft_kwh,
)
from restcab.physics.sources import charging_table, recharge_fuel_gal
from restcab.spec.model import Spec
from restcab.spec.options import ENGINES, Way
from restcab.studies.bank_life import bank_life
from restcab.studies.bank_year import BankYear
from restcab.studies.factors import Factors
from restcab.studies.idling import idled_frac
from restcab.studies.refill import recharge_fuel_gal_per_kwh
from restcab.studies.scene import declared_bank_mass_kg
from restcab.studies.year import YearOfRests
from restcab.units import L_PER_GAL


@dataclass(frozen=True)
class Use:
    """A year of one option.

    Parameters
    ----------
    idle_h, apu_h, plug_h
        Hours of main engine, auxiliary unit, and at a plug [h].
    fuel_idle_l, fuel_apu_l, fuel_heater_l
        Diesel burnt during the rests [L].
    fuel_road_l, road_kwh
        Diesel burnt, and crank work done, on the road to put back what the rests took [L, kWh].
    fuel_mass_l
        Diesel that carrying the equipment takes [L].
    grid_kwh
        Shore electricity bought [kWh].
    electric_kwh
        Electricity that unit, heater and hotel load use, from whatever source [kWh].
    mass_kg
        Mass of the equipment [kg].
    bank_life_years, bank_life_remaining_years
        Years that a new bank lives, and that the declared one has left; infinite without one.
    held_frac, cooled_held_frac, heated_held_frac
        Share of all rests, of those that need cooling, and of those that need heating, that the
        option holds; 1 if there are none.
    """

    idle_h: float
    apu_h: float
    plug_h: float
    fuel_idle_l: float
    fuel_apu_l: float
    fuel_heater_l: float
    fuel_road_l: float
    road_kwh: float
    fuel_mass_l: float
    grid_kwh: float
    electric_kwh: float
    mass_kg: float
    bank_life_years: float
    bank_life_remaining_years: float
    held_frac: float
    cooled_held_frac: float
    heated_held_frac: float

    def with_rests_of(self, *parts: "Use") -> "Use":
        """Return the equipment of this one with the rests of others, added up."""
        names = (
            "idle_h", "apu_h", "plug_h", "fuel_idle_l", "fuel_apu_l", "fuel_heater_l",
            "fuel_road_l", "road_kwh", "grid_kwh", "electric_kwh",
        )  # fmt: skip
        return replace(self, **{n: sum(getattr(part, n) for part in parts) for n in names})

    @property
    def fuel_l(self) -> float:
        """All diesel [L]."""
        return (
            self.fuel_idle_l + self.fuel_apu_l + self.fuel_heater_l
            + self.fuel_road_l + self.fuel_mass_l
        )  # fmt: skip


@dataclass(frozen=True)
class _Rests:
    """Which rests of an option run an engine or hang on a plug; arrays of shape (n_rest,)."""

    engine: str
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
    year = scaled(year, factors["model.load"])
    rests = _rests(way, year, spec)
    engine_h, engine_gal = _engine(rests, year, spec, factors)
    main = rests.engine in ("idling", "start-stop")
    # Not in every rest that asks for it is the main engine idled: see restcab.studies.idling.
    idled = idled_frac(spec, year) if rests.engine == "idling" else 1.0

    def mixed(of: Callable[[_Rests], FloatArray]) -> FloatArray:
        """Mean of a rest that is idled, if it asks for that, and of the same rest without."""
        return np.asarray(idled * of(rests) + (1.0 - idled) * of(rests.without_engine()))

    alternator_wh = mixed(lambda r: _alternator_wh(way, r, year, factors))
    road_gal = recharge_fuel_gal(alternator_wh, recharge_fuel_gal_per_kwh(spec))
    heater_l = heater_fuel_l(year.heater_wh, spec.heater.output_w, spec.heater.fuel_l_per_h)
    burns = year.heated & (way.heats == "heater")
    mass_kg = equipment_mass_kg(way, spec)
    found = spec.options.shore_share_frac
    chance = np.where(rests.plug_on, found, 1.0)

    def held_share(what: str, where: BoolArray) -> float:
        held = mixed(lambda r: getattr(_held(way, r, year, factors), what).astype(np.float64))
        return _share(held * chance, where)

    life, left = _bank_life(way, year, spec)
    money = spec.money
    return Use(
        idle_h=year.total(engine_h) * idled if main else 0.0,
        apu_h=0.0 if main else year.total(engine_h),
        plug_h=year.total(rests.plug_on * found) * year.hours,
        fuel_idle_l=year.total(engine_gal) * idled * L_PER_GAL if main else 0.0,
        fuel_apu_l=0.0 if main else year.total(engine_gal) * L_PER_GAL,
        fuel_heater_l=year.total(np.where(burns, heater_l, 0.0)),
        fuel_road_l=year.total(road_gal) * L_PER_GAL,
        road_kwh=year.total(_crank_kwh(alternator_wh, spec)),
        fuel_mass_l=mass_kg / 1000.0 * money.mass_fuel_frac_per_t * money.driving_fuel_l,
        grid_kwh=year.total(
            _grid_wh(way, rests, year, factors) * found
            + mixed(lambda r: _charger_wh(way, r, year, factors))
        )
        / 1000.0,
        electric_kwh=year.total(mixed(lambda r: _electric_wh(way, r, year)) * chance) / 1000.0,
        mass_kg=mass_kg,
        bank_life_years=life * factors["model.bank_life"],
        bank_life_remaining_years=left * factors["model.bank_life"],
        held_frac=held_share("whole", np.ones(len(year), dtype=np.bool_)),
        cooled_held_frac=held_share("cooling", year.cooled),
        heated_held_frac=held_share("heating", year.heated),
    )


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


def _rests(way: Way, year: YearOfRests, spec: Spec) -> _Rests:
    """Sort the rests by what runs in them."""
    none = np.zeros(len(year), dtype=np.bool_)
    engine = next((word for word in (way.cools, way.heats) if word in ENGINES), "")
    on = none
    if engine:
        on = (year.cooled & (way.cools == engine)) | (year.heated & (way.heats == engine))
        if spec.options.idle_when == "always" and way.cools == way.heats == engine:
            on = ~none
    plug = none
    if way.cools == "shore":
        plug = ~none
    elif way.heats == "shore":
        plug = year.heated & ~on
    return _Rests(engine, on, plug, on & year.cooled, on & year.heated & (way.heats == engine))


def _engine(
    rests: _Rests, year: YearOfRests, spec: Spec, factors: Factors
) -> tuple[FloatArray, FloatArray]:
    """Running hours [h] and fuel [gal] of the option's engine in each rest."""
    if not rests.engine:
        return np.zeros(len(year)), np.zeros(len(year))
    kind = "apu" if rests.engine == "apu" else "idle"
    cooling_wh = np.where(rests.cooled_by_engine, year.cooling_wh, 0.0)
    heating_wh = np.where(rests.heated_by_engine, year.heating_wh, 0.0)
    run_frac = np.ones(len(year))
    if rests.engine == "start-stop":
        asked = np.maximum(
            cooling_wh / factors["idle.ac_capacity"], heating_wh / factors["idle.heat_capacity"]
        )
        run_frac = np.clip(asked / year.hours, factors["start_stop.run_frac"], 1.0)
    hours = np.where(rests.engine_on, run_frac * year.hours, 0.0)
    own_w = factors["apu.electric" if kind == "apu" else "idle.truck_electric"]
    electric_wh = np.where(rests.engine_on, year.hotel_wh, 0.0) + own_w * hours
    shaft = shaft_kwh(
        cooling_wh, factors[f"{kind}.ac_cop"], electric_wh, factors[f"{kind}.alternator"],
        spec.charging.belt_efficiency_frac,
    )  # fmt: skip
    if kind == "apu":
        fuel = auxiliary_fuel_gal(
            factors["apu.fuel_base"], factors["apu.fuel_per_kwh"], hours, shaft
        )
        return hours, fuel
    line = IdleLine(
        factors["idle.fuel_base"], factors["idle.fuel_per_kwh"], factors["idle.fuel_per_100rpm"]
    )
    loaded = rests.cooled_by_engine | rests.heated_by_engine
    rpm = np.where(loaded, factors["idle.rpm_high"], factors["idle.rpm_low"])
    return hours, idle_fuel_gal(line, hours, shaft, rpm)


def _bank_of(way: Way, year: YearOfRests) -> BankYear:
    return year.bank if way.heats == "heater" else year.bank_without_heater


def _bank_life(way: Way, year: YearOfRests, spec: Spec) -> tuple[float, float]:
    """Years that a new bank lives, and that the declared one has left."""
    if way.cools != "battery":
        return np.inf, np.inf
    life = bank_life(spec, _bank_of(way, year).depth_frac, year.bank_ageing_per_year)
    return life.years, life.remaining_years


def _alternator_wh(way: Way, rests: _Rests, year: YearOfRests, factors: Factors) -> FloatArray:
    """Energy to be put back on the road after each rest [Wh]; an engine puts it back at once."""
    if way.cools == "battery":
        bank = _bank_of(way, year)
        return np.where(rests.engine_on | rests.plug_on, 0.0, bank.in_wh)
    drawn_wh = year.hotel_wh + (year.heater_electric_wh if way.heats == "heater" else 0.0)
    returned = year.bank_without_heater
    # The truck's own batteries carry the hotel load, at the charging efficiency of the bank.
    per_wh = returned.in_wh.sum() / max(float(returned.out_wh.sum()), 1e-9)
    energy_wh = np.where(rests.plug_on, 0.0, drawn_wh * max(per_wh, 1.0))
    if way.cools == "storage":
        cold_wh = np.minimum(year.cooling_wh, factors["storage.capacity"]) * year.cooled
        energy_wh = (
            energy_wh + cold_wh / (1.0 - factors["storage.loss"]) / factors["storage.charge_cop"]
        )
    return np.where(rests.engine_on, 0.0, energy_wh)


def _electric_wh(way: Way, rests: _Rests, year: YearOfRests) -> FloatArray:
    """Electricity used in each rest [Wh]."""
    used_wh = np.array(year.hotel_wh)
    if way.heats == "heater":
        used_wh += year.heater_electric_wh
    if way.heats == "shore":
        used_wh += np.where(rests.plug_on & year.heated, year.heating_wh, 0.0)
    if way.cools == "shore":
        used_wh += year.unit_wh
    if way.cools == "battery":
        bank = _bank_of(way, year)
        used_wh = np.where(rests.engine_on | rests.plug_on, used_wh, bank.out_wh + bank.direct_wh)
    return used_wh


def _crank_kwh(alternator_wh: FloatArray, spec: Spec) -> FloatArray:
    charging = spec.charging
    wiring = charging_table().constant["wiring_efficiency_frac"]
    chain = wiring * charging.alternator_efficiency_frac * charging.belt_efficiency_frac
    return np.asarray(alternator_wh / 1000.0 / chain)


def _grid_wh(way: Way, rests: _Rests, year: YearOfRests, factors: Factors) -> FloatArray:
    """Shore electricity in each rest [Wh]."""
    direct_wh = np.array(year.hotel_wh)
    if way.cools == "shore":
        direct_wh += year.unit_wh
    if way.heats == "heater":
        direct_wh += year.heater_electric_wh
    heat_wh = year.heating_wh * year.heated * (way.heats == "shore")
    return np.where(rests.plug_on, direct_wh / factors["shore.converter"] + heat_wh, 0.0)


def _charger_wh(way: Way, rests: _Rests, year: YearOfRests, factors: Factors) -> FloatArray:
    """Shore electricity of the charger that ``charging.shore`` gives the bank in each rest [Wh]."""
    if way.cools != "battery":
        return np.zeros(len(year))
    bought_wh = _bank_of(way, year).shore_wh / factors["shore.converter"]
    return np.where(rests.plug_on, 0.0, bought_wh)


class _Held(NamedTuple):
    """Rests that an option holds: in all, and seen from cooling or heating alone."""

    whole: BoolArray
    cooling: BoolArray
    heating: BoolArray


def _held(way: Way, rests: _Rests, year: YearOfRests, factors: Factors) -> _Held:
    """Rests that the option holds, a place with a plug taken for granted."""
    cools = (~year.cooled) | np.where(
        rests.cooled_by_engine, _engine_holds(rests, year.cooling_peak_w, "cool", factors),
        _cools(way, year, factors),
    )  # fmt: skip
    heats = (~year.heated) | np.where(
        rests.heated_by_engine, _engine_holds(rests, year.heating_peak_w, "heat", factors),
        _heats(way, year, factors),
    )  # fmt: skip
    fed = np.ones(len(year), dtype=np.bool_)
    if way.cools == "battery":
        fed = _bank_of(way, year).carried | rests.engine_on | rests.plug_on
    return _Held(np.asarray(cools & heats & fed), np.asarray(cools & fed), np.asarray(heats & fed))


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
    year = scaled(year, factors["model.load"])
    rests = _rests(way, year, spec)
    chance = np.where(rests.plug_on, spec.options.shore_share_frac, 1.0)
    return _held(way, rests, year, factors).whole.astype(np.float64), chance


def _engine_holds(rests: _Rests, peak_w: FloatArray, what: str, factors: Factors) -> BoolArray:
    name = {"cool": "ac_capacity", "heat": "heat_capacity"}[what]
    if rests.engine == "apu":
        name = f"{what}_capacity"
    kind = "apu" if rests.engine == "apu" else "idle"
    return np.asarray(peak_w <= factors[f"{kind}.{name}"])


def _cools(way: Way, year: YearOfRests, factors: Factors) -> BoolArray:
    if way.cools in ("battery", "shore"):
        return year.unit_held
    if way.cools == "storage":
        kept_wh = factors["storage.capacity"] * (1.0 - factors["storage.loss"])
        enough = (year.cooling_wh <= kept_wh) & (year.cooling_peak_w <= factors["storage.rate"])
        return np.asarray(enough)
    return np.zeros(len(year), dtype=np.bool_)


def _heats(way: Way, year: YearOfRests, factors: Factors) -> BoolArray:
    if way.heats == "heater":
        return year.heater_held
    if way.heats == "shore":
        return np.asarray(year.heating_peak_w <= factors["shore.heat_capacity"])
    return np.zeros(len(year), dtype=np.bool_)


def equipment_mass_kg(way: Way, spec: Spec) -> float:
    """Mass that an option adds to the truck [kg]."""
    options = spec.options
    parts = {
        "idling": 0.0,
        "start-stop": options.start_stop_mass_kg,
        "apu": options.apu_mass_kg,
        "storage": options.storage_mass_kg,
        "heater": options.heater_mass_kg,
        "shore": options.shore_mass_kg,
        "": 0.0,
    }
    batteries_kg = float(declared_bank_mass_kg(spec, spec.bank.bank_ah))
    parts["battery"] = batteries_kg + options.unit_mass_kg
    total = sum(parts[word] for word in {way.cools, way.heats})
    # On shore power the declared unit cools, without its bank.
    return total + (options.unit_mass_kg if way.cools == "shore" else 0.0)
