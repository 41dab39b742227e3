"""``restcab regions`` on the command line: what it prints, writes, refuses, and survives."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from support import box_in_july, use_own_cache

from restcab.cli.main import main
from restcab.runs import cache
from restcab.runs.crew import THREAD_VARIABLES
from restcab.userdir import FOLDER

PROGRAM = "from restcab.cli.main import run; run()"
FLEET = """
[[trucks]]
spec = "box.toml"
[[lanes]]
climates = { phoenix-az = 0.5, tampa-fl = 0.25, duluth-mn = 0.25 }
"""
KEYS = {
    "climate", "rests_cooled", "rests_heated", "cooling_wh_per_year", "idle_fuel_gal_per_year",
    "option_fuel_gal_per_year", "saving_usd_per_year", "co2_saved_kg_per_year", "rests_held_frac",
    "payback_years", "requirement_met", "diesel_from", "bank_batteries_required",
}  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("fleet")
    (path / "box.toml").write_text(box_in_july(batteries=12))
    (path / "fleet.toml").write_text(FLEET)
    return path


@pytest.fixture(autouse=True)
def shared_cache(folder, monkeypatch):
    """Work each row out once for all tests here, away from the user's own."""
    use_own_cache(monkeypatch, folder / "cache")


def run(capsys, *words):
    code = main(["regions", *map(str, words)])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_json(capsys, folder):
    code, out, err = run(capsys, folder / "fleet.toml", "--jobs", 1, "--json")
    assert (code, err) == (0, "")
    document = json.loads(out)
    assert document["schema"] == "restcab/regions/1"
    rows = document["result"]["regions"]
    assert [row["climate"] for row in rows] == ["phoenix-az", "tampa-fl", "duluth-mn"]
    assert all(set(row) >= KEYS for row in rows)
    assert document["provenance"]["inputs_hash"]
    assert document["sources"]


@pytest.mark.parametrize("columns", ["60", "80", "120"])
def test_page_fits(capsys, folder, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", columns)
    code, out, err = run(capsys, folder / "fleet.toml", "--jobs", 1)
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= int(columns)
    assert "phoenix-az" in out
    assert "battery+heater" in out
    assert "Heat illness can kill" in out
    assert "…" not in out


def test_what_is_not_held_somewhere_is_a_code_of_its_own_and_the_page_is_there(capsys, folder):
    words = (folder / "box.toml", "--climates", "phoenix-az", "--jobs", 1)
    weak = ("--set", "bank.batteries=1")
    assert run(capsys, *words)[0] == 0
    code, out, err = run(capsys, *words, *weak)
    assert (code, err) == (3, "")
    assert "Heat illness can kill" in out
    assert "than rest.hold_share asks for in phoenix-az" in " ".join(out.split())
    assert run(capsys, *words, *weak, "--set", "rest.hold_share=0")[0] == 0


def test_a_price_that_is_set_is_the_one_used_and_said(capsys, folder):
    words = (folder / "box.toml", "--climates", "phoenix-az", "--jobs", 1)
    rows = {}
    for name, more in {"state": (), "set": ("--set", "money.diesel=5 USD/gal")}.items():
        (rows[name],) = json.loads(run(capsys, *words, "--json", *more)[1])["result"]["regions"]
        assert rows[name]["diesel_from"] == name
    assert rows["set"]["diesel_usd_per_gal"] == pytest.approx(5.0)
    assert rows["set"]["idle_fuel_gal_per_year"] == rows["state"]["idle_fuel_gal_per_year"]
    assert rows["set"]["saving_usd_per_year"] > rows["state"]["saving_usd_per_year"]
    us = run(capsys, *words, "--set", "money.diesel=5 USD/gal")[1]
    assert "Diesel at 5.00 USD/gal, as set on the command line." in " ".join(us.split())
    si = run(capsys, *words, "--set", "money.diesel=5 USD/gal", "--units", "si")[1]
    assert "Diesel at 1.32 USD/L" in " ".join(si.split())
    assert "--set money.diesel" in run(capsys, "-h")[1]


def test_units(capsys, folder):
    us = run(capsys, folder / "fleet.toml", "--jobs", 1)[1]
    si = run(capsys, folder / "fleet.toml", "--jobs", 1, "--units", "si")[1]
    assert "saves gal" in us
    assert "saves L" in si
    assert "saves gal" not in si


def test_csv_and_plot(capsys, folder, tmp_path):
    csv, svg = tmp_path / "regions.csv", tmp_path / "regions.svg"
    words = (folder / "fleet.toml", "--jobs", 1, "--csv", csv, "--plot", svg)
    assert run(capsys, *words)[0] == 0
    lines = csv.read_text().splitlines()
    assert set(lines[0].split(",")) >= KEYS
    assert len(lines) == 4
    first = svg.read_text()
    assert first.lstrip().startswith("<?xml")
    for text in ("phoenix-az", "latitude", "diesel saved per rest"):
        assert text in first
    assert run(capsys, *words)[0] == 0
    assert svg.read_text() == first


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("tampa-fl", "tempa-fl", "Did you mean 'tampa-fl'?"),
        ("0.5", "0.4", "the shares add up to 0.9, not to 1"),
        ("box.toml", "lost.toml", "lost.toml: there is no such file"),
    ],
)
def test_a_bad_fleet_is_one_message_and_nothing_written(
    capsys, folder, tmp_path, old, new, message
):
    (tmp_path / "box.toml").write_text(box_in_july(batteries=12))
    path = tmp_path / "fleet.toml"
    path.write_text(FLEET.replace(old, new))
    before = sorted(tmp_path.iterdir())
    code, out, err = run(
        capsys, path, "--csv", tmp_path / "a.csv", "--plot", tmp_path / "a.svg", "-o",
        tmp_path / "a.txt",
    )  # fmt: skip
    assert (code, out) == (2, "")
    assert message in err
    assert len(err.splitlines()) == 1
    assert sorted(tmp_path.iterdir()) == before


