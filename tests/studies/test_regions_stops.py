"""``regions`` of a log of stops: the same as lanes where they say the same, nothing given away."""

import json
import math
from dataclasses import replace

import jsonschema
import numpy as np
import pandas as pd
import pytest
from support import box_in_july, use_own_cache

from restcab.cli.main import main
from restcab.fleet.file import load_fleet
from restcab.fleet.physics import run_physics
from restcab.fleet.rows import MONTH_NUMBERS, Task, price
from restcab.options.idling import wanted_h
from restcab.output.schema import schema
from restcab.runs import cache
from restcab.studies.regions import regions

OFFSET_H = {"phoenix-az": -7, "duluth-mn": -6}
PLACE = {"phoenix-az": "33.4512,-112.0311", "duluth-mn": "46.8123,-92.2011"}
HOURS = 3
BOX = f"""{box_in_july(batteries=12)}[money]
rests_per_year = 16
[options]
idle_hours = 8784
"""
LANES = """
[rests]
starts = { "20:00" = 0.75, "08:00" = 0.25 }
[[trucks]]
spec = "box.toml"
count = 2
[[lanes]]
share = 0.5
months = "Jul"
climates = { phoenix-az = 1.0 }
[[lanes]]
share = 0.25
months = "Jan"
climates = { duluth-mn = 1.0 }
[[lanes]]
share = 0.25
months = "Dec"
climates = { duluth-mn = 1.0 }
"""
STOPS = """
[stops]
file = "log.csv"
shortest = 2
[[trucks]]
spec = "box.toml"
"""
HEAD = "vehicle,start,end,latitude,longitude,idle"
RTOL = 1e-9  # the same additions in another order


def rows(vehicle, idle_h=3.0, years=("2024",)):
    """Sixteen rests of a vehicle, as the lanes say."""
    found = []
    for climate, month, nights in (("phoenix-az", 7, 8), ("duluth-mn", 1, 4), ("duluth-mn", 12, 4)):
        for n in range(nights):
            hour = 8 if n % 4 == 3 else 20
            day = 1 + n if month == 1 else 31 - n
            begin = pd.Timestamp(int(years[0]), month, day, hour)
            end = begin + pd.Timedelta(hours=HOURS)
            mark = f"{OFFSET_H[climate]:+03d}:00"
            found.append(f"{vehicle},{begin}{mark},{end}{mark},{PLACE[climate]},{idle_h}")
    return found


