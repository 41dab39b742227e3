"""Writing and reading the user's files: whole or not at all, never over an input."""

import errno
import os
import stat
import subprocess
import sys
import threading
from contextlib import contextmanager
from pathlib import Path

import pytest

from restcab import files
from restcab.cli.main import main
from restcab.errors import InputError
from restcab.output.report import page
from restcab.studies import report

EXAMPLES = Path(__file__).parents[2] / "examples"
OLD, NEW = b"what stood here before", b"the new content, all of it"


def left_over(folder):
    return sorted(path.name for path in folder.iterdir() if path.name.startswith("."))


def test_a_link_stays_and_its_target_is_written(tmp_path):
    target, link = tmp_path / "target", tmp_path / "link"
    target.write_bytes(OLD)
    link.symlink_to("target")
    files.write_whole(link, NEW)
    assert link.is_symlink()
    assert target.read_bytes() == NEW
    (tmp_path / "dangling").symlink_to("not there yet")
    files.write_whole(tmp_path / "dangling", NEW)
    assert (tmp_path / "not there yet").read_bytes() == NEW


def test_links_in_a_circle_are_an_error(tmp_path):
    (tmp_path / "a").symlink_to("b")
    (tmp_path / "b").symlink_to("a")
    with pytest.raises(OSError) as caught:  # noqa: PT011 - the number says which
        files.write_whole(tmp_path / "a", NEW)
    assert caught.value.errno == errno.ELOOP


@pytest.mark.parametrize("mode", [0o600, 0o664, 0o755])
def test_the_mode_of_a_file_is_kept(tmp_path, mode):
    path = tmp_path / "file"
    path.write_bytes(OLD)
    path.chmod(mode)
    files.write_whole(path, NEW)
    assert path.read_bytes() == NEW
    assert stat.S_IMODE(path.stat().st_mode) == mode


def test_a_new_file_has_the_mode_of_the_users_mask(tmp_path):
    before = os.umask(0o027)
    try:
        files.write_whole(tmp_path / "file", NEW)
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "file").stat().st_mode) == 0o640


def test_a_pipe_is_written_and_stays_a_pipe(tmp_path):
    pipe, heard = tmp_path / "pipe", []
    os.mkfifo(pipe)
    listener = threading.Thread(target=lambda: heard.append(pipe.read_bytes()))
    listener.start()
    files.write_whole(pipe, NEW)
    listener.join(10.0)
    assert heard == [NEW]
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_a_device_is_written_and_stays_a_device():
    files.write_whole(files.Path("/dev/null"), NEW)
    assert stat.S_ISCHR(files.Path("/dev/null").stat().st_mode)


@pytest.mark.parametrize("fault", ["write", "fsync", "replace"])
def test_what_fails_half_way_leaves_the_old_file(tmp_path, monkeypatch, fault):
    def fail(*_args, **_more):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    path = tmp_path / "file"
    path.write_bytes(OLD)
    owner = files.Path if fault == "replace" else files.os
    monkeypatch.setattr(owner, fault, fail)
    with pytest.raises(OSError, match="No space left"):
        files.write_whole(path, NEW)
    monkeypatch.undo()
    assert path.read_bytes() == OLD
    assert left_over(tmp_path) == []


def test_a_write_that_takes_only_a_part_goes_on(tmp_path, monkeypatch):
    write = os.write
    monkeypatch.setattr(files.os, "write", lambda handle, content: write(handle, content[:3]))
    files.write_whole(tmp_path / "file", NEW)
    assert (tmp_path / "file").read_bytes() == NEW


