"""``regions``: the same numbers as a single comparison, added up; kept, read back, never half."""

import json
import os
from collections.abc import Mapping
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fleet_box import BOX, FLEET
from support import option_years, pick_rests, use_own_cache

from restcab.errors import SolverError
from restcab.fleet import physics
from restcab.fleet.file import load_fleet
from restcab.fleet.model import Fleet, Lane, Truck, one_truck
from restcab.fleet.physics import read_physics
from restcab.fleet.rows import DIMENSIONS, MONTH_NUMBERS, Row, Task, read_row, work
from restcab.odds import trials
from restcab.options.cashflow import payback_years
from restcab.options.table import evaluate_options
from restcab.options.year import year_and_run, year_of_rests
from restcab.output.regions_page import regions_page
from restcab.runs import cache
from restcab.season import scene
from restcab.season.climate_scene import climate_weather
from restcab.studies.regions import regions
from restcab.weather.files import open_weather

pytestmark = pytest.mark.usefixtures("own_cache")

HOT, COLD = "phoenix-az", "duluth-mn"
SUM_RTOL = 1e-12  # the same additions in another order


def fleet_of(spec, climates=(HOT, COLD), **changes):
    return replace(one_truck(spec, climates, diesel_by_state=False), **changes)


def table(result):
    """Everything a result says, as text, so that equality is of every digit."""
    return json.dumps(result.values, sort_keys=True, default=lambda value: value.tolist())


@pytest.fixture(scope="module")
def small_fleet(tmp_path_factory):
    """Result of the fleet above, worked out once."""
    path = tmp_path_factory.mktemp("fleet")
    (path / "box.toml").write_text(BOX)
    (path / "fleet.toml").write_text(FLEET)
    with pytest.MonkeyPatch.context() as patch:
        use_own_cache(patch, path / "cache")
        yield regions(load_fleet(path / "fleet.toml"), jobs=1)


def by_climate(result):
    return {row["climate"]: row for row in result["regions"]}


# Numbers -------------------------------------------------------------------------------------


def test_one_truck_in_one_climate_is_the_comparison(box):
    row = by_climate(regions(fleet_of(box), jobs=1))[HOT]
    year = year_of_rests(box, open_weather(HOT))
    options = evaluate_options(box, year).set_index("option")
    idle, ours = options.loc["idling"], options.loc["battery+heater"]
    assert row["idle_fuel_gal_per_year"] == pytest.approx(idle["fuel_gal_per_year"], rel=SUM_RTOL)
    assert row["option_fuel_gal_per_year"] == pytest.approx(ours["fuel_gal_per_year"], rel=SUM_RTOL)
    assert row["saving_usd_per_year"] == pytest.approx(
        idle["cost_usd_per_year"] - ours["cost_usd_per_year"], rel=SUM_RTOL
    )
    assert row["co2_saved_kg_per_year"] == pytest.approx(
        idle["co2_kg_per_year"] - ours["co2_kg_per_year"], rel=SUM_RTOL
    )
    assert row["rests_held_frac"] == pytest.approx(ours["held_frac"])
    assert row["cooling_wh_per_year"] == pytest.approx(year.total(year.cooling_wh), rel=SUM_RTOL)
    assert row["rests_cooled"] == pytest.approx(year.total(year.cooled))
    assert row["rests_heated"] == pytest.approx(year.total(year.heated))


def test_parts_add_up_to_the_whole(small_fleet):
    result = small_fleet
    keys = [
        "rests", "rests_cooled", "rests_heated", "cooling_wh_per_year", "heating_wh_per_year",
        "idle_fuel_gal_per_year", "option_fuel_gal_per_year", "saving_usd_per_year",
        "co2_saved_kg_per_year",
    ]  # fmt: skip
    for key in keys:
        total = result["totals"][key]
        assert sum(row[key] for row in result["regions"]) == pytest.approx(total, rel=SUM_RTOL)
        assert sum(row[key] for row in result["trucks"]) == pytest.approx(total, rel=SUM_RTOL)
    assert result["totals"]["rests"] == pytest.approx(4 * 250.0)
    months = pd.DataFrame(result["months"]).groupby("climate").sum(numeric_only=True)
    for climate, row in by_climate(result).items():
        for month_key, key in (("cooling_wh", "cooling_wh_per_year"), ("rests", "rests"),
                               ("rests_cooled", "rests_cooled")):  # fmt: skip
            assert months.loc[climate, month_key] == pytest.approx(row[key], rel=SUM_RTOL)
    options = {row["option"]: row for row in result["options"]}
    assert options["idling"]["fuel_gal_per_year"] == pytest.approx(
        result["totals"]["idle_fuel_gal_per_year"], rel=SUM_RTOL
    )


