"""The spec with a pair in it: what was judged is what the file says, and its comments stay."""

from dataclasses import replace
from pathlib import Path

import pytest

import restcab
from restcab.cli.main import main
from restcab.errors import InputError
from restcab.offers.file import load_offers
from restcab.offers.pairs import pairs_of, truck_with
from restcab.offers.write import pair_named, spec_text
from restcab.spec.reading import load_spec

EXAMPLES = Path(restcab.__file__).parents[1] / "examples"
SPECS = ["white-raised-roof.toml", "dark-mid-roof.toml", "team-truck.toml"]
MEASURES = """
[[measures]]
name = "covers and curtain"
price = "USD 350"
set = { "truck.window_covers" = "insulated", "truck.curtain" = "closed" }

[[measures]]
name = "better walls"
price = "USD 1,900"
does = "double the insulation"
"""


def flat(value, path=""):
    """Numbers of nested values by path; what is no number goes into the path."""
    if isinstance(value, dict):
        parts = [flat(entry, f"{path}.{key}") for key, entry in value.items()]
    elif isinstance(value, list):
        parts = [flat(entry, f"{path}.{at}") for at, entry in enumerate(value)]
    elif isinstance(value, int | float):
        return {path: float(value)}
    else:
        return {f"{path}={value}": 0.0}
    return {key: number for part in parts for key, number in part.items()}


@pytest.fixture
def offers(tmp_path):
    text = (EXAMPLES / "offers.toml").read_text(encoding="utf-8")
    path = tmp_path / "offers.toml"
    path.write_text(text + MEASURES, encoding="utf-8")
    return load_offers(path)


@pytest.mark.parametrize("name", SPECS)
def test_the_written_spec_is_the_truck_that_was_judged(tmp_path, offers, name):
    source, overrides = EXAMPLES / name, ["rest.hours=8", "cooling.fan_power=75 W"]
    spec = load_spec(source, overrides)
    pairs = pairs_of(spec, offers)
    for pair in pairs[:: len(pairs) // 12]:
        path = tmp_path / "chosen.toml"
        path.write_text(spec_text(source, overrides, spec, offers, pair), encoding="utf-8")
        written, judged = load_spec(path).resolved(), truck_with(spec, pair).resolved()
        assert flat(written) == pytest.approx(flat(judged), rel=1e-12)


def test_comments_and_order_stay(offers):
    source = EXAMPLES / "white-raised-roof.toml"
    spec = load_spec(source)
    text = spec_text(source, [], spec, offers, pairs_of(spec, offers)[0])
    assert "# parked with the nose to the south: the windshield meets noon sun" in text
    assert text.index("[truck]") < text.index("[cooling]") < text.index("[money]")
    assert 'speed = "fixed"' in text
    assert text.startswith("# Unit, bank and prices: 7,500 on-off + 1 x glass mat 105")


def test_a_name_that_is_no_pair_gets_the_nearest(offers):
    pairs = pairs_of(load_spec(EXAMPLES / "white-raised-roof.toml"), offers)
    with pytest.raises(InputError, match=r"Did you mean '7,500 on-off \+ 2 x glass mat 105'"):
        pair_named("7,500 on-of + 2 x glass mat 105", pairs)
    assert pair_named("7,500 ON-OFF + 2 x glass  mat 105", pairs) == pairs[1]
    unit = pairs[1].unit
    table = unit.table.model_copy(update={"name": "Rear Wall"})
    capital = replace(pairs[1], unit=replace(unit, table=table))
    assert pair_named("rear wall + 2 x glass mat 105", [*pairs, capital]) == capital


def test_write_runs_nothing_and_writes_over_no_input(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["new", "-o", "truck.toml"]) == 0
    assert main(["new", "--offers", "-o", "offers.toml"]) == 0
    words = ["choose", "truck.toml", "offers.toml", "--write", "small unit + 2 x glass mat", "-o"]
    before = Path("truck.toml").read_text(encoding="utf-8")
    for own in ("truck.toml", "./offers.toml", str(tmp_path / "truck.toml")):
        assert main([*words, own]) == 2
        assert "is read by this command and would be its output" in capsys.readouterr().err
    assert Path("truck.toml").read_text(encoding="utf-8") == before
    assert main([*words, "chosen.toml"]) == 0
    chosen = load_spec("chosen.toml")
    assert chosen.bank.batteries_count == 2
    assert chosen.cooling.power_w == 760.0
    assert chosen.money.unit_price_usd == 4300.0
