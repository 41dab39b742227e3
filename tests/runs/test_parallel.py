"""Spreading work: the same results however they are spread, and nothing finished is lost."""

import math
import os
import signal

import pytest

from restcab.errors import InputError, WeatherError
from restcab.physics.threads import available_cores
from restcab.runs.crew import THREAD_VARIABLES
from restcab.runs.parallel import run_tasks
from restcab.weather.climates import read_climate

NUMBERS = [float(n) for n in range(12)]


def gathered(work, tasks, **how):
    found = {}
    run_tasks(work, tasks, found.__setitem__, **how)
    return found


@pytest.fixture(scope="module")
def cluster():
    distributed = pytest.importorskip("distributed", reason="Dask is not installed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None
    ) as running:
        yield running.scheduler_address


def test_results_carry_the_index_of_their_task():
    assert gathered(math.sqrt, NUMBERS) == {i: math.sqrt(n) for i, n in enumerate(NUMBERS)}


def test_processes_give_what_one_process_gives():
    assert gathered(math.sqrt, NUMBERS, jobs=2) == gathered(math.sqrt, NUMBERS)


def test_no_tasks_need_no_processes():
    assert gathered(math.sqrt, [], jobs=4) == {}


@pytest.mark.filterwarnings("default")  # the cluster's own threads and sockets
def test_a_cluster_gives_what_one_process_gives(cluster):
    assert gathered(math.sqrt, NUMBERS, cluster=cluster) == gathered(math.sqrt, NUMBERS)


@pytest.mark.parametrize("jobs", [1, 2])
def test_one_bad_task_does_not_stop_the_others(jobs):
    names = ["phoenix-az", "nowhere-1", "tampa-fl", "nowhere-2"]
    found = {}
    with pytest.raises(WeatherError, match="nowhere-1"):
        run_tasks(read_climate, names, found.__setitem__, jobs=jobs)
    assert sorted(found) == [0, 2]
    assert found[2].id == "tampa-fl"


@pytest.mark.parametrize("jobs", [1, 2])
def test_an_interrupt_passes_through_and_what_came_before_is_kept(jobs):
    found = {}

    def keep(index, result):
        found[index] = result
        if len(found) == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_tasks(math.sqrt, NUMBERS, keep, jobs=jobs)
    # What another process has finished by then is handed over too.
    assert len(found) == 3 if jobs == 1 else 3 <= len(found) < len(NUMBERS)
    assert all(value == math.sqrt(NUMBERS[index]) for index, value in found.items())


def test_workers_do_linear_algebra_in_one_thread_and_leave_ctrl_c_to_the_parent(monkeypatch):
    for name in THREAD_VARIABLES:  # which the tests themselves set
        monkeypatch.delenv(name, raising=False)
    before = dict(os.environ)
    threads = gathered(os.getenv, ["OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"], jobs=2)
    handlers = gathered(signal.getsignal, [signal.SIGINT, signal.SIGINT], jobs=2)
    assert set(threads.values()) == {"1"}
    assert set(handlers.values()) == {signal.SIG_IGN}
    assert dict(os.environ) == before


def test_a_bug_is_not_hidden():
    with pytest.raises(ValueError, match=r"math domain error|nonnegative"):
        run_tasks(math.sqrt, [1.0, -1.0, 4.0], lambda *_: None, jobs=2)


@pytest.mark.filterwarnings("default")
def test_a_cluster_that_is_not_there_is_a_message():
    pytest.importorskip("distributed", reason="Dask is not installed")
    with pytest.raises(InputError, match=r"--cluster: 'nonsense://nowhere:1' cannot be reached"):
        gathered(math.sqrt, NUMBERS, cluster="nonsense://nowhere:1")


def test_at_least_one_core_is_available():
    assert available_cores() >= 1
