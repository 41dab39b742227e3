"""The whole spec: origins of inputs, resolved values, cabs written out by hand."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from restcab.errors import InputError
from restcab.provenance import data_rows
from restcab.spec import catalog, default_spec, load_spec
from restcab.spec.declare import declarations
from restcab.spec.model import TABLES

BOX = (Path(__file__).parents[2] / "examples" / "plain-box.toml").read_text(encoding="utf-8")


def box(tmp_path, old="", new=""):
    path = tmp_path / "box.toml"
    assert old in BOX
    path.write_text(BOX.replace(old, new, 1) if old else BOX, encoding="utf-8")
    return load_spec(path)


def test_every_key_is_explained_once():
    keys = [row.key for row in default_spec().inputs()]
    assert len(set(keys)) == len(keys)
    declared = {f"{table}.{d.key}" for table, m in TABLES.items() for d in declarations(m).values()}
    assert declared <= set(keys)


def test_origins(tmp_path):
    path = tmp_path / "t.toml"
    path.write_text('[truck]\npaint = "red"\n', encoding="utf-8")
    rows = {row.key: row for row in load_spec(path, ["rest.hours=8"]).inputs()}
    assert rows["truck.paint"].origin == "given"
    assert rows["truck.paint"].source == f"{path} line 2"
    assert rows["rest.hours"][1:] == ("8 h", "8 h", "given", "--set rest.hours=8")
    assert rows["truck.solar_absorptance"].origin == "preset"
    assert rows["truck.solar_absorptance"].value == "0.63"
    assert "ch. 18 Table 15" in rows["truck.solar_absorptance"].source
    assert rows["cooling.capacity"].origin == "default"
    assert rows["cooling.capacity"].value == "10000 Btu/h"
    assert rows["cooling.capacity"].unit == "2930.71 W"
    assert {row.origin for row in rows.values()} == {"given", "preset", "default"}
    assert all(row.source for row in rows.values())


def test_chemistry_stands_for_what_the_bank_leaves_out():
    rows = {row.key: row for row in default_spec(["bank.chemistry=LFP"]).inputs()}
    assert rows["bank.reserve"].origin == "preset"
    # iron phosphate: usable depth 0.85, 2.75 V per cell
    assert rows["bank.reserve"].value == "0.15"
    assert rows["bank.cutoff"].value == "2.75 V per cell"
    rows = {row.key: row for row in default_spec(["bank.reserve=0.3"]).inputs()}
    assert (rows["bank.reserve"].value, rows["bank.reserve"].origin) == ("0.3", "given")


def test_given_r_value_takes_the_place_of_the_row():
    rows = {row.key: row for row in default_spec(["truck.r_value=1 m**2*K/W"]).inputs()}
    assert rows["truck.r_value"].origin == "given"
    assert rows["truck.r_value"].unit == "1 m**2*K/W"


def test_resolved_is_plain_json_and_hashed():
    spec = default_spec()
    assert json.loads(json.dumps(spec.resolved(), allow_nan=False)) == spec.resolved()
    assert spec.inputs_hash() == default_spec().inputs_hash()
    assert spec.inputs_hash() != default_spec(["truck.paint=red"]).inputs_hash()


def test_hash_does_not_depend_on_how_a_value_is_written():
    first = default_spec(["rest.hours=10", "charging.alternator=270 A"])
    assert first.inputs_hash() == default_spec().inputs_hash()


def test_with_values_replaces_and_checks_the_name():
    spec = default_spec().with_values("cooling", capacity_w=2000.0)
    assert spec.cooling.capacity_w == 2000.0
    assert spec.bank == default_spec().bank
    with pytest.raises(KeyError, match="capacity"):
        spec.with_values("cooling", capacity=1.0)


def test_truck_replaced_gives_its_own_cab():
    spec = default_spec()
    assert spec.cab.surfaces[0].solar_absorptance == 0.30
    assert spec.with_values("truck", paint="black").cab.surfaces[0].solar_absorptance == 0.95


def test_bank_in_series():
    bank = default_spec(["bank.voltage=6 V", "bank.rated=220 Ah"]).bank
    assert (bank.series_count, bank.parallel_count) == (2, 2)
    assert bank.bank_ah == 440.0
    assert bank.bank_wh == 5280.0


@pytest.mark.parametrize(
    ("season", "months"),
    [
        ("May-Sep", (5, 6, 7, 8, 9)),
        ("jul", (7,)),
        ("Nov-Feb", (11, 12, 1, 2)),
        ("all", tuple(range(1, 13))),
    ],
)
def test_season(season, months):
    assert default_spec([f"rest.season={season}"]).rest.months == months


@pytest.mark.parametrize(
    ("overrides", "expected_s"),
    [
        (["rest.arrival=cooled"], 1800.0),
        (["rest.arrival=soaked"], 3600.0),
        (["rest.arrival=soaked", "rest.pull_down=45 min"], 2700.0),
    ],
)
def test_pull_down(overrides, expected_s):
    assert default_spec(overrides).rest.pull_down_s == expected_s


@pytest.mark.parametrize(
    ("heading", "expected"),
    [("north", 0.0), ("SouthWest", 225.0), ("90", 90.0), ("any", "any"), ("Any", "any")],
)
def test_heading(heading, expected):
    assert default_spec([f"truck.heading={heading}"]).truck.heading == expected


@pytest.mark.parametrize("name", ["R134a", "R-134a", "r134A", "R 134a".replace(" ", "")])
def test_refrigerant_as_the_trade_writes_it(name):
    assert default_spec([f"cooling.refrigerant={name}"]).cooling.refrigerant == "R134a"


def test_box_written_out_by_hand(tmp_path):
    built = box(tmp_path).cab
    assert [zone.name for zone in built.zones] == ["bunk"]
    assert built.zones[0].air_changes_per_h == 0.3
    surfaces = {s.name: s for s in built.surfaces}
    roof = surfaces["roof"]
    assert roof.resistance_m2k_per_w == pytest.approx(0.0012 / 50 + 0.025 / 0.035 + 0.004 / 0.2)
    # 1.2 mm steel, 25 mm foam, 4 mm board, by hand: 4521.6 + 1050 + 6120 J/(m2 K)
    assert roof.capacity_j_per_m2k == pytest.approx(11691.6)
    assert roof.solar_absorptance == 0.3
    assert surfaces["window"].transmittance == 0.77
    assert surfaces["bedding"].capacity_j_per_m2k == 18000.0


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('part = "roof"', 'part = "roff"', 'part = "roff": unknown word'),
        ('area = "4 m**2"', "", "area is missing"),
        ('area = "4 m**2"', "area = 4", 'Did you mean "4 m\\*\\*2"'),
        ("tilt = 0", "tilt = 200", "out of range"),
        ('name = "roof"', 'name = "window"', "two surfaces are called 'window'"),
        ('part = "roof"', 'part = "roof"\nzone = "seats"', "its zone 'seats' is not among"),
        ('part = "roof"', 'part = "roof"\nfacing = "bunk"', "cannot face 'bunk'"),
        ('[{ r_value = "0.74 m**2*K/W" }]', "[]", "has no layers"),
        ('r_value = "0.74 m**2*K/W"', "", "needs a thickness, an r_value"),
        ('conductivity = "50 W/(m*K)", ', "", "needs a conductivity"),
        ('r_value = "0.74', 'thickness = "1 mm", conductivity = "1 W/(m*K)", r_value = "0.74',
         "a material or one lumped property"),
        ('name = "bunk"', 'name = "seats"', "the first of them the bunk"),
        ("[truck]\n", '[truck]\npreset = "day-cab"\n', "stands beside listed surfaces"),
        ("azimuth = 90", 'azimuth = 90\ncover_outside = "yes"', "cover_outside"),
    ],
)  # fmt: skip
def test_faults_in_a_box(tmp_path, old, new, message):
    with pytest.raises(InputError, match=message):
        box(tmp_path, old, new)


MOST = {
    "r_value_m2k_per_w": 5.0, "conductivity_w_per_mk": 3.0, "density_kg_per_m3": 2800.0,
    "specific_heat_j_per_kgk": 4200.0,
}  # fmt: skip
"""Largest plausible values of what is no share."""


@pytest.mark.parametrize("table", list(catalog.TABLES))
def test_catalogue_rows_are_physical(table):
    names = catalog.names(table)
    assert len(set(names)) == len(names)
    for row in catalog.typed_rows(table):
        if table in ("factors", "options"):
            assert 0.0 <= row["low"] <= row["value"] <= row["high"]
            continue
        for column, value in row.items():
            if isinstance(value, float):
                assert 0.0 <= value <= MOST.get(column, 1.0)
        if table == "glazings":
            assert row["transmittance"] + row["absorptance"] < 1.0


def test_catalogue_is_not_shared_by_reference():
    assert data_rows("paints") is data_rows("paints")
    with pytest.raises(KeyError):
        catalog.row("paints", "plaid")


# Name of the row -> R-value that its name states [ft2 F h/Btu]; names round to the first digit.
@pytest.mark.parametrize("name", ["R-1", "R-2", "R-4.2", "R-4.6", "R-8.4"])
def test_insulation_names_state_their_r_value(name):
    stated = float(name.removeprefix("R-"))
    r_value = catalog.number("insulations", name, "r_value_m2k_per_w") * 5.678263341
    assert r_value == pytest.approx(stated, abs=0.05)


@pytest.mark.parametrize(
    ("written", "meant"), [("lithium", "LFP"), ("LiFePO4", "LFP"), ("lead-acid", "flooded")]
)
def test_other_names_of_a_chemistry_point_to_its_word(written, meant):
    with pytest.raises(InputError, match=f"Did you mean {meant}"):
        default_spec([f"bank.chemistry={written}"])


def test_iron_phosphate_of_its_own_voltage_needs_no_second_key():
    for voltage, series in (("12.8 V", 1), ("6.4 V", 2), ("3.2 V", 4)):
        spec = default_spec(["bank.chemistry=LFP", f"bank.voltage={voltage}"])
        assert spec.bank.series_count == series
    with pytest.raises(InputError, match="does not add up to system_voltage"):
        default_spec(["bank.voltage=14 V"])


def test_a_copy_keeps_the_cab_unless_what_makes_it_changed():
    spec = default_spec()
    assert spec.with_values("rest", start_h=3.0).with_values("money", years=7.0).cab is spec.cab
    thick = spec.with_values("fitted", contents_scale=2.0)
    for other in (spec.with_values("truck", paint="black"), thick):
        fresh = replace(other)  # a copy that knows nothing
        assert other.cab == fresh.cab != spec.cab
        assert other.inputs_hash() == fresh.inputs_hash() != spec.inputs_hash()
