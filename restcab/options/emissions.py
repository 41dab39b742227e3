"""Emissions of an option: tailpipe, and apart from it upstream and grid."""

from typing import NamedTuple

from restcab.options.factors import Factors
from restcab.options.yearly_use import Use
from restcab.spec.means import MEANS, Emits, Means
from restcab.spec.options import Options
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
    """Sum over what runs in the rests, by the hour or by fuel, and the road by crank work.

    The road's extra fuel for carrying the equipment is priced at the same crank work per fuel as
    the recharge would be, which is what a driving engine gives.
    """
    mass_kwh = 0.0
    if use.fuel_mass_l > 0.0:
        mass_kwh = use.fuel_mass_l / L_PER_GAL * factors["diesel.lhv"] * ROAD_EFFICIENCY_FRAC
    grams = (use.road_kwh + mass_kwh) * factors[f"road.{what}.{options.model_years}"]
    for word, run in use.runs.items():
        emits = _emits(MEANS[word], options)
        if emits is not None:
            name: str = getattr(emits, what)
            if emits.by_engine_years:
                name = f"{name}.{options.model_years}"
            grams += (run.engine_h if emits.per == "hour" else run.fuel_l / L_PER_GAL) * factors[
                name
            ]
    return float(grams / 1000.0)


def _emits(means: Means, options: Options) -> Emits | None:
    """Tailpipe factors of a means, as fitted out."""
    extra = means.extra
    if extra is not None and getattr(options, extra.attribute) == extra.word:
        return extra.emits
    return means.emits
