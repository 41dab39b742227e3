"""Rests that an option does not hold: the driver starts the engine, as without the option.

Nothing is saved on such a night. What the option would have burnt, drawn and emitted in it gives
way to what the first option burns there, as far as that truck's habit of idling goes: a driver
who idles in half of the hot nights idles in half of those that the option leaves to him. Prices,
mass and the wear of a bank stay: the equipment is on the truck all the same.
"""

from dataclasses import replace

import numpy as np

from restcab.options.factors import Factors
from restcab.options.idling import same_habit
from restcab.options.ways import kept_rests, use_of
from restcab.options.year import YearOfRests
from restcab.options.yearly_use import Use
from restcab.physics.arrays import FloatArray
from restcab.spec.model import Spec
from restcab.spec.options import Way


def with_unheld(use: Use, way: Way, year: YearOfRests, spec: Spec, factors: Factors) -> Use:
    """Let the rests that an option does not hold burn what the first option burns in them.

    Parameters
    ----------
    use
        A year of the option, from :func:`restcab.options.ways.use_of`.
    way
        The option; the first of ``options.compare`` is left as it is.
    year, spec, factors
        As for ``use_of``.

    Returns
    -------
    Use
        What is held stays what the option itself holds.
    """
    first = spec.options.ways[0]
    if way == first:
        return use
    kept, chance = kept_rests(way, year, spec, factors)
    if bool(np.all(kept * chance == 1.0)):
        return use
    # Without a plug nothing is drawn from one: `use_of` counts that share of the rests already.
    own = _in_part(way, kept, year, spec, factors)
    instead = _in_part(first, 1.0 - kept * chance, year, spec, factors)
    return use.with_rests_of(own, instead)


def _in_part(
    way: Way, counted_frac: FloatArray, year: YearOfRests, spec: Spec, factors: Factors
) -> Use:
    """A year of an option, each rest counted in part, idled as often as in the whole year."""
    part = replace(year, counted_frac=counted_frac)
    return use_of(way, part, same_habit(spec, year, part), factors)