def test_range_over_logged_fleets_is_that_of_the_comparison(box):
    result = regions(fleet_of(box, (HOT,)), jobs=1)
    year = year_of_rests(box, open_weather(HOT))
    for hours, end in ((480.0, "low"), (1840.0, "high")):
        spec = box.with_values("options", idling_h=hours)
        rows = evaluate_options(spec, year).set_index("option")
        saved = {
            key: rows.loc["idling", key] - rows.loc["battery+heater", key]
            for key in ("cost_per_rest_usd", "fuel_gal_per_year")
        }
        for row in (result["totals"], result["regions"][0]):
            assert row[f"saving_after_purchase_{end}_usd_per_year"] == pytest.approx(
                250.0 * saved["cost_per_rest_usd"]
            )
            assert row[f"fuel_saved_{end}_gal_per_year"] == pytest.approx(
                saved["fuel_gal_per_year"]
            )
    assert not result["idle_hours_given"]
    text = " ".join(regions_page(result, "us", to_file=True).split())
    assert "Over them, 480 to 1,840 h: saves" in text


def test_months_idle_as_the_year_does(box):
    spec = box.with_values("options", idling_h=300.0)
    result = regions(fleet_of(spec), jobs=1)
    months = pd.DataFrame(result["months"]).groupby("climate")["idle_fuel_gal"].sum()
    for climate, row in by_climate(result).items():
        # The hotel load of rests not idled comes back at each month's own efficiency of the bank.
        assert months[climate] == pytest.approx(row["idle_fuel_gal_per_year"], rel=5e-3)
        assert row["baseline_engine_h_per_year"] == pytest.approx(300.0)
        assert row["fuel_saved_low_gal_per_year"] == row["fuel_saved_high_gal_per_year"]
    assert result["idle_hours_given"]
    assert "Over them" not in regions_page(result, "us", to_file=True)


def test_a_price_from_memory_that_decides_is_named(box):
    # A unit at 1,500 USD and a store at 3,000 to 6,000, from memory, against a battery between.
    spec = box.with_values("money", unit_price_usd=3000.0).with_values(
        "options", unit_service_usd=100.0
    )
    close = fleet_of(spec, (HOT,), baseline="storage+heater")
    result = regions(close, jobs=1)
    assert "options.storage_price" in [row["input"] for row in result["decided_by_memory"]]
    text = " ".join(regions_page(result, "us", to_file=True).split())
    assert "options.storage_price is known only from memory" in text
    assert "Over them" not in text  # a store does not idle
    given = replace(spec, given={"options.storage_price": "--set"})
    own = regions(fleet_of(given, (HOT,), baseline="storage+heater"), jobs=1)
    assert "options.storage_price" not in [row["input"] for row in own["decided_by_memory"]]


def test_payback_and_co2_of_a_region_are_those_of_the_comparison(box):
    cheap = box.with_values("money", unit_price_usd=300.0)
    result = regions(fleet_of(cheap, (HOT,)), jobs=1)
    row = by_climate(result)[HOT]
    year = year_of_rests(cheap, open_weather(HOT))
    ours = evaluate_options(cheap, year).set_index("option").loc["battery+heater"]
    assert row["payback_years"] == pytest.approx(ours["payback_years"])
    assert 0.0 < row["payback_years"] < box.money.years
    text = regions_page(result, "us", to_file=True)
    assert f"{row['payback_years']:.1f}" in text
    assert "payback" in text
    assert "CO2 short tons" in text


def test_a_fleet_is_paid_back_when_all_its_trucks_together_are(box):
    box = box.with_values("money", unit_price_usd=100.0)
    dear = box.with_values("money", unit_price_usd=1500.0, years=3.0)
    lane = Lane("all", 1.0, {HOT: 1.0}, MONTH_NUMBERS, ("a", "b"))
    fleet = Fleet("f", (Truck("a", 3, box), Truck("b", 1, dear)), (lane,))
    result = regions(fleet, jobs=1)
    total = np.zeros((2, 6))
    for count, spec in ((3, box), (1, dear)):
        year = year_of_rests(spec, open_weather(HOT))
        done = {way.name: costs.flows for way, _, costs in option_years(spec, year)}
        for row, name in enumerate(("idling", "battery+heater")):
            total[row, : len(done[name])] += count * done[name]
    assert result["totals"]["payback_years"] == pytest.approx(payback_years(total[1], total[0]))
    trucks = {row["truck"]: row["payback_years"] for row in result["trucks"]}
    assert trucks["b"] is None
    assert trucks["a"] < result["totals"]["payback_years"]
    assert "none" in regions_page(result, "us", to_file=True)


