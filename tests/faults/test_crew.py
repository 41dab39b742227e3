"""Worker processes: none outlives its parent, none brings it down, what is finished is kept."""

import math
import os
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest
from faults import tasks
from support import use_own_cache

import restcab
from restcab.cli.main import main
from restcab.errors import InputError
from restcab.runs import parallel
from restcab.runs.crew import Crew, TaskError, WorkerLostError
from restcab.runs.parallel import run_tasks
from restcab.studies import regions

ROOT = Path(restcab.__file__).parents[1]


def test_a_worker_that_dies_once_is_replaced(tmp_path):
    """The task kills its worker the first time: the second worker finds the mark and works."""
    found = {}
    marks = [str(tmp_path / name) for name in "abc"]
    run_tasks(tasks.die_once, marks, found.__setitem__, jobs=2)
    assert found == dict(enumerate(marks))


def test_a_task_that_kills_two_workers_is_one_message_and_the_others_are_kept():
    found = {}
    with pytest.raises(WorkerLostError, match=r"by signal SIGKILL.*memory") as caught:
        run_tasks(tasks.die_if_negative, [1.0, -1.0, 2.0, 3.0], found.__setitem__, jobs=2)
    assert caught.value.exit_code == 1
    assert found == {0: 1.0, 2: 2.0, 3: 3.0}


def test_many_bad_tasks_do_not_end_a_run_in_which_others_are_done():
    found = {}
    bad_and_good = [1.0, *[-1.0] * 6, 2.0]
    with pytest.raises(WorkerLostError, match="the one that tried again"):
        run_tasks(tasks.die_if_negative, bad_and_good, found.__setitem__, jobs=2)
    assert found == {0: 1.0, 7: 2.0}


def test_where_no_worker_can_begin_few_are_hired(tmp_path):
    """A script that does its work when it is merely imported: so does every worker of it."""
    script = tmp_path / "script.py"
    script.write_text(
        "import math\n"
        "from restcab.runs.parallel import run_tasks\n"
        "run_tasks(math.sqrt, [float(n) for n in range(40)], print, jobs=2)\n"
    )
    done = subprocess.run(
        [sys.executable, script], capture_output=True, text=True, timeout=120, check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 1
    last = done.stderr.strip().splitlines()[-1]
    assert "no worker process came to anything" in last
    assert "__name__ == '__main__'" in last
    assert done.stderr.count("An attempt has been made") < 20  # two for each piece would be 80


def test_the_error_of_a_worker_carries_its_traceback():
    with pytest.raises(ValueError, match=r"math domain|nonnegative") as caught:
        run_tasks(math.sqrt, [1.0, -1.0], lambda *_: None, jobs=2)
    assert isinstance(caught.value.__cause__, TaskError)
    assert "Traceback" in str(caught.value.__cause__)


def test_an_error_that_cannot_travel_is_still_told():
    with pytest.raises(RuntimeError, match="Stubborn"):
        run_tasks(tasks.be_stubborn, [1, 2], lambda *_: None, jobs=2)


def test_nobody_stays_behind_and_what_is_ready_is_handed_over():
    with Crew(tasks.nap, [0.0, 30.0], 2) as crew:
        results = crew.results()
        assert next(results)[0] == 0
        workers = [worker.process.pid for worker in crew._workers]
    assert not any(_alive(pid) for pid in workers)
    with Crew(tasks.nap, [0.0, 0.0, 0.0], 3) as crew:
        results = crew.results()
        first = next(results)[0]
        deadline = time.monotonic() + 60.0
        rest = set()
        while len(rest) < 2 and time.monotonic() < deadline:
            rest |= {index for index, _ in crew.finished()}
            time.sleep(0.05)
        assert rest == {0, 1, 2} - {first}


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_however_a_run_ends_its_workers_end_with_it(tmp_path, number):
    program = tmp_path / "program.py"
    program.write_text(
        textwrap.dedent(
            """
            import time
            from restcab.cli import explain
            from restcab.cli.main import run
            from restcab.runs.parallel import run_tasks

            def busy(path):
                import os, pathlib
                pathlib.Path(path).write_text(str(os.getpid()))
                time.sleep(60.0)

            if __name__ == "__main__":
                import signal, sys
                # whoever runs the tests in the background has them ignore it
                signal.signal(signal.SIGINT, signal.default_int_handler)
                explain.read_spec = lambda *_: run_tasks(
                    busy, sys.argv[1:], lambda *_: None, jobs=2)
                run(["explain"])
            """
        )
    )
    marks = [tmp_path / "a", tmp_path / "b"]
    process = subprocess.Popen(
        [sys.executable, str(program), *map(str, marks)], stderr=subprocess.PIPE, text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)}, start_new_session=True,
    )  # fmt: skip
    workers = [int(_content(mark)) for mark in marks]
    begin = time.monotonic()
    if number == signal.SIGINT:
        os.killpg(process.pid, number)  # as a terminal does
    else:
        process.send_signal(number)
    _, err = process.communicate(timeout=60)
    assert time.monotonic() - begin < 20.0  # not the 60 s that the work takes
    said = {signal.SIGINT: (130, "restcab: interrupted\n"), signal.SIGKILL: (-9, ""),
            signal.SIGTERM: (143, "restcab: stopped by SIGTERM\n")}  # fmt: skip
    assert (process.returncode, err.lstrip("\n")) == said[number]
    while any(map(_alive, workers)) and time.monotonic() < begin + 20.0:
        time.sleep(0.05)
    assert not any(map(_alive, workers))


@pytest.mark.filterwarnings("default")
def test_a_cluster_that_does_not_answer_is_given_up_soon(monkeypatch):
    pytest.importorskip("distributed", reason="Dask is not installed")
    monkeypatch.setattr(parallel, "CLUSTER_TIMEOUT_S", 1.0)
    begin = time.monotonic()
    with pytest.raises(InputError, match=r"--cluster: 'tcp://127.0.0.1:9' cannot be reached"):
        run_tasks(math.sqrt, [1.0, 2.0], lambda *_: None, cluster="tcp://127.0.0.1:9")
    assert time.monotonic() - begin < 15.0


def test_a_worker_killed_in_regions_is_one_line(tmp_path, monkeypatch, capsys):
    use_own_cache(monkeypatch, tmp_path)
    monkeypatch.setattr(regions, "work", tasks.die)
    spec = str(ROOT / "examples" / "plain-box.toml")
    code = main(["regions", spec, "--climates", "phoenix-az,duluth-mn", "--jobs", "2"])
    captured = capsys.readouterr()
    assert (code, captured.out) == (1, "")
    assert captured.err.startswith("restcab: a worker process ended by signal SIGKILL")
    assert len(captured.err.splitlines()) == 1


def _content(path):
    for _ in range(1200):
        if path.exists() and path.read_text():
            return path.read_text()
        time.sleep(0.05)
    raise AssertionError(f"{path} never came")


def _alive(pid):
    """Whether a process runs; one that has ended but was not asked for is none."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state not in "ZX"
