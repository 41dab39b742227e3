"""Years until a bank has to be replaced: one rule for all commands.

Wear by cycling and by the calendar add up (linear damage; Palmgren and Miner, from memory). Every
rest wears by its own depth, every hour by its own warmth. The tables count to 80 % of the rated
capacity; a bank kept longer or less long (``bank.end_capacity``) wears on in a straight line
(design assumption).
"""

from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.physics.battery.chemistry import chemistry
from restcab.physics.battery.life import joint_life_years, wear_frac
from restcab.season.scene import end_age_frac
from restcab.spec.model import Spec


class BankLife(NamedTuple):
    """Life of a bank.

    Parameters
    ----------
    years
        Years that a new one lives.
    remaining_years
        Years left to the declared one at its age.
    cycling_years, calendar_years
        Years a new one would live by charge and discharge alone, and by time and warmth alone.
    """

    years: float
    remaining_years: float
    cycling_years: float
    calendar_years: float


def bank_life(
    spec: Spec, depth_frac: FloatArray, ageing_per_year: FloatArray, duty_factor: float = 1.0
) -> BankLife:
    """Add up the wear of a year.

    Parameters
    ----------
    spec
        The truck: chemistry, age and end of life of its bank, rests in a year.
    depth_frac
        Share of the rated charge that each rest takes [-], shape (n_rest,); the rests stand for
        the ``money.rests_per_year`` of a year, spread evenly.
    ageing_per_year
        Share of its life lost in a year of days like that of each rest [1/year], shape (n_rest,).
    duty_factor
        Wear by cycling over that of one rest a day [-].
    """
    wear = float(wear_frac(depth_frac, chemistry(spec.bank.chemistry)).mean())
    return life_of_wear(spec, wear * duty_factor, float(np.mean(ageing_per_year)))


def life_of_wear(spec: Spec, wear_frac_per_rest: float, ageing_per_year: float) -> BankLife:
    """Add up wear by cycling and by the calendar.

    Parameters
    ----------
    spec
        As for `bank_life`.
    wear_frac_per_rest
        Share of its life to 80 % of the rated capacity that a rest wears it, on the mean [-].
    ageing_per_year
        Share of its life that a year of time and warmth takes [1/year].
    """
    end = end_age_frac(spec)
    worn = spec.money.rests_per_year_count * wear_frac_per_rest
    # A bank that is never discharged does not wear by cycling.
    cycling = end / worn if worn > 0.0 else np.inf
    calendar = end / ageing_per_year
    years = float(joint_life_years(cycling, calendar))
    return BankLife(years, years * (1.0 - spec.bank.age_frac), cycling, calendar)
