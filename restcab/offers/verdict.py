"""What is said of a pair on offer in one place, and what it must do."""

from dataclasses import dataclass
from typing import NamedTuple

from restcab.duty.bank_course import BankYear
from restcab.duty.life import BankLife
from restcab.offers.pairs import Pair

UNIT, BANK, ODDS, WEEK, CURRENT = "unit", "bank", "odds", "week", "current"
"""What a pair can fail on."""
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Judged:
    """One pair in one place.

    Parameters
    ----------
    pair
        The pair.
    rest
        Index of the rest of the season that decides its bank.
    rests, cool
        Rests of the season, and those that the unit keeps cool, bank or no bank.
    held_frac
        Share of them held exactly as declared, with the bank new [-].
    empty, warm
        Rests with the bank empty before the end, and rests too warm although it was not.
    worn_held_frac
        The same share with the bank at the end of its life.
    probability_frac, worn_probability_frac
        Of holding the deciding rest, with the bank new and at the end of its life.
    peak_w
        Highest electric draw at the bank [W].
    refilled_in_time
        Whether the drive refills the bank after the rest that takes most of it.
    life
        Years that the bank lives.
    year
        The bank through the rests of the year.
    week_carried
        Whether the bank carries the week of duty around that rest again and again; None: not
        asked, for it fails otherwise.
    """

    pair: Pair
    rest: int
    rests: int
    cool: int
    held_frac: float
    empty: int
    warm: int
    worn_held_frac: float
    probability_frac: float
    worn_probability_frac: float
    peak_w: float
    refilled_in_time: bool
    life: BankLife
    year: BankYear
    week_carried: bool | None = None


class Wanted(NamedTuple):
    """What a pair must do.

    Parameters
    ----------
    share_frac
        Share of the season's rests to be held [-].
    confidence_frac
        Probability of holding the deciding rest [-]; 0: not asked for.
    worn
        Whether it must do so with its bank at the end of its life, or new.
    """

    share_frac: float
    confidence_frac: float
    worn: bool

    def misses(self, one: Judged) -> list[str]:
        """Return what one pair fails on in one place, the week of duty left out."""
        held = one.worn_held_frac if self.worn else one.held_frac
        odds = one.worn_probability_frac if self.worn else one.probability_frac
        n_rest = one.rests
        found = []
        if held < self.share_frac - _ROUNDING:
            cool_frac = one.cool / n_rest
            found.append(BANK if cool_frac >= self.share_frac - _ROUNDING else UNIT)
        if odds < self.confidence_frac:
            found.append(ODDS)
        return found

    def met_by(self, one: Judged) -> bool:
        """Whether one pair does all but, perhaps, carry the week of duty."""
        return not self.misses(one)
