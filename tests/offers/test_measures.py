"""A measure on offer is that very change of the truck, alone and with the others."""

import pytest

from restcab.odds import pairs as odds_pairs
from restcab.offers.file import load_offers
from restcab.offers.pairs import pairs_of, truck_with
from restcab.offers.starter import offers_text
from restcab.spec import default_spec
from restcab.studies.choose import choose
from restcab.weather.files import open_weather

DAY = "phoenix-az@7-0.4"
MEASURES = """
[[measures]]
name = "curtain"
price = "100 USD"
mass = "8 lb"
set = { "truck.curtain" = "closed" }

[[measures]]
name = "covers"
price = "240 USD"
set = { "truck.window_covers" = "insulated" }

[[measures]]
name = "paint"
price = "2600 USD"
does = "paint the truck white"
"""
BY_HAND = {
    "curtain": ["truck.curtain=closed"],
    "covers": ["truck.window_covers=insulated"],
    "paint": ["truck.paint=white"],
}
TRUCK = ["truck.curtain=open", "truck.paint=black", "rest.season=Jul"]
OF_ALL = tuple(BY_HAND)


def offers_with(tmp_path, more):
    """One unit and one battery of the starter, and some measures."""
    text = offers_text().replace("batteries_max = 8", "batteries_max = 4")
    path = tmp_path / f"offers{len(more)}.toml"
    path.write_text(text + more, encoding="utf-8")
    offers = load_offers(path)
    return offers.__class__(**{**vars(offers), "units": offers.units[1:],
                               "batteries": offers.batteries[1:]})  # fmt: skip


@pytest.mark.slow
def test_the_row_of_a_measure_equals_the_spec_changed_by_hand(tmp_path, monkeypatch):
    monkeypatch.setattr(odds_pairs, "SAMPLES", 32)
    day = {"there": open_weather(DAY)}
    rows = choose(default_spec(TRUCK), offers_with(tmp_path, MEASURES), day)["pairs"]
    done = {(tuple(row["measures"]), row["batteries"]): row for row in rows}
    assert {names for names, _ in done} == {(), *((name,) for name in OF_ALL), OF_ALL}
    shares = set()
    for names in ((), *((name,) for name in OF_ALL), OF_ALL):
        spec = default_spec([*TRUCK, *(word for name in names for word in BY_HAND[name])])
        for row in choose(spec, offers_with(tmp_path, ""), day)["pairs"]:
            (told,), (by_hand,) = done[names, row["batteries"]]["climates"], row["climates"]
            apart = ("net_present_cost_usd",)  # the price of the measure stands in one of them
            assert {k: v for k, v in told.items() if k not in apart} == {
                k: v for k, v in by_hand.items() if k not in apart
            }
            shares.add(told["probability_frac"])
    assert len(shares) > 3  # they do something


def test_a_measure_adds_its_price_and_mass(tmp_path):
    spec = default_spec(TRUCK)
    pairs = {
        tuple(m.name for m in pair.measures): pair
        for pair in pairs_of(spec, offers_with(tmp_path, MEASURES))
        if pair.count == 1
    }
    bare, every = pairs[()], pairs[OF_ALL]
    assert every.price_usd - bare.price_usd == 100.0 + 240.0 + 2600.0
    assert every.measures_kg == pytest.approx(8 * 0.45359237)
    assert truck_with(spec, every).truck.curtain == "closed"
