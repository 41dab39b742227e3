"""Runs that meet, or are killed while they write: whole files or none, and no wrong answer."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import restcab

ROOT = Path(restcab.__file__).parents[1]
WRITER = """
import sys
from pathlib import Path
from restcab.files import write_whole
content = sys.argv[2].encode() * 2_000_000
print("ready", flush=True)
while True:
    write_whole(Path(sys.argv[1]), content)
"""
KEEPER = """
import sys
import numpy as np
from restcab.runs import cache
keys = ["%064x" % n for n in range(8)]
for turn in range(40):
    for n, key in enumerate(keys):
        found = cache.load("kind", key)
        assert found is None or (found["x"] == n).all(), key
        cache.save("kind", key, {"x": np.full(5000, float(n))})
    if turn % 10 == 9:
        cache.trim(100_000)
print(sum(cache.load("kind", key) is not None for key in keys))
"""


def start(program, *words, **variables):
    return subprocess.Popen(
        [sys.executable, "-c", program, *map(str, words)], stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True, env=os.environ | {"PYTHONPATH": str(ROOT)} | variables,
    )  # fmt: skip


def test_two_writers_one_of_them_killed_leave_one_whole_file(tmp_path):
    """Whenever it is looked at, the file is all of one writer's."""
    path = tmp_path / "file"
    writers = [start(WRITER, path, letter) for letter in "ab"]
    for writer in writers:
        assert writer.stdout.readline() == "ready\n"
    deadline, seen = time.monotonic() + 2.0, set()
    try:
        while time.monotonic() < deadline:
            if path.exists():
                content = path.read_bytes()
                assert len(content) == 2_000_000
                assert len(set(content)) == 1
                seen.add(content[:1])
    finally:
        for writer in writers:
            writer.send_signal(signal.SIGKILL)
            writer.communicate()
    assert seen == {b"a", b"b"}
    content = path.read_bytes()
    assert (len(content), len(set(content))) == (2_000_000, 1)


def test_runs_that_share_a_cache_never_meet_half_a_file(tmp_path):
    keepers = [start(KEEPER, RESTCAB_CACHE_DIR=str(tmp_path)) for _ in range(2)]
    for keeper in keepers:
        out, err = keeper.communicate(timeout=120)
        assert (keeper.returncode, err) == (0, "")
        assert int(out) >= 1
    assert not list(tmp_path.rglob("*.part"))
