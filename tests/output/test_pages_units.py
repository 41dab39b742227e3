"""Every page of every command speaks the units asked for, and no others."""

import re
from functools import cache
from io import StringIO
from pathlib import Path

import pytest
from support import PLAIN_BOX, use_own_cache

from restcab.cli.main import main

DAY = ("--weather", "phoenix-az@7-0.4")
DARK = ("--set", "truck.paint=black", "--set", "truck.curtain=open", "--set", "rest.hours=4")

PAGES = {
    "load": ("load", *DAY, *DARK),
    "load of a chamber": ("load", "--weather", "tmc-rp439-hot"),
    "size": ("size", *DAY, "--confidence", "0", "--set", "rest.hours=4"),
    "unit": ("unit", "--set", "cooling.outdoor_min=75 degF",
             "--set", "cooling.outdoor_max=115 degF"),
    "unit by a sheet in SI": ("unit", "--set", "cooling.outdoor_max=38 degC", "--indoor", "25 °C"),
    "claim": ("claim", "--samples", "64", "--hours", "4", "--peak-outdoor", "104 °F", *DARK,
              "--set", "bank.batteries=1", "--set", "cooling.outdoor_max=100 degF"),
    "claim in a chamber": ("claim", "--samples", "64", "--hours", "4", "--conditions",
                           "sae-j2918-cooling", "--set", "rest.arrival=cooled"),
    "compare": ("compare", "--set", "options.compare=idling,battery+heater,apu",
                "--set", "rest.hours=3"),
    "regions": ("regions", "{box}", "--climates", "phoenix-az", "--jobs", "1"),
    "explain": ("explain", "--set", "truck.heat_loss=60 W/K", "--set", "rest.setpoint=60 degF"),
    "climates": ("climates",),
    "climate": ("climates", "phoenix-az"),
}  # fmt: skip

SI = r"°C|K|kg|L|km/h|m/s|m²|m³|m\*\*[23]|W/m²|W/K|t|g/kg|USD/L|L/yr|kg/yr|m\*\*2\*K/W|degC|USD/kg"
CUSTOMARY = (
    r"°F|Btu|Btu/h|lb|gal|mph|ft|ft\*\*[23]|Btu/\(h·°F\)|gr/lb|USD/gal|gal/yr|lb/yr|degF|"
    r"delta_degF|cfm|short tons|ft²|lbs|mi|USD/lb"
)


def foreign(text: str, units: str) -> list[str]:
    """Units of the other system that stand behind a number or in a table's head."""
    others = SI if units == "us" else CUSTOMARY
    numbers = rf"\d[\d.,]* ?(?:{others})(?![\w/*])"
    heads = r"^.*(?:°C|kg/yr|L/yr|/m²)" if units == "us" else r"^.*(?:°F|Btu|lb/yr|gal/yr)"
    return re.findall(numbers, text) + re.findall(heads, text, re.MULTILINE)


@cache
def page(name: str, units: str, box: Path | None = None) -> str:
    """The page of a command, without what it quotes from its sources."""
    out = StringIO()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", "400")
        patch.setattr("sys.stdout", out)
        assert main([word.format(box=box) for word in (*PAGES[name], "--units", units)]) in (0, 3)
    text = out.getvalue()
    if name == "explain":
        lines = text.split("\n")
        text = "\n".join(re.split(r"  (?:default|preset|given)  ", line)[0] for line in lines)
    # What was written on the command line is told in the words it was written in.
    return re.sub(r"--set [\w.]+=\S+ ?\w*:", "", text)


@pytest.fixture(scope="module")
def box(tmp_path_factory):
    """A truck of one wall, quick to run through a year."""
    path = tmp_path_factory.mktemp("units") / "box.toml"
    path.write_text(PLAIN_BOX, encoding="utf-8")
    return path


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("name", PAGES)
def test_no_foreign_unit(name, units, box, monkeypatch):
    use_own_cache(monkeypatch, box.parent / "cache")
    text = page(name, units, box)
    assert len(text) > 500
    assert foreign(text, units) == []


@pytest.mark.parametrize(
    ("text", "units"),
    [("20.0 °C", "us"), ("68.0 °F", "si"), ("68.0 °F (20.0 °C)", "us"), ("3 L", "us"),
     ("out °C  load", "us"), ("1,234 Btu/h", "si"), ("heat °F", "si"), ("10 lb", "si")],
)  # fmt: skip
def test_a_foreign_unit_is_found(text, units):
    assert foreign(text, units)


def test_what_both_systems_share_is_not_foreign():
    for units in ("us", "si"):
        assert foreign("700 W, 12 V, 90 Ah, 4.03 kWh", units) == []


def test_both_systems_are_shown_to_whom_asks_for_both():
    """Customary first, SI behind in brackets: the page in SI has no number that is not there."""
    assert re.search(r"\d °F \([\d.]+ °C\)", page("unit", "both"))
    assert re.search(r"\d Btu/h \([\d,]+ W\)", page("load", "both"))
