"""Cells of a fleet: shares that add up, and whose price holds where."""

import pytest
from fleet_box import BOX, FLEET

from restcab.fleet.file import load_fleet
from restcab.fleet.model import Fleet, Lane, Region, Truck, cells, price_notes
from restcab.fleet.rows import MONTH_NUMBERS
from restcab.units import L_PER_GAL

pytestmark = pytest.mark.usefixtures("own_cache")

HOT, COLD = "phoenix-az", "duluth-mn"


def test_the_shares_of_a_fleet_add_up_to_its_trucks(folder):
    fleet = load_fleet(folder / "fleet.toml")
    split = cells(fleet, {HOT: "AZ", COLD: "MN"})
    assert sum(cell.truck_years for cell in split) == pytest.approx(4.0)
    night = [c for c in split if c.climate == HOT and c.spec.rest.start_h == 20.0]
    assert [(c.months, round(c.truck_years, 9)) for c in night] == [
        (MONTH_NUMBERS, 0.9), ((6, 7, 8), 1.2),
    ]  # fmt: skip


def test_prices_come_from_the_region_then_the_state_then_the_truck(box):
    lane = Lane("all", 1.0, {HOT: 0.4, COLD: 0.3, "calgary-ab": 0.3}, MONTH_NUMBERS, ("a",))
    fleet = Fleet(
        "f", (Truck("a", 1, box),), (lane,),
        (Region((COLD,), 1.25, None, 0.2, "camx"),), diesel_by_state=True,
    )  # fmt: skip
    found = {c.climate: c.spec for c in cells(fleet, {HOT: "AZ", COLD: "MN", "calgary-ab": "AB"})}
    assert found[COLD].money.diesel_price_usd_per_l == 1.25
    assert found[COLD].money.electricity_usd_per_kwh == 0.2
    assert found[COLD].options.grid == "camx"
    # EIA, week of 4 November 2024 (read): West Coast less California 3.763 USD/gal.
    assert found[HOT].money.diesel_price_usd_per_l == pytest.approx(3.763 / L_PER_GAL)
    assert found["calgary-ab"].money == box.money


@pytest.mark.parametrize(
    ("overrides", "diesel", "price", "whose"),
    [
        ((), "", 4.0, "region"),
        (("money.diesel=5 USD/gal",), "", 5.0, "set"),
        (("money.diesel=5 USD/gal",), "by-state", 5.0, "set"),
        (("money.diesel_region=california",), "by-state", None, "set"),
    ],
)
def test_what_the_command_line_sets_comes_before_the_fleet(folder, overrides, diesel, price, whose):
    head = f'[fleet]\ndiesel = "{diesel}"\n' if diesel else ""
    (folder / "fleet.toml").write_text(head + FLEET)
    fleet = load_fleet(folder / "fleet.toml", overrides)
    split = [c for c in cells(fleet, {HOT: "AZ", COLD: "MN"}) if c.climate == COLD]
    assert {cell.diesel_from for cell in split} == {whose}
    if price is not None:
        for cell in split:
            assert cell.spec.money.diesel_price_usd_per_l == pytest.approx(price / L_PER_GAL)
    notes = " ".join(price_notes(fleet, cells(fleet, {HOT: "AZ", COLD: "MN"})))
    assert ("holds everywhere, also in [[regions]]" in notes) == (whose == "set")


def test_a_price_that_is_given_and_not_used_is_said(folder):
    (folder / "box.toml").write_text(BOX + '[money]\ndiesel = "3.00 USD/gal"\n')
    text = FLEET[: FLEET.index("[[regions]]")]
    (folder / "fleet.toml").write_text('[fleet]\ndiesel = "by-state"\n' + text)
    states = {HOT: "AZ", COLD: "MN"}
    fleet = load_fleet(folder / "fleet.toml")
    split = cells(fleet, states)
    assert {cell.diesel_from for cell in split} == {"state"}
    (note,) = price_notes(fleet, split)
    assert 'fleet.diesel = "by-state" comes before the diesel price that the spec of box' in note
    (folder / "fleet.toml").write_text(text)  # without that line the truck's own price holds
    fleet = load_fleet(folder / "fleet.toml")
    split = cells(fleet, states)
    assert {cell.diesel_from for cell in split} == {"truck"}
    assert price_notes(fleet, split) == []
    # A spec without a fleet file: its own price, or one that is set, before the state's.
    assert not load_fleet(folder / "box.toml").diesel_by_state
    (folder / "box.toml").write_text(BOX)
    assert load_fleet(folder / "box.toml").diesel_by_state
    assert not load_fleet(folder / "box.toml", ["money.diesel=5 USD/gal"]).diesel_by_state


def test_electricity_and_grid_that_are_set_come_before_the_region(folder):
    text = FLEET + 'electricity = "0.30 USD/kWh"\ngrid = "camx"\n'
    (folder / "fleet.toml").write_text(text)
    states = {HOT: "AZ", COLD: "MN"}

    def there(*overrides):
        fleet = load_fleet(folder / "fleet.toml", overrides)
        spec = next(c.spec for c in cells(fleet, states) if c.climate == COLD)
        return spec.money.electricity_usd_per_kwh, spec.options.grid

    assert there() == (0.3, "camx")
    assert there("money.electricity=0.2 USD/kWh", "options.grid=rfce") == (0.2, "rfce")
