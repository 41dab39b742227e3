"""What all tests share: few samples, where odds are not what is tested."""

import pytest

from restcab.studies import claim_scenarios, size_odds

FEW = {
    (size_odds, "SAMPLES"): 16,
    (size_odds, "SEASON_SAMPLES"): 4,
    (size_odds, "UNIT_SAMPLES"): 16,
    (size_odds, "GUESS_SAMPLES"): 16,
    (claim_scenarios, "SAMPLES"): 16,
}
MANY = {place: getattr(*place) for place in FEW}


def _use(patch, samples):
    for (module, name), count in samples.items():
        patch.setattr(module, name, count)


@pytest.fixture(scope="session", autouse=True)
def _few_samples():
    """Odds take most of the time of ``size``; most tests ask for something else."""
    with pytest.MonkeyPatch.context() as patch:
        _use(patch, FEW)
        yield


@pytest.fixture(scope="module")
def many_samples():
    """As many samples as the commands take."""
    with pytest.MonkeyPatch.context() as patch:
        _use(patch, MANY)
        yield
