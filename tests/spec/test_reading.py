"""Reading of spec files: values, overrides, and every fault at once."""

import re
from pathlib import Path

import pytest

from restcab.errors import InputError
from restcab.said import customary
from restcab.spec import default_spec, load_spec
from restcab.spec.declare import Number, Quantity, declarations
from restcab.spec.model import TABLES

EXAMPLES = Path(__file__).parents[2] / "examples"
KEYS = [
    (table, attribute, declared)
    for table, model in TABLES.items()
    for attribute, declared in declarations(model).items()
]
NUMBERS = [key for key in KEYS if isinstance(key[2].kind, Quantity | Number)]
KEY_IDS = [f"{table}.{declared.key}" for table, _, declared in KEYS]


def load(tmp_path, text, overrides=()):
    path = tmp_path / "truck.toml"
    path.write_text(text, encoding="utf-8")
    return load_spec(path, overrides)


def faults(tmp_path, text, overrides=()):
    with pytest.raises(InputError) as caught:
        load(tmp_path, text, overrides)
    return [str(problem).removeprefix(f"{tmp_path}/") for problem in caught.value.problems]


def test_illustration_of_the_plan(tmp_path):
    spec = load(
        tmp_path,
        """
        [truck]
        preset = "raised-roof-72"
        paint = "white"
        heading = "south"
        [cooling]
        capacity = "10000 Btu/h"
        [rest]
        start = "20:00"
        hours = 10
        setpoint = "72 degF"
        """,
    )
    assert spec.cooling.capacity_w == pytest.approx(2930.7107)
    assert spec.rest.setpoint_c == pytest.approx(22.2222, abs=1e-4)
    assert (spec.rest.start_h, spec.rest.hours) == (20.0, 10.0)
    assert spec.truck.heading == 180.0
    assert spec.truck.absorptance_frac == 0.30


def test_empty_file_is_the_built_in_truck(tmp_path):
    assert load(tmp_path, "").resolved() == default_spec().resolved()


def test_all_defaults_are_usual():
    assert default_spec().warnings == ()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "[cooling]\ncapacity = 10000",
            "truck.toml line 2: cooling.capacity: capacity = 10000: a number without a unit; "
            'allowed: a power from 500 to 60000 Btu/h, such as "20000 Btu/h". '
            'Did you mean "10000 Btu/h"?',
        ),
        (
            '[cooling]\ncapacity = "10000 W/m"',
            "truck.toml line 2: cooling.capacity: capacity = \"10000 W/m\": 'W/m' does not "
            'measure a power; allowed: a power from 500 to 60000 Btu/h, such as "20000 Btu/h"',
        ),
        (
            "[rest]\n\nhours = -3",
            "truck.toml line 3: rest.hours: hours = -3: out of range; "
            "allowed: a number from 0.5 to 48 h, without quotes",
        ),
        (
            "[money]\ndisel = 3",
            "truck.toml line 2: money.disel: disel is an unknown key; allowed: "
            + ", ".join(declared.key for declared in declarations(TABLES["money"]).values())
            + ". Did you mean 'diesel'?",
        ),
        (
            '[cooling]\nspeed = "varable"',
            'truck.toml line 2: cooling.speed: speed = "varable": unknown word; '
            "allowed: fixed, variable. Did you mean 'variable'?",
        ),
        (
            "[bank]\nhours = 10",
            "truck.toml line 2: bank.hours: hours is an unknown key; allowed: chemistry, "
            "batteries, rated, rated_hours, voltage, system_voltage, age, end_capacity, "
            "size_for, reserve, cutoff, mounting, film, heater, heater_when, start_reserve, "
            "mass. It belongs in [rest].",
        ),
        (
            "[bnak]\nage = 1",
            "truck.toml line 1: bnak: [bnak] is an unknown table; allowed: "
            + ", ".join(f"[{name}]" for name in TABLES)
            + ". Did you mean 'bank'?",
        ),
        (
            "hours = 8",
            "truck.toml line 1: hours: hours stands outside of any table; allowed: hours in [rest]",
        ),
        ("rest = 8", "truck.toml line 1: rest: rest is not a table; allowed: [rest]"),
    ],
)
def test_message(tmp_path, text, message):
    assert faults(tmp_path, text) == [message]


def test_unknown_paint_names_the_nearest(tmp_path):
    (message,) = faults(tmp_path, '[truck]\npaint = "whit"')
    assert message.startswith(
        'truck.toml line 2: truck.paint: paint = "whit": unknown word; allowed: white, '
    )
    assert message.endswith("Did you mean 'white'?")


