"""Work on several cores: in order, within what the environment allows, and stopped by a fault."""

import os
import threading
import time

import pytest

from restcab.physics import threads

ALLOWED = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()


@pytest.fixture(autouse=True)
def fresh():
    threads.cores.cache_clear()
    yield
    threads.cores.cache_clear()


@pytest.mark.parametrize(
    ("limit", "expected"), [("1", 1), ("0", ALLOWED), ("many", ALLOWED), (str(10**6), ALLOWED)]
)
def test_cores_are_those_allowed(monkeypatch, limit, expected):
    monkeypatch.setenv(threads.LIMIT, limit)
    assert threads.cores() == expected


@pytest.mark.parametrize("cores", [1, 2])
def test_results_come_in_order(monkeypatch, cores):
    monkeypatch.setattr(threads, "cores", lambda: cores)

    def work(number):
        time.sleep(0.02 if number == 0 else 0.0)
        return number, threading.get_ident()

    done = list(threads.side_by_side(work, range(6)))
    assert [number for number, _ in done] == list(range(6))
    assert (len({thread for _, thread in done}) > 1) == (cores > 1)


def test_a_fault_gives_up_what_has_not_begun(monkeypatch):
    monkeypatch.setattr(threads, "cores", lambda: 2)
    begun = []

    def work(number):
        begun.append(number)
        time.sleep(0.01)
        if number == 1:
            raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        list(threads.side_by_side(work, range(200)))
    assert len(begun) < 100