def test_no_fleet_is_a_message(capsys):
    assert run(capsys)[0] == 2
    assert run(capsys, "--jobs", 0)[0] == 2


def test_an_override_reaches_the_trucks(capsys, folder):
    plain = json.loads(run(capsys, folder / "fleet.toml", "--jobs", 1, "--json")[1])
    words = (folder / "fleet.toml", "--jobs", 1, "--json", "--set", "money.rests_per_year=100")
    fewer = json.loads(run(capsys, *words)[1])
    ratio = fewer["result"]["totals"]["rests"] / plain["result"]["totals"]["rests"]
    assert ratio == pytest.approx(100.0 / 250.0)


def test_the_cache_can_be_cleared_and_left_alone(capsys, folder, monkeypatch, tmp_path):
    monkeypatch.setenv(cache.DIRECTORY_VARIABLE, str(tmp_path / "own"))
    cache.save("kind", "a" * 64, {})
    code, out, err = run(capsys, "--clear-cache")
    assert (code, out) == (0, "")
    assert "MB freed" in err
    assert cache.load("kind", "a" * 64) is None


def test_a_killed_run_goes_on_and_gives_the_same_table(folder, tmp_path, monkeypatch):
    """SIGINT and SIGKILL after the first row; the third run finishes from what is there."""
    use_own_cache(monkeypatch, tmp_path / "cache")
    rows = tmp_path / "cache" / FOLDER / "regions"
    answers = []
    for stop in (signal.SIGINT, signal.SIGKILL, None):
        before = len(list(rows.glob("*.npz")))
        process = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, "regions", str(folder / "fleet.toml"), "--jobs", "1",
             "--json"],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        if stop is not None:
            _wait_for_row(process, rows, before + 1)
            process.send_signal(stop)
        out, err = process.communicate(timeout=120)
        answers.append((process.returncode, out, err))
    assert answers[0][0] in (130, 0)
    if answers[0][0] == 130:  # else the machine was faster than the signal
        said = "What is finished is kept: the same command goes on from there.\n\n"
        assert (answers[0][1], answers[0][2]) == ("", said + "restcab: interrupted\n")
    assert answers[2][0] == 0
    assert not list(rows.glob(".*.part"))
    # Nothing kept, and as many threads as the machine likes: the same digits.
    many_threads = {name: os.environ[name] for name in os.environ.keys() - set(THREAD_VARIABLES)}
    fresh = subprocess.run(
        [sys.executable, "-c", PROGRAM, "regions", str(folder / "fleet.toml"), "--jobs", "1",
         "--json", "--no-cache"],
        capture_output=True, text=True, check=True, timeout=120, env=many_threads,
    )  # fmt: skip
    assert fresh.stdout == answers[2][1]


def _wait_for_row(process: subprocess.Popen[str], rows: Path, count: int) -> None:
    """Wait until a run has kept its next row."""
    for _ in range(6000):
        if process.poll() is not None or len(list(rows.glob("*.npz"))) >= count:
            return
        time.sleep(0.01)
    raise AssertionError("no row came")