def test_all_problems_are_told_at_once(tmp_path):
    text = """
        [truck]
        paint = "whit"
        insulation = "R-2"
        r_value = "1 m**2*K/W"
        [cooling]
        capacity = 10000
        [bank]
        batteries = 3
        voltage = "6 V"
        [rest]
        hours = -3
        colour = "red"
        """
    found = faults(tmp_path, text)
    assert [message.split(": ")[1] for message in found] == [
        "truck.paint",
        "truck.r_value",
        "cooling.capacity",
        "bank.batteries",
        "rest.hours",
        "rest.colour",
    ]


@pytest.mark.parametrize(("table", "attribute", "declared"), KEYS, ids=KEY_IDS)
@pytest.mark.parametrize("bad", ["true", "nan", "inf", "-inf", "1e99", '"?"', "[1]", "2020-01-01"])
def test_nonsense_is_an_error_that_names_the_key(tmp_path, table, attribute, declared, bad):
    messages = faults(tmp_path, f"[{table}]\n{declared.key} = {bad}")
    assert len(messages) == 1
    assert messages[0].startswith(f"truck.toml line 2: {table}.{declared.key}: {declared.key} = ")
    assert "; allowed: " in messages[0]


@pytest.mark.parametrize(("table", "attribute", "declared"), KEYS, ids=KEY_IDS)
def test_key_with_a_letter_too_many_is_an_error(tmp_path, table, attribute, declared):
    (message,) = faults(tmp_path, f"[{table}]\n{declared.key}x = 1")
    assert f"{declared.key}x is an unknown key" in message
    assert "Did you mean" in message


@pytest.mark.parametrize(("table", "attribute", "declared"), NUMBERS)
def test_range_is_closed_at_both_ends(tmp_path, table, attribute, declared):
    kind = declared.kind
    wrap = (lambda v: f'"{v!r} {kind.unit}"') if isinstance(kind, Quantity) else repr
    low, high = kind.hard
    step = max(1e-6 * (high - low), 1e-7) if not getattr(kind, "whole", False) else 1
    for outside in (low - step, high + step):
        (message,) = faults(tmp_path, f"[{table}]\n{declared.key} = {wrap(outside)}")
        assert "out of range" in message
    for inside in kind.hard:
        kind.parse(f"{inside!r} {kind.unit}" if isinstance(kind, Quantity) else inside)


@pytest.mark.parametrize(("table", "attribute", "declared"), KEYS, ids=KEY_IDS)
def test_declaration_is_complete(table, attribute, declared):
    assert declared.meaning.endswith(".")
    assert declared.source
    assert (declared.default is None) == bool(declared.unset)
    if declared.default is not None:
        assert declared.kind.unusual(declared.kind.parse(declared.default)) == ""


SUFFIXES = ("_w", "_m3_per_s", "_frac", "_c", "_k", "_ah", "_v", "_a", "_kg", "_h", "_s", "_count",
            "_per_h", "_usd", "_usd_per_l", "_usd_per_kwh", "_l_per_h", "_l",
            "_frac_per_t", "_scale",
            "_m2k_per_w", "_w_per_m2k", "_w_per_k", "_rpm", "_m")  # fmt: skip
BARE = {"rated_hours", "hours", "drive_hours", "years", "solar_absorptance", "emittance",
        "glass_transmittance", "glass_absorptance", "solar_absorptance_inside"}  # fmt: skip


@pytest.mark.parametrize(("table", "attribute", "declared"), KEYS, ids=KEY_IDS)
def test_number_carries_its_unit_in_its_name(table, attribute, declared):
    if isinstance(declared.kind, Quantity | Number):
        assert attribute.endswith(SUFFIXES) or attribute in BARE


@pytest.mark.parametrize(
    ("override", "read", "expected"),
    [
        ("rest.hours=7", lambda s: s.rest.hours, 7.0),
        ("rest.start=21:30", lambda s: s.rest.start_h, 21.5),
        ('rest.start="21:30"', lambda s: s.rest.start_h, 21.5),
        ("cooling.capacity=9000 Btu/h", lambda s: round(s.cooling.capacity_w), 2638),
        ("truck.paint=black", lambda s: s.truck.absorptance_frac, 0.95),
        ("truck.solar_absorptance=0.5", lambda s: s.truck.absorptance_frac, 0.5),
        ("bank.age = 0.5", lambda s: s.bank.age_frac, 0.5),
    ],
)
def test_override(tmp_path, override, read, expected):
    spec = load(tmp_path, '[truck]\npaint = "red"\n[rest]\nhours = 9', [override])
    assert read(spec) == expected
    assert spec.given[override.split("=")[0].strip()] == f"--set {override}"


def test_last_override_wins():
    assert default_spec(["rest.hours=7", "rest.hours=8"]).rest.hours == 8.0


def test_a_table_of_stops_is_not_taken_for_a_spec_without_a_word(tmp_path):
    path = tmp_path / "stops.csv"
    path.write_text("Unit #,Arrived\n1,2\n", encoding="utf-8")
    with pytest.raises(InputError, match=r'file = "stops.csv" in \[stops\]'):
        load_spec(path)