def test_a_share_that_is_not_held_somewhere_is_said(box):
    weak = box.with_values("cooling", capacity_w=500.0, power_w=300.0)
    result = regions(fleet_of(weak), jobs=1)
    met = {climate: row["requirement_met"] for climate, row in by_climate(result).items()}
    assert met == {HOT: False, COLD: False}
    for climate in met:  # as a single comparison judges it
        year = year_of_rests(weak, open_weather(climate))
        done = evaluate_options(weak, year).set_index("option")["does_the_job"]
        assert met[climate] == done["battery+heater"]
    assert not result["requirement_met"]
    modest = weak.with_values("rest", hold_share_frac=0.0)
    assert regions(fleet_of(modest, (HOT,)), jobs=1)["requirement_met"]
    # One kind of truck that falls short is not made good by the many others of another kind.
    lane = Lane("all", 1.0, {HOT: 1.0}, MONTH_NUMBERS, ("a", "b"))
    strong = box.with_values("bank", batteries_count=12)
    trucks = (Truck("a", 99, strong), Truck("b", 1, weak))
    mixed = regions(Fleet("f", trucks, (lane,)), jobs=1)
    assert mixed["regions"][0]["rests_held_frac"] > 0.98
    assert not mixed["requirement_met"]


def test_a_rest_that_is_not_held_saves_nothing(box):
    """By hand: the baseline's fuel of the rests that are not held comes back in the option's."""
    weak = box.with_values("cooling", capacity_w=500.0, power_w=300.0)
    spec = weak.with_values("options", idling_h=8784.0)  # idled wherever asked for
    result = regions(fleet_of(spec, (HOT,)), jobs=1)
    year = year_of_rests(spec, open_weather(HOT))
    held = year.unit_held & year.heater_held & year.bank.carried
    lost = pick_rests(year, ~held)
    row = by_climate(result)[HOT]
    hours = 250.0 * (~held & (year.cooled | year.heated)).mean() * 3.0
    ours = {each["option"]: each for each in result["options"]}["battery+heater"]
    assert hours > 100.0
    assert ours["engine_h_per_year"] == pytest.approx(hours)
    burnt = evaluate_options(spec, lost).set_index("option").loc["idling", "fuel_gal_per_year"]
    most_gal = row["option_fuel_gal_per_year"] - (~held).mean() * burnt
    kept = evaluate_options(spec, replace(year, unit_held=year.unit_held | True)).set_index(
        "option"
    ).loc["battery+heater", "fuel_gal_per_year"]  # fmt: skip
    assert 0.0 < most_gal < kept  # its own fuel, of fewer rests


def test_the_desert_cools_and_the_north_heats(box):
    rows = by_climate(regions(fleet_of(box), jobs=1))
    assert rows[HOT]["cooling_wh_per_year"] > 5.0 * rows[COLD]["cooling_wh_per_year"]
    assert rows[COLD]["heating_wh_per_year"] > 5.0 * rows[HOT]["heating_wh_per_year"]
    assert rows[HOT]["bank_batteries_required"] > rows[COLD]["bank_batteries_required"]


def test_a_summer_lane_has_only_summer_rests(box):
    lane = Lane("summer", 1.0, {HOT: 1.0}, (6, 7, 8), ("truck",))
    fleet = fleet_of(box, (HOT,), lanes=(lane,))
    result = regions(fleet, jobs=1)
    months = pd.DataFrame(result["months"]).set_index("month")
    assert months.loc[[6, 7, 8], "rests"].sum() == pytest.approx(250.0)
    assert months.drop([6, 7, 8])["rests"].sum() == 0.0
    assert result["totals"]["rests_cooled"] == pytest.approx(250.0)


def test_the_bank_is_that_of_the_hardest_start_and_the_hungriest_truck(box, small_fleet):
    def alone(**changes):
        spec = box.with_values("rest", **changes)
        return by_climate(regions(fleet_of(spec), jobs=1))

    rows = by_climate(small_fleet)
    night, day = alone(start_h=20.0), alone(start_h=8.0)
    for climate, row in rows.items():
        each = [part[climate]["bank_batteries_required"] for part in (night, day)]
        assert row["bank_batteries_required"] == max(each)
    assert night[HOT]["bank_batteries_required"] != day[HOT]["bank_batteries_required"]
    hungry = fleet_of(
        box, (HOT,),
        trucks=(Truck("truck", 1, box), Truck("b", 1, box.with_values("rest", hotel_load_w=300.0))),
        lanes=(Lane("all", 1.0, {HOT: 1.0}, MONTH_NUMBERS, ("truck", "b")),),
    )  # fmt: skip
    more = by_climate(regions(hungry, jobs=1))[HOT]["bank_batteries_required"]
    assert more > night[HOT]["bank_batteries_required"]


