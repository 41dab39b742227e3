"""What all tests share: few samples, where odds are not what is tested."""

import pytest

from restcab.claims import scenarios
from restcab.odds import pairs
from restcab.studies import night

FEW = {
    (pairs, "SAMPLES"): 16,
    (pairs, "SEASON_SAMPLES"): 4,
    (pairs, "UNIT_SAMPLES"): 16,
    (pairs, "GUESS_SAMPLES"): 16,
    (scenarios, "SAMPLES"): 16,
    (night, "SAMPLES"): 16,
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


@pytest.fixture(scope="session", autouse=True)
def _all_letters():
    """Pages are compared with their degree signs, whatever the locale that runs the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LC_ALL", "C.UTF-8")
        yield


@pytest.fixture(scope="module")
def many_samples():
    """As many samples as the commands take."""
    with pytest.MonkeyPatch.context() as patch:
        _use(patch, MANY)
        yield
