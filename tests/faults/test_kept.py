"""The cache: only our own files are removed, only our own are believed."""

import os
import pickle
import stat
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest

from restcab import userdir
from restcab.cli.main import main
from restcab.runs import cache

KEY, OTHER = "a" * 64, "b" * 64
ARRAYS = {"x": np.arange(3.0)}


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv(cache.DIRECTORY_VARIABLE, str(tmp_path / "cache"))
    return tmp_path / "cache" / userdir.FOLDER


@pytest.fixture
def saved(home):
    cache.save("kind", KEY, ARRAYS)
    assert cache.load("kind", KEY)["x"].tolist() == [0.0, 1.0, 2.0]
    return home / "kind" / f"{KEY}.npz"


def test_foreign_files_stay(saved, home, capsys):
    beside = [
        home.parent / "mine.npz", home.parent / "kind" / "mine.npz", home / "kind" / "mine.npz",
        home / "kind" / "report.json.txt", home / "refrigerants" / ".hidden.json",
        home / "Kind" / f"{KEY}.npz", home / "kind" / "deep" / f"{KEY}.npz",
    ]  # fmt: skip
    for path in beside:
        path.parent.mkdir(exist_ok=True, parents=True)
        path.write_bytes(b"precious")
    assert cache.trim(0) > 0
    cache.save("kind", KEY, ARRAYS)
    assert main(["regions", "--clear-cache"]) == 0
    assert not saved.exists()
    assert all(path.read_bytes() == b"precious" for path in beside)


def test_a_folder_without_our_marker_is_not_ours(home, capsys):
    (home / "kind").mkdir(parents=True)
    precious = home / "kind" / f"{KEY}.npz"
    precious.write_bytes(b"precious")
    cache.save("kind", OTHER, ARRAYS)
    assert cache.load("kind", OTHER) is None
    assert cache.clear() == 0
    assert main(["regions", "--clear-cache"]) == 2
    assert f"lacks the marker file {userdir.MARKER}" in capsys.readouterr().err
    assert [path.name for path in (home / "kind").iterdir()] == [precious.name]


def test_a_link_is_not_followed(saved, home, tmp_path):
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / f"{OTHER}.npz").write_bytes(b"precious")
    (home / "link").symlink_to(outside)
    (home / "kind" / f"{OTHER}.npz").symlink_to(outside / f"{OTHER}.npz")
    cache.clear()
    assert (outside / f"{OTHER}.npz").read_bytes() == b"precious"
    assert (home / "kind" / f"{OTHER}.npz").is_symlink()


def test_a_linked_file_is_not_believed(saved, tmp_path):
    saved.rename(tmp_path / "moved")
    saved.symlink_to(tmp_path / "moved")
    assert cache.load("kind", KEY) is None


def test_every_changed_byte_is_noticed(saved):
    whole = saved.read_bytes()
    for place in range(0, len(whole), 7):
        changed = bytearray(whole)
        changed[place] ^= 1
        saved.write_bytes(changed)
        assert cache.load("kind", KEY) is None, place
    for length in range(0, len(whole), 11):
        saved.write_bytes(whole[:length])
        assert cache.load("kind", KEY) is None, length
    saved.write_bytes(whole)
    assert cache.load("kind", KEY) is not None


def test_a_file_under_another_name_is_not_believed(saved):
    saved.rename(saved.with_name(f"{OTHER}.npz"))
    assert cache.load("kind", OTHER) is None


@pytest.mark.parametrize("mode", [0o620, 0o602, 0o666])
def test_what_others_can_write_is_not_believed(saved, mode):
    saved.chmod(mode)
    assert cache.load("kind", KEY) is None
    saved.chmod(0o600)
    assert cache.load("kind", KEY) is not None


