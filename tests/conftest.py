"""What all tests share: few samples, where odds are not what is tested, and one thread each."""

import os
from pathlib import Path

import pytest

from restcab.runs.crew import THREAD_VARIABLES

# Before numpy is there: the threads of its linear algebra wait by turning, on the core of the
# other worker, and a quarter of all processor time went into that.
for name in THREAD_VARIABLES:
    os.environ.setdefault(name, "1")

from restcab.claims import scenarios  # noqa: E402
from restcab.odds import pairs  # noqa: E402
from restcab.studies import night  # noqa: E402

FEW = {
    (pairs, "SAMPLES"): 16,
    (pairs, "SEASON_SAMPLES"): 4,
    (pairs, "UNIT_SAMPLES"): 16,
    (pairs, "GUESS_SAMPLES"): 16,
    (scenarios, "SAMPLES"): 16,
    (night, "SAMPLES"): 16,
}
MANY = {place: getattr(*place) for place in FEW}

LONGEST = (
    # On a machine that has no machine code yet one worker makes it in the first of these, while
    # the second waits for EnergyPlus.
    "cli/test_readme.py",
    "outside/test_independent_engine.py",
    "outside/test_independent_boxes.py",
    "studies/test_agreement.py",
    "studies/test_size.py",
    "studies/test_regions.py",
    "outside/test_climate_fidelity.py",
    "cli/test_errors.py",
    "studies/test_inputs_matter.py",
    "output/test_shown.py",
    "cli/test_regions.py",
    "faults/test_fuzz_specs.py",
    "studies/test_claim.py",
    "studies/test_load.py",
)
"""Modules of ten seconds and more of processor time, of which each worker takes one at a time."""


def pytest_collection_modifyitems(items):
    """Begin with the longest modules, so that no worker is left with one at the end."""
    places = {Path(__file__).parent / name: place for place, name in enumerate(LONGEST)}
    items.sort(key=lambda item: places.get(item.path, len(LONGEST)))


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
