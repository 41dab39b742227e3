"""A year of one option in its own measures: hours, fuel, electricity, mass, what is held."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from restcab.spec.means import MEANS


class Run(NamedTuple):
    """What one means burns and buys in a year.

    Parameters
    ----------
    engine_h
        Hours that its engine runs [h].
    fuel_l
        Diesel it burns during the rests [L].
    plug_h, plug_kwh
        Hours at a plug [h], and shore electricity bought there [kWh].
    """

    engine_h: float = 0.0
    fuel_l: float = 0.0
    plug_h: float = 0.0
    plug_kwh: float = 0.0


@dataclass(frozen=True)
class Use:
    """A year of one option.

    Parameters
    ----------
    runs
        What burns diesel during the rests or hangs on a plug, by the word of the means.
    fuel_road_l, road_kwh
        Diesel burnt, and crank work done, on the road to put back what the rests took [L, kWh].
    fuel_mass_l
        Diesel that carrying the equipment takes [L].
    charger_kwh
        Shore electricity bought by the charger of the bank [kWh].
    electric_kwh
        Electricity that unit, heater, fans and pumps and hotel load use, from whatever source, on
        the road too [kWh].
    mass_kg
        Mass of the equipment [kg].
    bank_life_years, bank_life_remaining_years
        Years that a new bank lives, and that the declared one has left; infinite without one.
    held_frac, cooled_held_frac, heated_held_frac
        Share of all rests, of those that need cooling, and of those that need heating, that the
        option holds; 1 if there are none.
    """

    runs: Mapping[str, Run]
    fuel_road_l: float
    road_kwh: float
    fuel_mass_l: float
    charger_kwh: float
    electric_kwh: float
    mass_kg: float
    bank_life_years: float
    bank_life_remaining_years: float
    held_frac: float
    cooled_held_frac: float
    heated_held_frac: float

    @property
    def engine_h(self) -> float:
        """Hours of an engine [h]."""
        return sum(run.engine_h for run in self.runs.values())

    @property
    def plug_h(self) -> float:
        """Hours at a plug [h]."""
        return sum(run.plug_h for run in self.runs.values())

    @property
    def fuel_engine_l(self) -> float:
        """Diesel that engines burn during the rests [L]."""
        return sum(run.fuel_l for word, run in self.runs.items() if MEANS[word].engine)

    @property
    def fuel_heater_l(self) -> float:
        """Diesel that burners without an engine take [L]."""
        return sum(run.fuel_l for word, run in self.runs.items() if not MEANS[word].engine)

    @property
    def grid_kwh(self) -> float:
        """All shore electricity [kWh]."""
        return self.charger_kwh + sum(run.plug_kwh for run in self.runs.values())

    @property
    def fuel_l(self) -> float:
        """All diesel [L]."""
        return self.fuel_engine_l + self.fuel_heater_l + self.fuel_road_l + self.fuel_mass_l
