"""Emissions of an option: tailpipe, and apart from it upstream and grid."""

from typing import NamedTuple

from restcab.spec.options import Options
from restcab.studies.factors import Factors
from restcab.studies.ways import Use
from restcab.units import L_PER_GAL

ROAD_EFFICIENCY_FRAC = 0.42
"""Brake efficiency on the road: 42 to 46 % since 2010 (from memory)."""


class Emissions(NamedTuple):
    """Kilograms in a year.

    Parameters
    ----------
    co2_kg
        Tailpipe carbon dioxide, that of the recharge on the road included.
    co2_upstream_kg, co2_grid_kg
        Of making the diesel; of shore electricity with its grid losses.
    nox_kg, pm_kg
        Tailpipe nitrogen oxides and particles; what the grid's plants give off is not counted.
    """

    co2_kg: float
    co2_upstream_kg: float
    co2_grid_kg: float
    nox_kg: float
    pm_kg: float


def emissions(use: Use, factors: Factors, options: Options) -> Emissions:
    """Work out the emissions of a year.

    Parameters
    ----------
    use
        Hours, fuel and electricity.
    factors
        Emission factors.
    options
        Model years of the main engine, filter of the auxiliary unit, grid.
    """
    fuel_gal = use.fuel_l / L_PER_GAL
    sold_kwh = use.grid_kwh / (1.0 - factors["grid.losses"])
    return Emissions(
        co2_kg=fuel_gal * factors["diesel.co2"],
        co2_upstream_kg=fuel_gal * factors["diesel.co2_upstream"],
        co2_grid_kg=sold_kwh * factors[f"grid.co2.{options.grid}"],
        nox_kg=_tailpipe_kg("nox", use, factors, options),
        pm_kg=_tailpipe_kg("pm", use, factors, options),
    )


def _tailpipe_kg(what: str, use: Use, factors: Factors, options: Options) -> float:
    """Idling and auxiliary engines by the hour, the heater by fuel, the road by crank work.

    The road's extra fuel for carrying the equipment is priced at the same crank work per fuel as
    the recharge would be, which is what a driving engine gives.
    """
    model_years = options.model_years
    filtered = what == "pm" and options.apu_filter == "fitted"
    mass_kwh = 0.0
    if use.fuel_mass_l > 0.0:
        mass_kwh = use.fuel_mass_l / L_PER_GAL * factors["diesel.lhv"] * ROAD_EFFICIENCY_FRAC
    grams = (
        use.idle_h * factors[f"idle.{what}.{model_years}"]
        + use.apu_h * factors["apu.pm_filtered" if filtered else f"apu.{what}"]
        + use.fuel_heater_l / L_PER_GAL * factors[f"heater.{what}"]
        + (use.road_kwh + mass_kwh) * factors[f"road.{what}.{model_years}"]
    )
    return grams / 1000.0
