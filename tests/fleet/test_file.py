"""The fleet file: what it says, and one message for everything that is wrong with it."""

from pathlib import Path

import pytest
from fleet_box import FLEET

from restcab.errors import InputError
from restcab.fleet.file import load_fleet
from restcab.fleet.model import cells
from restcab.units import L_PER_GAL
from restcab.weather.climates import climate_ids, read_climate

pytestmark = pytest.mark.usefixtures("own_cache")

EXAMPLE = Path(__file__).parents[2] / "examples" / "fleet.toml"
HOT = "phoenix-az"


def test_a_fleet_file_is_read(folder):
    fleet = load_fleet(folder / "fleet.toml")
    assert [(truck.name, truck.count) for truck in fleet.trucks] == [("box", 4.0)]
    assert fleet.starts == {20.0: 0.75, 8.0: 0.25}
    assert fleet.lanes[1].months == (6, 7, 8)
    assert fleet.regions[0].diesel_usd_per_l == pytest.approx(4.0 / L_PER_GAL)


def test_a_spec_file_is_a_fleet_of_one_truck_in_each_climate(folder):
    fleet = load_fleet(folder / "box.toml")
    with_year = [name for name in climate_ids() if read_climate(name).has_year]
    assert list(fleet.lanes[0].climates) == with_year
    assert len(with_year) == 40
    years = {cell.climate: cell.truck_years for cell in cells(fleet, dict.fromkeys(with_year, ""))}
    assert years == pytest.approx(dict.fromkeys(with_year, 1.0))


def test_the_example_is_a_fleet():
    fleet = load_fleet(EXAMPLE)
    split = cells(fleet, {name: read_climate(name).state for name in climate_ids()})
    assert sum(c.truck_years for c in split) == pytest.approx(sum(t.count for t in fleet.trucks))
    assert {c.climate for c in split} >= {"phoenix-az", "winnipeg-mb"}


def test_a_spec_can_be_run_in_some_climates(folder):
    assert list(load_fleet(folder / "box.toml", climates=[HOT]).lanes[0].climates) == [HOT]
    with pytest.raises(InputError, match=r"--climates: 'phoenx-az' is not .* 'phoenix-az'"):
        load_fleet(folder / "box.toml", climates=["phoenx-az"])
    with pytest.raises(InputError, match="whose lanes say where it rests"):
        load_fleet(folder / "fleet.toml", climates=[HOT])


def test_overrides_reach_every_truck(folder):
    fleet = load_fleet(folder / "fleet.toml", ["bank.batteries=7"])
    assert fleet.trucks[0].spec.bank.batteries_count == 7


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("duluth-mn = 0.5", "duluth = 0.5", "lanes.1.climates: 'duluth' is not a built-in climate"),
        ("duluth-mn = 0.5", "duluth = 0.5", "Did you mean 'duluth-mn'?"),
        ("duluth-mn = 0.5", "las-vegas-nv = 0.5", "'las-vegas-nv' has design conditions only"),
        ("duluth-mn = 0.5", "duluth-mn = 0.4", "the shares add up to 0.9, not to 1"),
        ('"08:00" = 0.25', '"08:00" = 0.2', "the shares add up to 0.95, not to 1"),
        ('"08:00" = 0.25', '"8 am" = 0.25', "'8 am' is no time of day from 00:00 to 23:59"),
        ('"08:00"', '"8:00" = 0.0, "08:00"', "'8:00' and '08:00' are the same start"),
        ('"08:00" = 0.25', '"08:00" = 1.25', "the share of '08:00' is 1.25, not a number from 0"),
        ("share = 0.6", "share = 0.5", "the shares of the lanes of 'box' add up to 0.9"),
        ("share = 0.6", "share = 1.6", "lanes.1.share: share: out of range"),
        ("box.toml", "lost.toml", "lost.toml: there is no such file"),
        ("count = 4", "cuont = 4", "cuont is an unknown key"),
        ('months = "Jun-Aug"', 'months = "summer"', "'summer' is no span of months, Jan to Dec"),
        ('months = "Jun-Aug"', "months = 7", "lanes.2.months: months: 7 is no span of months"),
        ("share = 0.4", 'trucks = ["bux"]\nshare = 0.4', "'bux' is none of the trucks"),
        ("[[regions]]", "[[region]]", "[region] is an unknown table"),
        ('["duluth-mn"]', '["duluth-mn", "phoenix"]', "regions.1.climates: 'phoenix' is not"),
        ('diesel = "4.00 USD/gal"', "diesel = 4", "a number without a unit"),
        ('diesel = "4.00 USD/gal"', 'diesel = "4 USD/gal"\ndiesel_region = "midwest"', "one of"),
        ("[[trucks]]", '[[trucks]]\nspec = "box.toml"\n[[trucks]]', "'box' stands twice"),
        ("[rests]", "rests = 3\n[other]", "rests is not a table"),
        ("[rests]", "[fleet]\noption = 'sail'\n[rests]", "unknown option 'sail'"),
        ("[rests]", "[fleet]\noption = 'apu, idling'\n[rests]", "more than one option"),
        ("[rests]", "[rests", "is not valid TOML"),
    ],
)
def test_what_is_wrong_with_a_fleet_is_said(folder, old, new, message):
    path = folder / "fleet.toml"
    assert old in FLEET
    path.write_text(FLEET.replace(old, new))
    with pytest.raises(InputError) as error:
        load_fleet(path)
    assert message in str(error.value)


def test_all_faults_are_said_at_once(folder):
    text = FLEET.replace("phoenix-az = 0.5", "fenix = 0.5").replace("box.toml", "lost.toml")
    (folder / "fleet.toml").write_text(text)
    with pytest.raises(InputError) as error:
        load_fleet(folder / "fleet.toml")
    assert len(error.value.problems) == 2


def test_no_trucks_and_no_lanes(folder):
    (folder / "fleet.toml").write_text("[fleet]\n")
    with pytest.raises(InputError, match=r"no \[\[trucks\]\](.|\n)*no \[\[lanes\]\]"):
        load_fleet(folder / "fleet.toml")


@pytest.mark.parametrize("content", [None, b"\xff\xfe\x00[fleet]"])
def test_a_fleet_file_that_cannot_be_read(tmp_path, content):
    path = tmp_path / "fleet.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError, match=r"no such file|not a text file"):
        load_fleet(path)
