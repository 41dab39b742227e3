"""Machine code that is kept: read back if it is ours and whole, else made anew, never a fault."""

import os
import pickle
import resource
import subprocess
import sys
from pathlib import Path

import llvmlite.binding
import numba.core.compiler
import numpy as np
import pytest
from support import use_own_cache

import restcab
from restcab import userdir
from restcab.physics.compiled import _FORGOTTEN_S, compiled
from restcab.runs import cache

ROOT = Path(restcab.__file__).parents[1]
OLD = "0" * 64 + ".nbc"


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv(userdir.DIRECTORY_VARIABLE, str(tmp_path / "cache"))
    return tmp_path / "cache" / userdir.FOLDER


def made():
    """The same entry as a new process would meet it: called once, and where its code came from."""

    def doubled(values):
        for at in range(values.shape[0]):
            values[at] *= 2.0

    entry, values = compiled(doubled), np.array([1.0, -3.0])
    entry(values)
    assert values.tolist() == [2.0, -6.0]
    return "read" if sum(entry.stats.cache_hits.values()) else "made"


def only_file(home):
    (path,) = (home / userdir.MACHINE_CODE).glob("*.nbc")
    return path


def test_it_is_made_once():
    assert [made(), made(), made()] == ["made", "read", "read"]


@pytest.mark.parametrize("name", ["_rebuild", "_reduce"])
def test_a_numba_made_otherwise_inside_compiles_without_keeping(monkeypatch, name):
    made()
    monkeypatch.delattr(numba.core.compiler.CompileResult, name)
    assert made() == ("made" if name == "_rebuild" else "read")


def test_code_that_was_kept_asks_for_little_of_numba(home):
    """What could be compiled is declared only where something must be: it would load scipy."""
    program = (
        "import sys\nimport numpy as np\nfrom restcab.engine.smallsolve import solve_each\n"
        "from restcab.physics.compiled import compiled\n"
        "compiled(solve_each)(np.ones((1, 1, 1)), np.ones((1, 1, 1)))\n"
        "print('numba.np.arraymath' in sys.modules, 'scipy.linalg' in sys.modules)"
    )
    first, second = (
        subprocess.run(
            [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout.split()
        for _ in range(2)
    )
    assert first == ["True", "True"]
    assert second == ["False", "False"]


def test_machine_code_is_kept_without_what_it_was_made_from(home):
    made()
    (_, kind, (code, words)), *_ = pickle.loads(only_file(home).read_bytes().split(b"\n", 1)[1])
    functions = list(llvmlite.binding.parse_bitcode(words).functions)
    assert kind == "object"
    assert len(code) > len(words)
    assert [len(list(function.blocks)) for function in functions] == [1, 1]  # names alone


@pytest.mark.parametrize("damage", ["cut", "empty", "bit", "text", "renamed"])
def test_what_is_damaged_is_made_anew_and_kept_again(home, damage):
    made()
    path = only_file(home)
    content = path.read_bytes()
    middle = len(content) // 2
    bit = content[:middle] + bytes([content[middle] ^ 1]) + content[middle + 1 :]
    path.write_bytes({"cut": content[:middle], "empty": b"", "bit": bit, "text": b"no code",
                      "renamed": content.replace(b"kept 1", b"kept 2")}[damage])  # fmt: skip
    assert [made(), made()] == ["made", "read"]
    assert path.read_bytes()[:15] == content[:15]


def test_what_another_may_have_written_is_not_run(home, monkeypatch):
    made()
    home.chmod(0o777)
    assert made() == "made"
    home.chmod(0o700)
    only_file(home).chmod(0o666)
    assert made() == "made"
    assert made() == "read"  # written anew, for this user alone
    monkeypatch.setattr(os, "getuid", lambda: os.geteuid() + 1)
    assert made() == "made"


def test_a_directory_that_takes_nothing_costs_only_time(home):
    home.parent.write_text("a file where the directory should be")
    assert [made(), made()] == ["made", "made"]


def test_a_full_disk_costs_only_time(home):
    """The system lets no file grow beyond a thousand bytes."""
    program = "from faults.test_kept_code import made; print(made(), made())"
    paths = os.pathsep.join([str(ROOT), str(Path(__file__).parents[1])])
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=120,
        env=os.environ | {"PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1"},
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000)),
    )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (0, "made made\n", "")
    assert [path.name for path in home.rglob("*") if path.is_file()] == [userdir.MARKER]


def test_code_of_other_sources_goes_after_a_month(home):
    made()
    path = only_file(home)
    other, recent = path.with_name(OLD), path.with_name("1" + OLD[1:])
    for each in (other, recent, path):
        each.write_bytes(b"")
    long_ago = other.stat().st_mtime - _FORGOTTEN_S - 60.0
    for each in (other, path):
        os.utime(each, (long_ago, long_ago))
    program = "from faults.test_kept_code import made; print(made())"
    paths = os.pathsep.join([str(ROOT), str(Path(__file__).parents[1])])
    env = os.environ | {"PYTHONPATH": paths}
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, env=env,
                          timeout=120, check=True)  # fmt: skip
    assert done.stdout == "made\n"
    assert not other.exists()
    assert recent.exists()
    assert path.exists()


def test_clearing_the_cache_clears_it_too(home):
    made()
    assert cache.clear() > 0
    assert not list(home.rglob("*.nbc"))
    assert made() == "made"


def test_a_cache_of_a_test_shares_machine_code_and_nothing_else(tmp_path, monkeypatch):
    cache.save("kind", "a" * 64, {"x": np.arange(3.0)})
    made()
    use_own_cache(monkeypatch, tmp_path / "own")
    assert made() == "read"
    assert cache.load("kind", "a" * 64) is None
    cache.save("kind", "b" * 64, {"x": np.arange(3.0)})
    assert cache.clear() > 0
    assert made() == "read"