def test_what_belongs_to_another_user_is_not_believed(saved, monkeypatch):
    monkeypatch.setattr(os, "getuid", lambda: 12345)
    assert cache.load("kind", KEY) is None
    assert "belongs to another user" in cache.trouble()
    assert cache.clear() == 0
    cache.save("kind", OTHER, ARRAYS)  # says nothing, keeps nothing
    monkeypatch.undo()
    assert saved.exists()
    assert not saved.with_name(f"{OTHER}.npz").exists()


def test_a_folder_that_others_can_write_is_not_used(saved, home, capsys):
    home.chmod(0o777)
    assert cache.load("kind", KEY) is None
    assert main(["regions", "--clear-cache"]) == 2
    assert "others may write into it" in capsys.readouterr().err


def test_what_is_kept_is_private(saved, home):
    assert stat.S_IMODE(home.stat().st_mode) == 0o700
    assert stat.S_IMODE(saved.stat().st_mode) == 0o600


class Bomb:
    def __reduce__(self):
        return os.system, ("touch exploded",)


def test_no_pickle_is_ever_opened(home, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(ValueError, match=r"[Oo]bject array"):
        cache.save("kind", KEY, {"x": np.array([Bomb()])})
    buffer = BytesIO()
    np.savez(buffer, x=np.array([Bomb()]))
    for content in (buffer.getvalue(), pickle.dumps(Bomb())):
        userdir.keep("kind", f"{KEY}.npz", content)
        assert userdir.kept("kind", f"{KEY}.npz") == content
        assert cache.load("kind", KEY) is None
    assert not Path("exploded").exists()


def test_a_pipe_in_its_place_is_not_waited_for(home, saved):
    saved.unlink()
    os.mkfifo(saved)
    assert cache.load("kind", KEY) is None


@pytest.mark.parametrize("name", ["../../x.npz", "x.npz", f"{KEY}.npz/..", f"{KEY}.npy", ""])
def test_no_name_leads_out_of_the_folder(name):
    with pytest.raises(ValueError, match="no name of a kept file"):
        userdir.keep("kind", name, b"")
    with pytest.raises(ValueError, match="no name of a kept file"):
        userdir.keep("..", f"{KEY}.npz", b"")


def test_keeping_one_more_looks_at_none_of_the_others(saved, monkeypatch):
    """A national study keeps tens of thousands: each would take longer than the one before."""

    def listed(folder: Path) -> None:
        raise AssertionError(f"{folder} was listed")

    monkeypatch.setattr(Path, "iterdir", listed)
    cache.save("kind", OTHER, ARRAYS)
    assert cache.load("kind", OTHER)["x"].tolist() == [0.0, 1.0, 2.0]


def test_what_a_killed_run_left_is_removed_after_a_day(saved, home):
    aside = home / "kind" / f".restcab-{'0' * 32}.part"
    aside.write_bytes(b"half a row")
    assert cache.trim() == 0
    os.utime(aside, (0, 0))
    assert cache.trim() == len(b"half a row")
    assert saved.exists()


def test_a_run_killed_before_the_marker_was_there_is_made_good(home):
    home.mkdir(parents=True)
    home.chmod(0o700)
    (home / f".restcab-{'0' * 32}.part").write_bytes(b"Signat")
    cache.save("kind", KEY, ARRAYS)
    assert cache.load("kind", KEY) is not None


def test_machine_code_that_came_first_is_no_hindrance(home):
    (home / userdir.MACHINE_CODE / "0123").mkdir(parents=True)
    (home / userdir.MACHINE_CODE / "0123" / "step.nbc").write_bytes(b"code")
    (home / "sky").mkdir()
    home.chmod(0o700)
    cache.save("kind", KEY, ARRAYS)
    assert cache.load("kind", KEY) is not None


def test_a_full_disk_costs_only_time(saved, home, monkeypatch):
    def fail(*_args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(userdir.os, "fdopen", fail)
    cache.save("kind", OTHER, ARRAYS)
    monkeypatch.undo()
    assert cache.load("kind", OTHER) is None
    assert [path.name for path in (home / "kind").iterdir()] == [saved.name]