def test_a_bank_that_never_suffices_is_said(box):
    stuck = box.with_values("charging", drive_hours=0.1)
    result = regions(fleet_of(stuck, (HOT,)), jobs=1)
    assert result["regions"][0]["bank_batteries_required"] is None
    assert any("no number of batteries" in text and HOT in text for text in result.warnings)


def test_the_result_can_be_written_as_json(small_fleet):
    result = small_fleet
    assert isinstance(result.values, Mapping)
    assert json.loads(json.dumps(result.values, allow_nan=False))["option"] == "battery+heater"
    assert list(result.frame["climate"]) == [HOT, COLD]
    assert any("Minnesota" in text or "duluth-mn" in text for text in result.sources)


# The same whatever the split; kept and read back ---------------------------------------------


def test_one_process_and_two_give_the_same_table(folder, small_fleet):
    fleet = load_fleet(folder / "fleet.toml")
    assert table(regions(fleet, jobs=2)) == table(small_fleet)
    assert table(regions(fleet, jobs=1)) == table(small_fleet)  # read back


@pytest.mark.filterwarnings("default")  # the cluster's own threads and sockets
def test_a_cluster_gives_the_same_table(folder, small_fleet):
    distributed = pytest.importorskip("distributed", reason="Dask is not installed")
    fleet = load_fleet(folder / "fleet.toml")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        there = regions(fleet, cluster=cluster.scheduler_address, keep=False)
    assert table(there) == table(small_fleet)


def test_a_run_stopped_half_way_goes_on_where_it_was(box, monkeypatch):
    fleet = fleet_of(box, (HOT, COLD, "tampa-fl"))
    whole = regions(fleet, jobs=1, keep=False)
    told = []

    def stop(done, total, what):
        told.append((done, total, what))
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        regions(fleet, jobs=1, on_progress=stop)
    assert told == [(1, 3, f"truck in {HOT} from 20:00"), (2, 3, f"truck in {COLD} from 20:00")]

    worked = []
    monkeypatch.setattr(
        "restcab.studies.regions.work", lambda task: worked.append(task) or work(task)
    )
    assert table(regions(fleet, jobs=1)) == table(whole)
    assert [task.climate for task in worked] == ["tampa-fl"]


def test_a_piece_that_fails_names_truck_and_climate_and_keeps_the_others(box, monkeypatch):
    fleet = fleet_of(box)

    def fail(scene):
        if "phoenix" in scene.weather.source:
            raise SolverError("the air of zone 0 reached 200 °C")
        return year_and_run(scene)

    monkeypatch.setattr(physics, "year_and_run", fail)
    told = []
    with pytest.raises(SolverError, match=f"truck in {HOT} from 20:00: the air of zone 0"):
        regions(fleet, jobs=1, on_progress=lambda *words: told.append(words))
    assert [what for _, _, what in told] == [f"truck in {COLD} from 20:00"]


def test_prices_are_no_part_of_the_rests_and_all_else_is(box):
    def key(spec, climate=HOT):
        return Task("a", spec, climate, (MONTH_NUMBERS,), "apu", "idling").physics_key

    assert key(box.with_values("money", years=9.0)) == key(box)
    assert key(box.with_values("options", idling_h=9.0)) == key(box)
    others = [
        key(box.with_values("rest", hours=9.0)),
        key(box.with_values("rest", season="Aug")),
        key(box.with_values("claim", holds_from_frac=0.95)),
        key(box.with_values("bank", age_frac=0.3)),
        key(box.with_values("heater", output_w=100.0)),
        key(box.with_values("charging", drive_hours=3.0)),
        key(box, COLD),
    ]
    assert len({key(box), *others}) == 8


def test_other_inputs_are_other_rows(box):
    def key(spec, **changes):
        return replace(Task("a", spec, HOT, (MONTH_NUMBERS,), "apu", "idling"), **changes).key

    assert key(box) == key(box)
    others = [
        key(box.with_values("rest", hours=9.0)),
        key(box.with_values("money", diesel_usd_per_l=2.0)),
        key(box, climate=COLD),
        key(box, seasons=((6, 7),)),
        key(box, option="start-stop"),
    ]
    assert len({key(box), *others}) == 6


# The cache -----------------------------------------------------------------------------------

KEY = "a" * 64