def fleet(path, *lines, table=STOPS):
    (path / "box.toml").write_text(BOX)
    (path / "fleet.toml").write_text(table)
    (path / "log.csv").write_text("\n".join((HEAD, *lines)) + "\n")
    return load_fleet(path / "fleet.toml")


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A cache for the rests, which are the same in all tests here."""
    return tmp_path_factory.mktemp("kept")


@pytest.fixture(autouse=True)
def own_cache(kept, monkeypatch):
    use_own_cache(monkeypatch, kept)


@pytest.fixture
def two_vehicles(tmp_path):
    """One that idles through, one that idles in a third of the time."""
    return regions(fleet(tmp_path, *rows("EAGER-1"), *rows("THRIFTY-2", 1.0)), jobs=1)


def assert_same(one, other):
    """Compare two JSON-like values, numbers to rounding."""
    if isinstance(other, dict):
        assert one.keys() >= other.keys()
        for key in other.keys() - {"bank_batteries_required", "bank_rated_required_ah"}:
            assert_same(one[key], other[key])
    elif isinstance(other, list):
        assert len(one) == len(other)
        for a, b in zip(one, other, strict=True):
            assert_same(a, b)
    elif isinstance(other, float):
        assert one == pytest.approx(other, rel=RTOL, abs=1e-9)
    else:
        assert one == other


def test_stops_are_what_the_same_shares_of_lanes_are(tmp_path):
    logged = regions(fleet(tmp_path, *rows("A"), *rows("B")), jobs=1)
    (tmp_path / "lanes.toml").write_text(LANES)
    lanes = regions(load_fleet(tmp_path / "lanes.toml"), jobs=1)
    for key in ("totals", "options", "truck_years", "requirement_met"):
        assert_same(logged[key], lanes[key])
    assert_same(logged["trucks"], lanes["trucks"])
    for key in ("regions", "months"):
        order = [sorted(v[key], key=lambda row: (row["climate"], row.get("month", 0)))
                 for v in (logged, lanes)]  # fmt: skip
        assert_same(*order)


def test_the_schema_holds_a_log(tmp_path, capsys):
    """A real answer is of the form; a key that it does not have, or one that it lacks, is not."""
    fleet(tmp_path, *rows("EAGER-1"), *rows("NONE-3", ""), "A,?,?,0,0,1")
    words = ["regions", str(tmp_path / "fleet.toml"), "--jobs", "1", "--json"]
    assert main(words) in (0, 3)
    answer = json.loads(capsys.readouterr().out)
    validator = jsonschema.Draft202012Validator(schema("regions"))
    assert list(validator.iter_errors(answer)) == []
    result = answer["result"]
    result |= {"months": [], "regions": [], "options": [], "decided_by_memory": []}
    result["stops"]["calendar"][1:] = []  # what is looked at below again and again
    parts = {
        "stops": result["stops"], "left out": result["stops"]["left_out"][0],
        "place": result["stops"]["climates"][0], "hour": result["stops"]["calendar"][0],
        "idling": result["idling"], "month": result["idling"]["months"][0],
        "idling of a climate": result["idling"]["climates"][0], "binning": result["binning"],
        "vehicle": result["vehicles"][0],
    }  # fmt: skip
    for name, part in parts.items():
        part["more"] = 1
        assert len(list(validator.iter_errors(answer))) == 1, name
        del part["more"]
        for key in list(part):
            value = part.pop(key)
            assert not validator.is_valid(answer), (name, key)
            part[key] = value
    assert validator.is_valid(answer)


def test_vehicles_add_up_to_the_fleet(two_vehicles):
    vehicles, total = two_vehicles["vehicles"], two_vehicles["totals"]
    for key in ("rests", "rests_cooled", "rests_heated", "idle_fuel_gal_per_year",
                "option_fuel_gal_per_year", "saving_usd_per_year", "co2_saved_kg_per_year",
                "saving_after_purchase_usd_per_year"):  # fmt: skip
        assert sum(row[key] for row in vehicles) == pytest.approx(total[key], rel=RTOL)
    held = sum(row["rests_held_frac"] * row["rests"] for row in vehicles)
    assert held == pytest.approx(total["rests_held_frac"] * total["rests"], rel=RTOL)


def test_it_pays_most_for_the_truck_that_idles_most(two_vehicles):
    eager, thrifty = two_vehicles["vehicles"]
    assert (eager["vehicle"], thrifty["vehicle"]) == ("EAGER-1", "THRIFTY-2")
    assert eager["idle_fuel_gal_per_year"] > 1.5 * thrifty["idle_fuel_gal_per_year"]
    assert eager["saving_usd_per_year"] > thrifty["saving_usd_per_year"]


def test_hours_of_the_log_are_the_hours_idled(two_vehicles):
    """THRIFTY-2 idles 16 h, less than its rests ask for; EAGER-1 all that they ask for."""
    idle, (eager, thrifty) = two_vehicles["idling"], two_vehicles["vehicles"]
    assert idle["whose"] == "log"
    assert idle["logged_h_per_year"] == pytest.approx(16 * 3 + 16)
    assert thrifty["idled_share_frac"] == pytest.approx(16.0 / thrifty["idle_asked_h_per_year"])
    assert eager["idled_share_frac"] == 1.0
    beyond = 48.0 - eager["idle_asked_h_per_year"]
    assert idle["logged_beyond_asked_h_per_year"] == pytest.approx(max(beyond, 0.0))
    engine_h = two_vehicles["totals"]["baseline_engine_h_per_year"]
    assert engine_h == pytest.approx(16.0 + eager["idle_asked_h_per_year"])
    assert idle["idled_h_per_year"] == pytest.approx(engine_h)


def test_the_command_line_sets_the_hours_idled(tmp_path):
    fleet(tmp_path, *rows("A", 1.0))
    loaded = load_fleet(tmp_path / "fleet.toml", ["options.idle_hours=0"])
    result = regions(loaded, jobs=1)
    assert result["idling"]["whose"] == "set"
    assert result["totals"]["baseline_engine_h_per_year"] == 0.0


def test_without_a_record_the_assumed_hours_hold(tmp_path):
    table = STOPS + "\n"
    (tmp_path / "log.csv").write_text("")
    logged = fleet(tmp_path, *rows("A", ""), table=table)
    spec = logged.trucks[0].spec.with_values("options", idling_h=None)
    result = regions(replace(logged, trucks=(replace(logged.trucks[0], spec=spec),)), jobs=1)
    assert result["idling"]["whose"] == "assumed"
    assert not result["idle_hours_given"]
    # 1160 h are more than sixteen rests ask for: all of them are idled, at both ends too.
    assert result["vehicles"][0]["idled_share_frac"] == 1.0


def test_a_row_is_straight_in_the_share_that_is_idled(tmp_path):
    spec = fleet(tmp_path, *rows("A")).trucks[0].spec
    spec = spec.with_values("options", compare="idling, battery+heater")
    physics = run_physics(spec, "phoenix-az")
    asked_h = wanted_h(spec, physics.for_rests(16.0).year)

    def row(hours):
        here = spec.with_values("options", idling_h=hours)
        return price(
            Task("t", here, "phoenix-az", (MONTH_NUMBERS,), "battery+heater", "idling"), physics
        )

    none, half, full = (row(share * asked_h) for share in (0.0, 0.5, 1.0))
    for name in ("season_options", "season_unchecked", "season_flows"):
        ends = getattr(none, name), getattr(full, name)
        assert getattr(half, name) == pytest.approx(0.5 * (ends[0] + ends[1]), rel=1e-9, abs=1e-9)
    assert not np.allclose(none.season_options, full.season_options)


def test_bank_that_is_enough_for_the_share_asked(two_vehicles):
    """One start of the day asks for more than the other; of the rests the share asked decides."""
    for row in two_vehicles["regions"]:
        assert row["bank_batteries_required"] <= row["bank_batteries_hardest"]


def test_neither_place_nor_vehicle_is_kept(tmp_path, monkeypatch):
    own = tmp_path / "cache"
    monkeypatch.setenv(cache.DIRECTORY_VARIABLE, str(own))
    folder = tmp_path / "fleet"
    folder.mkdir()
    loaded = fleet(folder, *rows("SECRET-77"))
    before = sorted(folder.iterdir())
    result = regions(loaded, jobs=1)
    assert sorted(folder.iterdir()) == before
    assert result["vehicles"][0]["vehicle"] == "SECRET-77"
    files = [path for path in own.rglob("*") if path.is_file()]
    assert any(path.parent.name == "rests" for path in files)
    places = [float(x) for place in PLACE.values() for x in place.split(",")]
    for path in files:
        content = path.read_bytes()
        assert b"SECRET" not in content
        assert not any(str(abs(x)).encode() in content for x in places)
        assert "SECRET" not in path.name
        if path.suffix == ".npz":
            kept = cache.load(path.parent.name, path.stem)
            assert kept is not None
            for values in kept.values():
                numbers = np.asarray(values).ravel()
                if numbers.dtype.kind == "f":
                    assert not np.isin(numbers, places).any()


def test_warnings_of_what_the_log_lacks(tmp_path):
    """Sixty miles east of the station."""
    east = [line.replace(PLACE["phoenix-az"], "33.4,-111.0") for line in rows("A")[:8]]
    table = STOPS.replace("shortest = 2", 'shortest = 2\nfar = "50 mi"')
    result = regions(fleet(tmp_path, *east, table=table), jobs=1)
    text = " ".join(result.warnings)
    assert "8 of 8 rests (100.0%) lie more than" in text
    assert "the log covers 8 days" in text


def test_the_page_and_the_tables_on_the_command_line(tmp_path, capsys):
    fleet(tmp_path, *rows("EAGER-1"), *rows("THRIFTY-2", 1.0), "A,?,?,0,0,1")
    (tmp_path / "box.toml").write_text(BOX.replace("batteries = 12", "batteries = 40"))
    words = ["regions", str(tmp_path / "fleet.toml"), "--jobs", "1", "--vehicles",
             str(tmp_path / "vehicles.csv"), "--plot", str(tmp_path / "plot.svg")]  # fmt: skip
    assert main(words) in (0, 3)
    page = capsys.readouterr().out
    assert "33 rows over 366 days; 32 rests of 2 vehicles" in page.replace("\n", " ")
    assert "a time that cannot be read (line 34)" in page.replace("\n", " ")
    assert page.index("EAGER-1") < page.index("THRIFTY-2")
    table = pd.read_csv(tmp_path / "vehicles.csv")
    assert table["vehicle"].tolist() == ["EAGER-1", "THRIFTY-2"]
    assert not table.isna().to_numpy()[:, :4].any()
    assert "rests in the log" in (tmp_path / "plot.svg").read_text()


def test_vehicles_need_a_log(tmp_path, capsys):
    (tmp_path / "box.toml").write_text(BOX)
    words = ["regions", str(tmp_path / "box.toml"), "--climates", "phoenix-az",
             "--vehicles", str(tmp_path / "v.csv")]  # fmt: skip
    assert main(words) == 2
    assert "has no log of stops" in capsys.readouterr().err
    assert not (tmp_path / "v.csv").exists()


def test_json_holds_no_nan(two_vehicles):
    def check(value):
        if isinstance(value, float):
            assert math.isfinite(value)
        for one in value.values() if isinstance(value, dict) else value if (
            isinstance(value, list)
        ) else ():  # fmt: skip
            check(one)

    check(json.loads(json.dumps(two_vehicles.values)))
