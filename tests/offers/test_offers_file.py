"""A file of offers: what is read, and one message for each thing that is wrong."""

import pytest

from restcab.errors import InputError
from restcab.offers.file import load_offers
from restcab.offers.pairs import pairs_hash, pairs_of, truck_with
from restcab.offers.shown import inputs_of
from restcab.offers.starter import offers_text
from restcab.spec import default_spec
from restcab.spec.reading import load_spec

UNIT = """
[[units]]
name = "small"
capacity = "7500 Btu/h"
power = "760 W"
airflow = "250 cfm"
price = "USD 4,300"
mass = "80 lb"
"""
BATTERY = """
[[batteries]]
name = "mat"
chemistry = "AGM"
rated = "105 Ah"
price = "$310"
mass = "67 lb"
"""


def offers_of(tmp_path, text):
    path = tmp_path / "offers.toml"
    path.write_text(text, encoding="utf-8")
    return load_offers(path)


def problems_of(tmp_path, text):
    with pytest.raises(InputError) as caught:
        offers_of(tmp_path, text)
    return [str(problem).replace(str(tmp_path), "") for problem in caught.value.problems]


@pytest.mark.parametrize("price", ["4300 USD", "USD 4,300", "$4300", "US$4,300.00", "4300 $"])
def test_prices_are_read_as_people_write_them(tmp_path, price):
    offers = offers_of(tmp_path, UNIT.replace("USD 4,300", price) + BATTERY)
    assert offers.units[0].table.price_usd == 4300.0


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('airflow = "250 cfm"', 'airfow = "250 cfm"',
         ["offers.toml line 6: units.1.airfow: airfow", "250 cfm", "unknown key", "capacity, ",
          "Did you mean 'airflow'?"]),
        ('"USD 4,300"', "4300",
         ["line 7: units.1.price: price = 4300", "without a unit", "an amount of money",
          'Did you mean "4300 USD"?']),
        ('"USD 4,300"', '"4300"', ["units.1.price", 'price = "4300"', "a unit is missing"]),
        ('"760 W"', '"70 W"', ["units.1.power", 'power = "70 W"']),
        ('mass = "80 lb"', "", ["units.1.mass: mass is missing", "a mass from"]),
        ('"7500 Btu/h"', '"7500"', ["units.1.capacity", "a unit is missing", "a power from"]),
        ('mass = "80 lb"', 'mass = "80 lb"\ncurrent_limit = "40 A"',
         ["units.1.current_limit", "40 A", "less than the 63 A"]),
    ],
)  # fmt: skip
def test_a_fault_gives_one_message(tmp_path, old, new, words):
    (message,) = problems_of(tmp_path, UNIT.replace(old, new) + BATTERY)
    for word in words:
        assert word in message


def test_a_rating_point_beyond_carnot_is_refused(tmp_path):
    # Carnot between 80 and 95 °F: 299.8 K / 8.33 K = 36. 60,000 Btu/h (17.6 kW) of 400 W: COP 44.
    text = UNIT.replace("7500 Btu/h", "60000 Btu/h").replace("760 W", "400 W")
    (message,) = problems_of(tmp_path, text.replace("250 cfm", "1900 cfm") + BATTERY)
    assert 'units.1.power: power = "400 W": COP 44.0 exceeds the Carnot limit 36.0' in message
    assert "a rating point that a real unit can have" in message


def test_a_rating_point_no_compressor_has_is_refused(tmp_path):
    (message,) = problems_of(tmp_path, UNIT.replace("760 W", "350 W") + BATTERY)
    assert "units.1.power" in message
    assert "no small compressor" in message


def test_two_of_one_name_are_named_with_both_places(tmp_path):
    (message,) = problems_of(tmp_path, UNIT + UNIT.replace("small", "Small") + BATTERY)
    assert message.startswith("/offers.toml line 11: units.2.name")
    assert "stands twice" in message
    assert "line 3: units.1.name" in message


def test_all_problems_are_told_at_once(tmp_path):
    text = UNIT.replace("airflow", "airfow") + BATTERY.replace('"$310"', "310") + "[oders]\n"
    messages = problems_of(tmp_path, text)
    assert len(messages) == 3
    assert any("Did you mean 'offers'?" in message for message in messages)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (UNIT + BATTERY + "[truck]\n", ["[truck] is an unknown table", "a table of a spec file"]),
        ("offers = 3\n" + UNIT + BATTERY, ["line 1: offers: offers is not a table", "[offers]"]),
        ("units = 3\n" + BATTERY, ["line 1: units: units is not a list of tables", "[[units]]"]),
        ("units = [3]\n" + BATTERY, ["units.1 is not a table"]),
        (BATTERY, ["units: no [[units]]", "once for each"]),
        (UNIT.replace('name = "small"', "") + BATTERY, ["units.1.name: name is missing", "quotes"]),
        (UNIT + BATTERY + 'size = "13 x 7 in"\n', ["not three edges with one unit behind them"]),
        (UNIT + BATTERY + 'size = "13 x 7 x 9 lb"\n', ["batteries.1.size"]),
        (UNIT + BATTERY + 'size = "13 x 700 x 9 in"\n', ["an edge is not between 0 and 2 m"]),
        (UNIT + BATTERY + '[[measures]]\nname = "it"\nprice = "1 USD"\nset = 3\n',
         ["measures.1.set", "not a table of keys"]),
    ],
)  # fmt: skip
def test_what_is_no_offer_is_one_message(tmp_path, text, words):
    (message,) = problems_of(tmp_path, text)
    for word in words:
        assert word in message