def test_kept_arrays_come_back_and_can_be_cleared():
    cache.save("kind", KEY, {"x": np.arange(3.0), "name": np.array("text")})
    back = cache.load("kind", KEY)
    np.testing.assert_array_equal(back["x"], np.arange(3.0))
    assert str(back["name"]) == "text"
    assert cache.clear() > 0
    assert cache.load("kind", KEY) is None
    assert cache.clear() == 0


@pytest.mark.parametrize("damage", [b"", b"PK\x03\x04 cut short", b"not arrays at all"])
def test_a_damaged_file_is_made_again(box, damage):
    first = climate_weather(HOT)
    (path,) = cache.cache_dir().glob("weather/*.npz")
    path.write_bytes(damage)
    assert climate_weather(HOT).content_hash == first.content_hash
    assert climate_weather(HOT).content_hash == first.content_hash  # and kept whole again
    assert path.read_bytes() != damage


def test_another_price_month_option_share_or_habit_runs_no_rest_again(box, monkeypatch):
    first = fleet_of(box, (HOT,))
    before = regions(first, jobs=1)

    def fail(*_args, **_changes):
        raise AssertionError("a rest was run")

    for module in (scene, trials):
        monkeypatch.setattr(module, "run_rests", fail)
    lane = Lane("summer", 1.0, {HOT: 1.0}, (6, 7, 8), ("truck",))
    others = {
        "money": fleet_of(box.with_values("money", diesel_usd_per_l=2.0), (HOT,)),
        "habit": fleet_of(box.with_values("options", idling_h=300.0), (HOT,)),
        "rests": fleet_of(box.with_values("money", rests_per_year_count=100.0), (HOT,)),
        "option": replace(first, option="storage+heater"),
        "months": replace(first, lanes=(lane,)),
        "count": replace(first, trucks=(Truck("truck", 7, box),)),
    }
    answers = {name: regions(fleet, jobs=1) for name, fleet in others.items()}
    assert len({table(before), *map(table, answers.values())}) == 7
    monkeypatch.undo()
    # The same to the last digit as if it had been run for it alone.
    for name in ("rests", "months"):
        assert table(answers[name]) == table(regions(others[name], jobs=1, keep=False))
    monkeypatch.setattr(scene, "run_rests", fail)
    with pytest.raises(AssertionError, match="a rest was run"):
        regions(fleet_of(box.with_values("rest", hours=4.0), (HOT,)), jobs=1, keep=False)


def test_rests_of_another_shape_are_run_again():
    assert read_physics(None) is None
    assert read_physics({"bank_strings": np.array(3.0)}) is None


def test_a_row_of_another_shape_is_worked_out_again():
    assert read_row(None) is None
    assert read_row({"season_needs": np.zeros(1)}) is None
    whole = {name: np.zeros((2,) * n) for name, n in DIMENSIONS.items()}
    assert set(whole) == {entry.name for entry in fields(Row)}
    assert read_row(whole) is not None
    assert read_row(whole | {"season_flows": np.zeros(2)}) is None
    assert read_row(whole | {"month_needs": np.array([["a", "b"]])}) is None


def test_a_directory_that_cannot_be_written_costs_only_time(monkeypatch, tmp_path):
    blocked = tmp_path / "a file"
    blocked.write_text("in the way")
    monkeypatch.setenv(cache.DIRECTORY_VARIABLE, str(blocked))
    cache.save("kind", KEY, {"x": np.zeros(1)})
    assert cache.load("kind", KEY) is None
    assert climate_weather(HOT).content_hash == open_weather(HOT).content_hash


def test_what_fails_while_writing_leaves_nothing(monkeypatch):
    def fail(*_args, **_arrays):
        raise KeyboardInterrupt

    cache.save("other", KEY, {"x": np.zeros(1)})
    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(KeyboardInterrupt):
        cache.save("kind", KEY, {"x": np.zeros(1)})
    assert list((cache.cache_dir() / "kind").iterdir()) == []


def test_trim_removes_the_oldest_first():
    keys = [KEY, *(cache.cache_key(name=name) for name in "bc")]
    for index, name in enumerate(keys):
        cache.save("kind", name, {"x": np.zeros(1000)})
        path = cache.cache_dir() / "kind" / f"{name}.npz"
        os.utime(path, (index, index))
    size = path.stat().st_size
    assert cache.trim(2 * size) == size
    assert cache.load("kind", KEY) is None
    assert cache.load("kind", keys[1]) is not None
    assert cache.trim(2 * size) == 0


def test_the_users_own_directory_is_the_default(monkeypatch):
    monkeypatch.delenv(cache.DIRECTORY_VARIABLE)
    assert cache.cache_dir().parent.name == "restcab"
