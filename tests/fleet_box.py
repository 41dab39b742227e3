"""A plain box of a truck and a small fleet of it, with a cache of its own, for tests of fleets."""

import pytest
from support import use_own_cache

from restcab.fleet.file import load_fleet

BOX = """
[truck]
solar_absorptance = 0.5
[[truck.zones]]
name = "bunk"
volume = "8 m**3"
[[truck.surfaces]]
name = "roof"
part = "roof"
area = "4 m**2"
tilt = 0
layers = [{ r_value = "0.7 m**2*K/W" }]
[[truck.surfaces]]
name = "walls"
part = "walls"
area = "12 m**2"
layers = [{ heat_capacity = "8000 J/(m**2*K)" }, { r_value = "0.7 m**2*K/W" }]
[cooling]
capacity = "8000 Btu/h"
[bank]
batteries = 3
rated = "25 Ah"
[rest]
start = "20:00"
hours = 3
season = "Jul"
"""
FLEET = """
[rests]
starts = { "20:00" = 0.75, "08:00" = 0.25 }
[[trucks]]
spec = "box.toml"
count = 4
[[lanes]]
share = 0.6
climates = { phoenix-az = 0.5, duluth-mn = 0.5 }
[[lanes]]
share = 0.4
months = "Jun-Aug"
climates = { phoenix-az = 1.0 }
[[regions]]
climates = ["duluth-mn"]
diesel = "4.00 USD/gal"
"""


@pytest.fixture
def own_cache(tmp_path, monkeypatch):
    """Let no test see what another kept, nor the user's own."""
    use_own_cache(monkeypatch, tmp_path / "cache")


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "box.toml").write_text(BOX)
    (tmp_path / "fleet.toml").write_text(FLEET)
    return tmp_path


@pytest.fixture(scope="module")
def box(tmp_path_factory):
    path = tmp_path_factory.mktemp("box") / "box.toml"
    path.write_text(BOX)
    return load_fleet(path).trucks[0].spec
