"""``restcab claim``: keys, exit codes, bad input, width."""

import json

import pytest

from restcab.cli.claim import claim_weather
from restcab.cli.main import main
from restcab.cli.options import Hours

QUICK = ["--samples", "64", "--hours", "11"]
HOT = [*QUICK, "--peak-outdoor", "100 degF"]
LASTS = ["--set", "bank.batteries=12", "--set", "rest.arrival=cooled"]
FAILS = ["--set", "bank.batteries=1"]


def printed(capsys, *words):
    code = main(["claim", *words])
    return code, json.loads(capsys.readouterr().out)


def test_keys_and_exit_codes(capsys):
    code, document = printed(capsys, *HOT, *LASTS, "--json")
    assert code == 0
    assert document["schema"] == "restcab/claim/1"
    result = document["result"]
    assert result["verdict"] == "holds"
    assert set(result["runtime_h"]) == {"p05", "p50", "p95"}
    assert {"probability_frac", "drivers", "what_would_make_it_hold", "how_to_test"} <= set(result)
    assert document["provenance"]["weather_hash"]
    assert any("Design day" in source for source in document["sources"])


def test_falls_short_is_exit_3_after_the_result(capsys):
    code, document = printed(capsys, *HOT, *FAILS, "--json")
    assert code == 3
    assert document["result"]["verdict"] == "falls short"
    assert document["result"]["what_would_make_it_hold"]


def test_borderline_does_not_hold_with_the_probability_asked(capsys):
    wide = ["--set", "claim.falls_short_below=0"]
    code, document = printed(capsys, *HOT, *FAILS, *wide, "--json")
    assert document["result"]["verdict"] == "borderline"
    assert code == 3


@pytest.mark.parametrize("peak", ["38 °C", "38C", "38degC", "100.4 °F", "100.4F", "100.4 degF"])
def test_a_temperature_as_people_write_it(peak):
    day = claim_weather(peak, None, "22 °C", None, None, 4.0)
    assert day.frame["temp_air_c"].max() == pytest.approx(38.0, abs=0.05)


@pytest.mark.parametrize("hours", ["11", "11.0", "11h", "11 h", "660 min"])
def test_hours_as_people_write_them(hours):
    assert Hours().convert(hours, None, None) == pytest.approx(11.0)


def test_same_seed_same_bytes(capsys):
    texts = []
    for _ in range(2):
        main(["claim", *HOT, *FAILS, "--seed", "4", "--json"])
        texts.append(capsys.readouterr().out)
    assert texts[0] == texts[1]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([*HOT, "--set", "bank.voltage=0 V"], "voltage"),
        ([*HOT, "--set", "bank.system_voltage=0 V"], "system_voltage"),
        ([*HOT, "--set", "cooling.power=60 W", "--set", "cooling.fan_power=0 W",
          "--set", "cooling.condenser_fan_power=0 W"], "exceeds the Carnot limit"),
        ([*HOT, "--set", "claim.ua_spread=-0.1"], "ua_spread = -0.1: out of range"),
        ([*HOT, "--set", "claim.holds_from=0.6", "--set", "claim.falls_short_below=0.7"],
         "falls_short_below = 0.7 is above holds_from"),
        (["--hours", "80", "--peak-outdoor", "100 degF"], "80 h is out of range; allowed: 0.5 to"),
        (["--hours", "nan", "--peak-outdoor", "100 degF"], "out of range; allowed: 0.5 to 72"),
        (["--hours", "11"], "no day is named"),
        (["--weather", "memphis-tn"], "--weather such as memphis-tn@7-0.4"),
        ([*HOT, "--conditions", "sae-j2918-cooling"], "name the day twice"),
        ([*QUICK, "--conditions", "sae-j2919"], "Did you mean"),
        ([*QUICK, "--peak-outdoor", "100"], '--peak-outdoor: "100": '),
        ([*HOT, "--wet-bulb", "104 degF"], "--wet-bulb"),
        ([*HOT, "--daily-range", "20 °F"], "Did you mean 'delta_degF'?"),
        ([*QUICK, "--conditions", "sae-j2646", "--wet-bulb", "70 degF"], "without --peak-outdoor"),
        (["--samples", "100", "--peak-outdoor", "100 degF"], "Did you mean 128?"),
        ([*HOT, "--weather", "sae-j2646"], "is a test chamber"),
    ],
)  # fmt: skip
def test_bad_input_is_one_message(capsys, words, message):
    assert main(["claim", *words]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert message in captured.err
    # Unusual values are warned of first; of errors there is one.
    errors = [line for line in captured.err.splitlines() if not line.startswith("warning: ")]
    assert len(errors) == 1


@pytest.mark.parametrize("columns", [60, 80])
def test_page_fits_the_terminal(capsys, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    assert main(["claim", *HOT, *FAILS]) == 3
    text = capsys.readouterr().out
    assert max(len(line) for line in text.splitlines()) <= columns
    for words in ("falls short", "Holds from 90%", "What would make it hold", "How to test it"):
        assert words in " ".join(text.split())
