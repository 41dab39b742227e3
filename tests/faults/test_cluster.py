"""A Dask cluster that loses workers, or is lost: never a hang, and what is finished is kept."""

import logging
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

import restcab
from restcab.cli.main import main
from restcab.fleet.file import load_fleet
from restcab.runs import cache, parallel
from restcab.runs.crew import WorkerLostError
from restcab.runs.parallel import run_tasks
from restcab.studies import regions as regions_module
from restcab.studies.regions import regions

ROOT = Path(restcab.__file__).parents[1]
SPEC = str(ROOT / "examples" / "plain-box.toml")
CLIMATES = ["phoenix-az", "duluth-mn", "tampa-fl"]
CLUSTER = """
import sys
from distributed import LocalCluster

if __name__ == "__main__":
    workers = int(sys.argv[1])
    with LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster:
        pids = [nanny.process.process.pid for nanny in cluster.workers.values()]
        print(cluster.scheduler_address, *pids, flush=True)
        sys.stdin.read()
"""
pytestmark = pytest.mark.filterwarnings("default")  # Dask's own threads and sockets


class Cluster:
    """A scheduler in a process of its own, and its workers in others."""

    def __init__(self, folder, workers):
        pytest.importorskip("distributed", reason="Dask is not installed")
        program = folder / "cluster.py"
        program.write_text(CLUSTER)
        path = os.pathsep.join([str(ROOT), str(ROOT / "tests")])
        self.process = subprocess.Popen(
            [sys.executable, str(program), str(workers)], stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, start_new_session=True,
            env=os.environ | {"PYTHONPATH": path},
        )  # fmt: skip
        self.address, *pids = self.process.stdout.readline().split()
        self.workers = [int(pid) for pid in pids]

    def lose_a_worker(self):
        os.kill(self.workers.pop(), signal.SIGKILL)

    def lose_the_scheduler(self):
        self.process.kill()

    def freeze_the_scheduler(self):
        self.process.send_signal(signal.SIGSTOP)

    def end(self):
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.communicate()


@pytest.fixture
def cluster(tmp_path):
    running = []

    def start(workers):
        running.append(Cluster(tmp_path, workers))
        return running[0]

    yield start
    for each in running:
        each.end()


@pytest.fixture(scope="module")
def fleet():
    return load_fleet(SPEC, (), CLIMATES)


@pytest.fixture(scope="module")
def here(fleet, many_samples):
    """What one process finds; a cluster's workers take no fewer samples for being tested."""
    return regions(fleet, jobs=1, keep=False)


@pytest.mark.slow
def test_a_worker_lost_while_it_works_costs_no_row(tmp_path, cluster, fleet, here, monkeypatch):
    some, lost = cluster(2), []  # with the machine code that is kept already
    monkeypatch.setenv(cache.DIRECTORY_VARIABLE, str(tmp_path))

    def tell(*_):
        if not lost:
            lost.append(some.workers[-1])
            some.lose_a_worker()

    there = regions(fleet, cluster=some.address, on_progress=tell)
    assert lost
    assert there.frame.equals(here.frame)
    assert there.values == here.values


def test_a_lost_scheduler_is_one_message_and_what_came_is_kept(cluster):
    some, found, talkative = cluster(1), {}, []
    client = logging.getLogger("distributed.client")

    def keep(index, result):
        found[index] = result
        talkative.append(client.isEnabledFor(logging.CRITICAL))
        some.lose_the_scheduler()

    begin = time.monotonic()
    with pytest.raises(WorkerLostError, match="the cluster was lost while it worked") as caught:
        run_tasks(time.sleep, [0.0, *[0.5] * 200], keep, cluster=some.address)
    assert time.monotonic() - begin < 60.0
    assert caught.value.exit_code == 1
    assert len(str(caught.value).splitlines()) == 1
    assert "What was finished is kept" in str(caught.value)
    assert 0 < len(found) < 201
    # Dask's own tracebacks are kept back for as long as it works, and no longer.
    assert not any(talkative)
    assert client.isEnabledFor(logging.CRITICAL)


@pytest.mark.slow
def test_a_scheduler_lost_in_regions_is_one_line_and_the_run_goes_on_from_there(
    tmp_path, cluster, fleet, here, monkeypatch, capfd
):
    some, save, rows = cluster(1), cache.save, []
    monkeypatch.setenv(cache.DIRECTORY_VARIABLE, str(tmp_path))

    def save_one(kind, key, arrays):
        save(kind, key, arrays)
        if kind == regions_module._PRICED:
            rows.append(key)
            some.lose_the_scheduler()

    monkeypatch.setattr(cache, "save", save_one)
    words = ["regions", SPEC, "--climates", ",".join(CLIMATES), "--cluster", some.address]
    assert main(words) == 1
    monkeypatch.setattr(cache, "save", save)
    out, err = capfd.readouterr()
    assert out == ""
    assert err.startswith("restcab: the cluster was lost while it worked (")
    assert len(err.splitlines()) == 1
    assert 0 < len(rows) < len(CLIMATES)
    told = []
    again = regions(fleet, jobs=1, on_progress=lambda *what: told.append(what))
    assert told[0] == (len(rows), len(CLIMATES), "read back")
    assert again.frame.equals(here.frame)


def test_a_cluster_without_a_worker_is_given_up(cluster, monkeypatch):
    some = cluster(0)
    monkeypatch.setattr(parallel, "WORKERLESS_S", 1.0)
    with pytest.raises(WorkerLostError, match="the cluster has had no worker for 1 s"):
        run_tasks(abs, [1.0, 2.0], lambda *_: None, cluster=some.address)


@pytest.mark.parametrize("later_s", [0.0, 0.5])
def test_a_scheduler_that_stands_still_is_given_up(cluster, monkeypatch, later_s):
    """Its machine goes on taking what is sent, so that the connection looks alive.

    Half a second later the next pieces are done as well: they are told of, and cannot be fetched.
    """
    some, found = cluster(1), []
    monkeypatch.setattr(parallel, "WORKERLESS_S", 2.0)

    def keep(index, result):
        found.append(index)
        time.sleep(later_s)
        some.freeze_the_scheduler()

    begin = time.monotonic()
    with pytest.raises(WorkerLostError, match=r"has not answered for 2 s\. What was") as it:
        run_tasks(time.sleep, [0.0, *[0.1] * 200], keep, cluster=some.address)
    assert time.monotonic() - begin < 60.0
    assert it.value.exit_code == 1
    assert 0 < len(found) < 201


@pytest.fixture
def mute():
    """Address of somebody who takes every connection and never says a word."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        yield f"tcp://127.0.0.1:{listening.getsockname()[1]}"


def test_who_takes_a_connection_and_says_nothing_is_no_scheduler(mute):
    """In a process of its own: a hang would be the end of this one."""
    pytest.importorskip("distributed", reason="Dask is not installed")
    words = ["regions", SPEC, "--climates", CLIMATES[0], "--no-cache", "--cluster", mute]
    run = subprocess.run(
        [sys.executable, "-m", "restcab", *words], capture_output=True, text=True, timeout=90,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert run.returncode == 2
    assert run.stdout == ""
    assert run.stderr == (
        f"restcab: --cluster: {mute!r} cannot be reached: no greeting within 10 s; "
        "allowed: the address of a Dask scheduler, such as tcp://host:8786\n"
    )