@contextmanager
def full_disk(room_bytes=200):
    """A disk that takes so much of a file and no more: the write stops half way."""
    resource = pytest.importorskip("resource", reason="the system knows no such limit")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (room_bytes, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@pytest.mark.parametrize("old", [OLD, None])
@pytest.mark.parametrize(
    "words",
    [
        ["unit", "-o"],
        ["unit", "--csv"],
        ["unit", "--plot"],
        ["unit", "--json", "-o"],
        ["explain", "-o"],
        ["catalog", "paints", "-o"],
        ["climates", "-o"],
        ["schema", "load", "-o"],
        ["new", "--force", "-o"],
        ["report", "-o"],
    ],
    ids=" ".join,
)
def test_a_disk_that_fills_half_way_is_one_line_and_leaves_the_old_file(
    tmp_path, capsys, monkeypatch, words, old
):
    monkeypatch.setattr(report, "report", lambda *_: None)
    monkeypatch.setattr(page, "report_page", lambda *_: "<html>" * 1000)
    path = tmp_path / "kept.svg"
    if old is not None:
        path.write_bytes(old)
    with full_disk():
        assert main([*words, str(path)]) == 2
    said = [line for line in capsys.readouterr().err.splitlines() if "warning: " not in line]
    assert said == [f"restcab: {path}: cannot be written: File too large"]
    assert left_over(tmp_path) == []
    assert (path.read_bytes() if path.exists() else None) == old


def test_of_two_outputs_the_one_that_fits_is_whole(tmp_path, capsys):
    table, plot = tmp_path / "unit.csv", tmp_path / "unit.svg"
    plot.write_bytes(OLD)
    with full_disk(room_bytes=4000):
        assert main(["unit", "-o", os.devnull, "--csv", str(table), "--plot", str(plot)]) == 2
    assert f"{plot}: cannot be written" in capsys.readouterr().err
    assert table.read_text().endswith("\n")
    assert plot.read_bytes() == OLD


def test_a_full_disk_is_one_line(capsys):
    assert main(["explain", "-o", "/dev/full"]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err == "restcab: /dev/full: cannot be written: No space left on device\n"


def test_a_folder_that_is_not_there_is_one_line(tmp_path, capsys):
    assert main(["explain", "-o", str(tmp_path / "none" / "x")]) == 2
    assert capsys.readouterr().err.endswith("x: cannot be written: No such file or directory\n")


@pytest.mark.parametrize("name", ["same", "link", "hard"])
@pytest.mark.parametrize("command", ["explain", "load"])
def test_an_input_is_never_the_output(tmp_path, capsys, name, command):
    spec = tmp_path / "same"
    assert main(["new", "-o", str(spec)]) == 0
    (tmp_path / "link").symlink_to("same")
    os.link(spec, tmp_path / "hard")
    before, _ = spec.read_bytes(), capsys.readouterr()
    assert main([command, str(spec), "-o", str(tmp_path / name)]) == 2
    captured = capsys.readouterr()
    assert "is read by this command and would be its output" in captured.err
    assert len(captured.err.splitlines()) == 1
    assert captured.out == ""
    assert spec.read_bytes() == before


def test_the_weather_is_never_the_output_either(tmp_path, capsys):
    log = tmp_path / "log.csv"
    log.write_text("time,temp_air_c\n")
    assert main(["load", "--weather", str(log), "-o", str(log)]) == 2
    assert "would be its output" in capsys.readouterr().err
    assert log.read_text() == "time,temp_air_c\n"


def test_two_outputs_are_two_files(tmp_path, capsys):
    same = str(tmp_path / "a.svg")
    assert main(["unit", "--plot", same, "-o", same]) == 2
    assert "is named for two outputs" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_outside_of_a_command_nothing_is_remembered(tmp_path):
    path = tmp_path / "file"
    path.write_bytes(OLD)
    files.promise_output(path)
    assert files.read_bytes(path) == OLD
    files.write_whole(path, NEW)
    with files.one_command():
        files.read_bytes(path)
        for use in (files.promise_output, lambda one: files.write_whole(one, OLD)):
            with pytest.raises(InputError, match="would be its output"):
                use(path)
    assert path.read_bytes() == NEW


def test_a_pipe_gives_a_command_the_same_twice():
    ends = os.pipe()
    os.write(ends[1], OLD)
    os.close(ends[1])
    pipe = Path(f"/dev/fd/{ends[0]}")
    with files.one_command():
        assert files.read_bytes(pipe) == OLD
        assert files.read_bytes(pipe) == OLD
    assert files.read_bytes(pipe) == b""
    os.close(ends[0])


def test_a_spec_through_a_pipe_is_explained(capsys):
    ends = os.pipe()
    os.write(ends[1], b"[truck]\npaint = 'black'\n")
    os.close(ends[1])
    assert main(["explain", f"/dev/fd/{ends[0]}", "--given"]) == 0
    assert "truck.paint" in capsys.readouterr().out
    os.close(ends[0])


def test_a_log_of_stops_is_never_the_output_either(tmp_path, capsys):
    for path in EXAMPLES.glob("*.*"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    log = tmp_path / "logged-stops.csv"
    words = ["regions", str(tmp_path / "logged-fleet.toml"), "--vehicles", str(log)]
    assert main(words) == 2
    assert "would be its output" in capsys.readouterr().err
    assert log.read_bytes() == (EXAMPLES / log.name).read_bytes()


def test_what_never_ends_is_not_read_for_ever(monkeypatch, capsys):
    monkeypatch.setattr(files, "MAX_READ_BYTES", 1000)
    assert main(["explain", "/dev/zero"]) == 2
    assert capsys.readouterr().err == "restcab: /dev/zero: cannot be read: File too large\n"


def test_a_name_with_a_zero_byte_is_a_message(tmp_path, capsys):
    fleet = tmp_path / "fleet.toml"
    fleet.write_text(
        '[[trucks]]\nspec = "a\\u0000b.toml"\n[[lanes]]\nclimates = { phoenix-az = 1.0 }\n'
    )
    assert main(["regions", str(fleet)]) == 2
    err = capsys.readouterr().err
    assert "a\\x00b.toml: cannot be read: its name holds a character that no file" in err
    assert len(err.splitlines()) == 1


def test_new_still_asks_before_it_overwrites_a_file_but_not_a_pipe(tmp_path, capsys):
    path = tmp_path / "truck.toml"
    assert main(["new", "-o", str(path)]) == 0
    assert main(["new", "-o", str(path)]) == 2
    assert main(["new", "-o", "/dev/null"]) == 0


CANNOT = "restcab: standard output: cannot be written"
PROGRAM = "from restcab.cli.main import run; run()"


def shell(redirection, *words):
    line = " ".join([sys.executable, "-c", f"'{PROGRAM}'", *words, redirection])
    return subprocess.run(["bash", "-c", line], capture_output=True, text=True, timeout=120)


@pytest.mark.parametrize(
    ("redirection", "code", "message"),
    [
        (">&-", 2, f"{CANNOT}: Bad file descriptor\n"),
        (
            "> /dev/full",
            2,
            f"{CANNOT}: No space left on device\n",
        ),
        (">&- 2>&-", 2, ""),
        ("2> /dev/full > /dev/null", 0, ""),
    ],
)
def test_a_closed_or_full_output_is_one_line(redirection, code, message):
    done = shell(redirection, "catalog", "paints")
    assert (done.returncode, done.stdout, done.stderr) == (code, "", message)


def test_help_to_a_full_disk_is_one_line():
    done = shell("> /dev/full", "--help")
    assert done.returncode == 2
    assert done.stderr == f"{CANNOT}: No space left on device\n"


def test_a_file_is_written_whatever_becomes_of_the_terminal(tmp_path):
    done = shell(">&- 2>&-", "catalog", "paints", "-o", str(tmp_path / "paints.txt"))
    assert done.returncode == 0
    text = (tmp_path / "paints.txt").read_text()
    assert text.startswith("paints: solar absorptance")
    assert len(text.splitlines()) > 5
