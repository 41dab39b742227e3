"""How many rests of a season may fail, by hand."""

import pytest

from restcab.season.held import failures_allowed
from restcab.spec.reading import default_spec


@pytest.mark.parametrize(
    ("share", "rests", "may_fail"),
    # 10 % of 153 are 15.3, 2 % are 3.06; 5 % of 100 are 5 and not 4; 1 % of 31 is none
    [(0.90, 153, 15), (0.98, 153, 3), (0.95, 100, 5), (0.99, 31, 0), (1.0, 365, 0)],
)
def test_whole_rests_that_may_fail(share, rests, may_fail):
    spec = default_spec((f"rest.hold_share={share}",))
    assert failures_allowed(spec, rests) == may_fail
