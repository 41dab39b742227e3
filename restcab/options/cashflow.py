"""Cash flows of an option: what they are worth today, as a level yearly cost, and payback.

Interest is reckoned by numpy-financial.
"""

import math
from functools import lru_cache

import numpy as np

from restcab.physics.arrays import FloatArray

_INTEREST_LEAST_FRAC = 1e-7
"""A year's interest below this counts as none: over 10 years it is half a millionth of the cost."""


def cash_flows(
    first_usd: float,
    yearly_usd: float,
    years: float,
    *,
    replacement_usd: float = 0.0,
    replacement_years: float = math.inf,
    replacement_first_years: float | None = None,
    resale_usd: float = 0.0,
) -> FloatArray:
    """Lay an option's costs out by year; costs are negative.

    Parameters
    ----------
    first_usd
        Paid at the start [USD].
    yearly_usd
        Paid at the end of each year [USD]; of the last in part if ``years`` is not whole.
    years
        Years judged, above 0.
    replacement_usd, replacement_years
        Cost [USD] and life of what is replaced while in use; paid at the end of the year in which
        it falls (at the start if none is left), and not at the very end.
    replacement_first_years
        Life left to the first one, if it was not new [years].
    resale_usd
        What the equipment brings at the end [USD].

    Returns
    -------
    ndarray
        Flows at the ends of years 0, 1, 2, ... [USD].
    """
    count = math.ceil(years - 1e-9)
    flows = np.zeros(count + 1)
    flows[0] = -first_usd
    flows[1:] = -yearly_usd
    flows[-1] *= years - (count - 1)
    due = replacement_years if replacement_first_years is None else replacement_first_years
    # Once within a year at most often: a bank that dies weekly is a price, not a schedule.
    while replacement_usd > 0.0 and replacement_years > 0.0 and due < years - 1e-9:
        flows[math.ceil(due - 1e-9)] -= replacement_usd
        due += replacement_years
    flows[-1] += resale_usd
    return flows


def net_present_usd(discount_frac: float, flows: FloatArray) -> float:
    """Value today of flows at the ends of years 0, 1, 2, ... [USD].

    Parameters
    ----------
    discount_frac
        Real discount rate per year [-], above -1.
    flows
        Flows [USD].
    """
    import numpy_financial as npf

    return float(npf.npv(discount_frac, flows))


def level_cost_usd(net_present_cost_usd: float, discount_frac: float, years: float) -> float:
    """Equal cost at the end of each year with the same present value [USD].

    Parameters
    ----------
    net_present_cost_usd
        Present value [USD].
    discount_frac
        Real discount rate per year [-], above -1.
    years
        Years, above 0; need not be whole.
    """
    return net_present_cost_usd * _level_cost_of_one(discount_frac, years)


@lru_cache(maxsize=64)
def _level_cost_of_one(discount_frac: float, years: float) -> float:
    """Share of a present value that each year pays back; options by the thousand have the same."""
    import numpy_financial as npf

    # Its annuity loses its digits where a year's interest is next to nothing.
    rate = discount_frac if abs(discount_frac) > _INTEREST_LEAST_FRAC else 0.0
    return -float(npf.pmt(rate, years, 1.0))


def payback_years(flows: FloatArray, baseline: FloatArray) -> float | None:
    """Years after which an option has cost no more than the baseline ever since, undiscounted.

    Parameters
    ----------
    flows, baseline
        Flows of the option and of what it is measured against [USD], of equal length.

    Returns
    -------
    float or None
        Years, read from a straight line within the year; 0 if it never cost more; None if it is
        still behind at the end.
    """
    ahead = np.cumsum(flows - baseline)
    if ahead[-1] < 0.0:
        return None
    behind = np.flatnonzero(ahead < 0.0)
    if behind.size == 0:
        return 0.0
    last = int(behind[-1])
    return float(last + ahead[last] / (ahead[last] - ahead[last + 1]))
