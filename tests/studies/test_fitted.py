"""Studies of a truck that logs were fitted to: what is unsure narrows, and every page says so."""

import json

import pytest
from support import PLAIN_BOX, use_own_cache

from restcab.cli.main import main
from restcab.spec.rewrite import with_keys

BOX = f"""{PLAIN_BOX}season = "Jul"
[options]
compare = "idling, battery"
"""
SPREADS = ("shell", "leakage", "solar", "capacity", "power", "part_load", "controls", "bank")
KEYS = {f"fitted.{name}_spread": "0.004" for name in SPREADS} | {
    "fitted.log": '"night.csv"', "fitted.log_sha256": f'"{"0" * 64}"',
}  # fmt: skip
DAY = ("--weather", "phoenix-az@7-0.4")
ASKED = {
    "size": DAY,
    "claim": (*DAY, "--samples", "256", "--set", "bank.batteries=1"),
    "compare": (),
    "regions": ("--climates", "phoenix-az", "--jobs", "1"),
}
SAID = "is what this truck was fitted to: 90 % sure heat through the shell to 1%"


@pytest.fixture
def specs(tmp_path, monkeypatch):
    """The box as nobody logged it, and as it was fitted."""
    use_own_cache(monkeypatch, tmp_path / "cache")
    texts = {"plain": BOX, "fitted": with_keys(BOX, KEYS, "by restcab fit")}
    for name, text in texts.items():
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    return {name: str(tmp_path / f"{name}.toml") for name in texts}


def asked(capsys, study, spec, *more):
    assert main([study, spec, *ASKED[study], *more]) in (0, 3)
    return capsys.readouterr().out


@pytest.mark.parametrize("study", ASKED)
def test_the_page_and_the_answer_say_that_it_was_fitted(study, specs, capsys, tmp_path):
    page = tmp_path / "page.txt"
    # What a terminal shows and what a program gets come from one result.
    assert main([study, specs["fitted"], *ASKED[study], "-o", str(page)]) in (0, 3)
    text = " ".join(page.read_text(encoding="utf-8").split())
    assert SAID in text
    assert "night.csv" in text
    capsys.readouterr()
    if study in ("size", "claim"):
        warnings = json.loads(asked(capsys, study, specs["fitted"], "--json"))["warnings"]
        assert any(SAID in warning and "charge of the bank to 1%" in warning
                   for warning in warnings)  # fmt: skip


def test_a_claim_narrows(specs, capsys):
    wide, narrow = (
        json.loads(asked(capsys, "claim", specs[name], "--json"))["result"]["runtime_h"]
        for name in ("plain", "fitted")
    )
    assert narrow["p95"] - narrow["p05"] < 0.8 * (wide["p95"] - wide["p05"])


def test_a_size_of_the_same_odds_is_smaller(specs, capsys):
    wide, narrow = (
        json.loads(asked(capsys, "size", specs[name], "--json"))["result"]
        for name in ("plain", "fitted")
    )
    assert narrow["probability_frac"] >= 0.9
    smaller = narrow["cooling_capacity_required_w"] / wide["cooling_capacity_required_w"]
    assert smaller < 0.98