@pytest.mark.parametrize(
    ("override", "meant"),
    [
        ("paint=black", "truck.paint=black"),
        ("truck.preset=mid-roof", "mid-roof-72"),
        ("truck.preset=raisedroof72", "raised-roof-72"),
        ("cooling.capacity=8,200 Btu/h", "8200 Btu/h"),
        ("cooling.power=0,9 kW", "0.9 kW"),
        ("cooling.power=0,900 kW", "0.900 kW"),
    ],
)
def test_what_was_meant_is_guessed(override, meant):
    with pytest.raises(InputError, match=rf"Did you mean '?{re.escape(meant)}'?\?"):
        default_spec([override])


@pytest.mark.parametrize("override", ["rest", "rest.hours", "=3", "hours=3", ".x=1", "rest.=1"])
def test_override_without_form(override):
    with pytest.raises(InputError, match=r"allowed: table\.key=value"):
        default_spec([override])


def test_fault_of_an_override_names_it():
    with pytest.raises(InputError, match=r'--set rest\.hours=x: hours = "x": not a bare'):
        default_spec(["rest.hours=x"])


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"[rest\nhours = 3", "is not valid TOML: .*line 1"),
        (b"[rest]\nhours = 3\nhours = 4\n", "is not valid TOML: .*line 3.* hours stands twice"),
        (b'[truck]\npaint = "white\n', "is not valid TOML: .*line 2.*A quote is missing"),
        (b"[cooling]\ncapacity = 10000 Btu/h\n", "is not valid TOML: .*line 2"),
        (b"[cooling]\ncapacity = Btu\n", "Quantities stand in quotes"),
        (b"\xff\xfe\x00\x01", "not a text file in UTF-8"),
    ],
)
def test_file_that_is_no_toml(tmp_path, content, message):
    path = tmp_path / "truck.toml"
    path.write_bytes(content)
    with pytest.raises(InputError, match=message):
        load_spec(path)


def test_file_that_cannot_be_read(tmp_path):
    with pytest.raises(InputError, match=r"no such file.*restcab new"):
        load_spec(tmp_path / "none.toml")
    with pytest.raises(InputError, match="cannot be read: Is a directory"):
        load_spec(tmp_path)


def test_byte_order_mark_is_accepted(tmp_path):
    path = tmp_path / "truck.toml"
    path.write_bytes(b"\xef\xbb\xbf[rest]\nhours = 8\n")
    assert load_spec(path).rest.hours == 8.0


def test_unusual_value_is_a_warning(tmp_path):
    spec = load(tmp_path, '[cooling]\ncapacity = "50000 Btu/h"')
    (warning,) = spec.warnings
    assert customary(warning).endswith(
        "truck.toml line 2: cooling.capacity: capacity = 50000 Btu/h is unusual; "
        "usual is 3000 to 20000 Btu/h"
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[cooling]\npower = "120 W"', "power = 120 W is not above the powers of fans"),
        ('[cooling]\nrating_wet_bulb = "85 degF"', "rating_wet_bulb = 85 degF is above"),
        ('[cooling]\noutdoor_min="95 degF"\noutdoor_max="90 degF"', "is not below outdoor_max"),
        ('[bank]\nvoltage = "5 V"', "voltage = 5 V does not add up"),
        ('[bank]\nvoltage = "24 V"', "voltage = 24 V does not add up"),
        ('[bank]\nvoltage = "6 V"\nbatteries = 3', "batteries = 3 is not a multiple of the 2"),
        ('[bank]\ncutoff = "14 V"', "cutoff = 14 V is above"),
        ('[bank]\nstart_reserve = "420 Ah"', "is not below the rated charge"),
        ('[rest]\npull_down = "600 min"', "pull_down = 600 min is not shorter"),
        ('[rest]\nhours = 1\narrival = "soaked"', "pull_down = 30 min if cooled"),
        ('[[truck.zones]]\nname="bunk"\nvolume="8 m**3"', "zones = the list stands without"),
        ('[truck]\nsolar_absorptance = 0.3\npaint = "red"', "are both given"),
    ],
)
def test_values_that_do_not_fit_together(tmp_path, text, message):
    assert any(message in found for found in faults(tmp_path, text))


TRUCKS = [
    path
    for path in sorted(EXAMPLES.glob("*.toml"))
    if path.stem not in ("fleet", "logged-fleet", "offers")
]


@pytest.mark.parametrize("path", TRUCKS, ids=lambda path: path.stem)
def test_examples_are_read_without_a_warning(path):
    spec = load_spec(path)
    assert spec.warnings == ()
    assert spec.cab.surfaces
