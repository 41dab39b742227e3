"""``restcab choose``: page, JSON, picture, exit codes."""

import json
from pathlib import Path

import pytest

import restcab
from restcab.cli.main import main
from restcab.odds import pairs as odds_pairs
from restcab.offers.file import load_offers
from restcab.offers.starter import offers_text
from restcab.output.cautions import CAUTIONS
from restcab.output.choose_figure import choose_figure
from restcab.output.choose_page import choose_page
from restcab.output.figures import saved, svg
from restcab.output.json import envelope
from restcab.spec import default_spec
from restcab.studies import choose as study
from restcab.weather.files import open_weather

CLIMATES = ("chicago-il@7-0.4", "burlington-vt@7-0.4")


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    path = tmp_path_factory.mktemp("offers") / "offers.toml"
    path.write_text(offers_text().replace('by = "cost"', 'by = "mass"'), encoding="utf-8")
    weathers = {name: open_weather(name) for name in CLIMATES}
    spec = default_spec(["truck.curtain=closed"])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(odds_pairs, "SAMPLES", 32)
        return study.choose(spec, load_offers(path), weathers, chart=True)


@pytest.fixture
def ready(result, monkeypatch, tmp_path):
    """The command with its answer at hand, in a folder with a spec and offers."""
    monkeypatch.setattr(study, "choose", lambda *_, **__: result)
    monkeypatch.chdir(tmp_path)
    assert main(["new", "-o", "truck.toml"]) == 0
    assert main(["new", "--offers", "-o", "offers.toml"]) == 0
    return ["choose", "truck.toml", "offers.toml", "--climate", "greensboro"]


def test_rows_come_in_order_and_the_cheapest_is_the_cheapest(result):
    rows = result["pairs"]
    assert len(rows) == 2 * 2 * 8
    holding = [row for row in rows if row["holds"]]
    assert 0 < len(holding) < len(rows)
    assert rows[: len(holding)] == holding
    masses = [row["mass_kg"] for row in holding]
    assert masses == sorted(masses)
    assert result["cheapest"] == min(holding, key=lambda r: r["net_present_cost_usd"])["pair"]
    assert all(row["fails_on"] for row in rows[len(holding) :])


def test_a_pair_is_judged_where_it_does_worst(result):
    for row in result["pairs"]:
        odds = [one["probability_worn_frac"] for one in row["climates"]]
        assert row["judged_probability_frac"] == min(odds)
        if row["holds"]:
            assert min(odds) >= result["confidence_frac"]
            assert all(one["week_carried"] for one in row["climates"])


def test_larger_banks_are_surer_and_a_worn_one_is_less_sure(result):
    rows = [r for r in result["pairs"] if (r["unit"], r["battery"]) == ("large unit", "glass mat")]
    rows.sort(key=lambda row: row["batteries"])
    odds = [row["judged_probability_frac"] for row in rows]
    assert odds == sorted(odds)
    assert odds[0] < odds[-1]
    for row in rows:
        for one in row["climates"]:
            assert one["probability_worn_frac"] <= one["probability_frac"]


def test_page_is_eighty_columns_and_ends_with_the_cautions(result, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    for units in ("us", "si"):
        text = choose_page(result, units, to_file=True)
        assert max(len(line) for line in text.splitlines()) <= 80
        joined = " ".join(text.split())
        assert all(" ".join(caution.split()) in joined for caution in CAUTIONS)
        assert f"The cheapest that holds 98% in {CLIMATES[0]} and {CLIMATES[1]} is" in joined


def test_json_has_the_schema_and_every_pair(ready, capsys, result):
    assert main([*ready, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["schema"] == "restcab/choose/1"
    assert len(document["result"]["pairs"]) == len(result["pairs"])


@pytest.mark.parametrize(
    ("kind", "start"), [("svg", b"<?xml"), ("png", b"\x89PNG"), ("pdf", b"%PDF")]
)
def test_pictures_of_all_kinds(ready, result, kind, start):
    assert main([*ready, "--plot", f"x.{kind}", "--json", "-o", "x.json"]) == 0
    drawn = Path(f"x.{kind}").read_bytes()
    assert drawn.startswith(start)
    assert drawn == saved(choose_figure(result, "us"), kind)  # the same bytes again


def test_the_svg_names_batteries_units_and_pairs(result):
    text = svg(choose_figure(result, "us"))
    for word in ("iron phosphate", "glass mat", "small unit", result["cheapest"]):
        assert word in text


def test_write_best_takes_the_first_that_holds(ready, result, capsys):
    assert main([*ready, "--write", "best", "-o", "chosen.toml"]) == 0
    assert result["pairs"][0]["pair"] in Path("chosen.toml").read_text(encoding="utf-8")


def test_exit_code_3_if_nothing_holds(ready, result, monkeypatch, capsys):
    rows = [row | {"holds": False, "fails_on": ["odds"]} for row in result["pairs"]]
    none = {"pairs": rows, "requirement_met": False, "cheapest": None, "next_step": None}
    poor = restcab.results.result.Result(
        "choose", {**result.values, **none}, result.frame, extra=result.extra
    )
    monkeypatch.setattr(study, "choose", lambda *_, **__: poor)
    assert main(ready) == 3
    assert "No pair on offer holds that." in capsys.readouterr().out
    assert main([*ready, "--write", "best", "-o", "chosen.toml"]) == 3
    assert not Path("chosen.toml").exists()


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (["--by", "price"], "'price' is not one of 'cost', 'mass', 'odds'"),
        (["--plot", "x.gif"], "x.gif is not a file of SVG or PNG or PDF"),
        (["--climate", "dallas"], "--climate: dallas"),
    ],
)
def test_bad_options(ready, capsys, more, message):
    assert main([*ready, *more]) == 2
    assert message in capsys.readouterr().err


def test_confidence_out_of_range_is_refused(result, tmp_path):
    path = tmp_path / "offers.toml"
    path.write_text(offers_text(), encoding="utf-8")
    with pytest.raises(restcab.errors.InputError, match="--confidence: 1 is out of range"):
        study.choose(default_spec(), load_offers(path), {"x": None}, confidence=1.0)


def test_every_result_is_finite(result):
    envelope("choose", result.values, provenance=result.provenance)