@pytest.mark.parametrize(
    ("measure", "words"),
    [
        ('set = { "truck.curtan" = "closed" }', ["truck.curtan", "unknown key", "truck.curtain"]),
        ('set = { "truck.curtain" = "shut" }', ["truck.curtain", '"shut"', "open, closed"]),
        ('set = { "bank.age" = 0.5 }', ["bank.age", "unknown key"]),
        ('does = "paint the truck wite"', ["truck wite", "Did you mean 'paint the truck"]),
        ("", ["needs does or set"]),
    ],
)  # fmt: skip
def test_a_measure_must_be_one(tmp_path, measure, words):
    text = f'{UNIT}{BATTERY}\n[[measures]]\nname = "it"\nprice = "100 USD"\n{measure}\n'
    (message,) = problems_of(tmp_path, text)
    for word in words:
        assert word in message


def test_pairs_are_whole_strings_of_matching_voltage_within_the_room(tmp_path):
    high = UNIT.replace("small", "high") + 'voltage = "24 V"\n'
    odd = BATTERY.replace("mat", "odd").replace("$310", "$900") + 'voltage = "36 V"\n'
    head = '[offers]\nbatteries_max = 5\nbank_mass_max = "300 lb"\n'
    offers = offers_of(tmp_path, head + UNIT + high + BATTERY + odd)
    pairs = pairs_of(default_spec(), offers)
    # 67 lb each: four weigh 268 lb, five 335 lb; 36 V makes neither 12 nor 24 V
    found = {(pair.unit.name, pair.battery.name, pair.count) for pair in pairs}
    small = {("small", "mat", count) for count in (1, 2, 3, 4)}
    assert found == small | {("high", "mat", 2), ("high", "mat", 4)}


def test_there_are_as_many_batteries_as_there_is_room_for(tmp_path):
    offers = offers_of(tmp_path, "[offers]\nbatteries_max = 3\n" + UNIT + BATTERY)
    assert [pair.count for pair in pairs_of(default_spec(), offers)] == [1, 2, 3]


def test_a_file_without_a_pair_says_so(tmp_path):
    offers = offers_of(tmp_path, UNIT + BATTERY + 'voltage = "36 V"\n')
    with pytest.raises(InputError, match="no whole string of any battery"):
        pairs_of(default_spec(), offers)


def test_the_unit_brings_its_own_keys_and_the_truck_keeps_its_own(tmp_path):
    spec = default_spec(["cooling.fan_power=90 W", "cooling.duct_loss=0.1", "bank.age=0.5"])
    offers = offers_of(tmp_path, UNIT + BATTERY)
    truck = truck_with(spec, pairs_of(spec, offers)[3])
    assert truck.cooling.fan_power_w == 60.0  # the default: another machine
    assert truck.cooling.duct_loss_frac == 0.1  # the truck's
    assert truck.bank.age_frac == 0.0  # bought new
    assert truck.money.unit_price_usd == 4300.0
    assert truck.bank.batteries_count == 4


def test_each_measure_alone_and_all_together(tmp_path):
    measures = """
[[measures]]
name = "curtain"
price = "100 USD"
set = { "truck.curtain" = "closed" }

[[measures]]
name = "white"
price = "900 USD"
does = "paint the truck white"
"""
    offers = offers_of(tmp_path, UNIT + BATTERY + measures)
    spec = default_spec(["truck.curtain=open", "truck.paint=black"])
    pairs = [pair for pair in pairs_of(spec, offers) if pair.count == 1]
    ends = [tuple(m.name for m in pair.measures) for pair in pairs]
    assert ends == [(), ("curtain",), ("white",), ("curtain", "white")]
    truck = truck_with(spec, pairs[-1])
    assert (truck.truck.curtain, truck.truck.paint) == ("closed", "white")
    assert pairs[-1].price_usd == 4300.0 + 310.0 + 1000.0


CURTAIN = """
[[measures]]
name = "curtain"
price = "100 USD"
set = { "truck.curtain" = "closed" }
"""


def test_the_hash_of_the_inputs_tells_all_that_a_pair_changes(tmp_path):
    def hash_of(text, *overrides):
        spec = default_spec(["truck.curtain=open", *overrides])
        return pairs_hash(spec, pairs_of(spec, offers_of(tmp_path, text)))

    text = UNIT + BATTERY + CURTAIN
    changed = [
        text.replace(old, new)
        for old, new in (("760 W", "770 W"), ("80 lb", "81 lb"), ("USD 4,300", "USD 4,400"),
                         ("105 Ah", "106 Ah"), ("$310", "$320"), ("67 lb", "68 lb"),
                         ('"closed"', '"open"'), (CURTAIN, ""))
    ]  # fmt: skip
    hashes = {hash_of(text), *map(hash_of, changed), hash_of(text, "truck.paint=red")}
    assert len(hashes) == len(changed) + 2
    assert hash_of(text) == hash_of(text)


def test_explain_knows_every_key_of_an_offer(tmp_path):
    rows = {row.key: row for row in inputs_of(offers_of(tmp_path, UNIT + BATTERY))}
    assert rows["units.1.price"].origin == "given"
    assert "line 7" in rows["units.1.price"].source
    assert rows["units.1.fan_power"][1:4] == ("60 W", "60 W", "default")
    assert rows["units.1.duct_loss"].value == "as in the spec"
    assert rows["batteries.1.chemistry"].value == "AGM"


def test_the_starter_file_is_read(tmp_path):
    offers = offers_of(tmp_path, offers_text())
    assert len(offers.units) == len(offers.batteries) == 2
    assert offers.warnings == ()


def test_a_file_of_offers_is_no_spec(tmp_path):
    path = tmp_path / "offers.toml"
    path.write_text(UNIT + BATTERY, encoding="utf-8")
    with pytest.raises(InputError, match="restcab choose SPEC"):
        load_spec(path)
