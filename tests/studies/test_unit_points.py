"""[[cooling.points]] from the file to the page."""

import json

import pytest

from restcab.cli.main import main

GOOD = """
[[cooling.points]]
outdoor = "115 degF"
capacity = "8700 Btu/h"
power = "1250 W"

[[cooling.points]]
outdoor = "95 degF"
speed = 0.5
current = "40 A"
"""


def spec_file(tmp_path, text):
    path = tmp_path / "truck.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_points_are_fitted_and_their_misfit_is_shown(tmp_path, capsys):
    path = spec_file(tmp_path, GOOD)
    assert main(["unit", path, "--json"]) == 0
    hot, half = json.loads(capsys.readouterr().out)["result"]["points"]
    assert hot["power_sheet_w"] == 1250.0
    assert abs(hot["misfit_power_frac"]) < 0.05
    assert half["capacity_sheet_w"] is None
    # 40 A at 12 V, less what the wiring loses: 480 W at the bank.
    lost_w = 0.03 * half["power_sheet_w"] ** 2 / 1100.0
    assert half["power_sheet_w"] + lost_w == pytest.approx(480.0)
    assert main(["unit", path]) == 0
    assert "further points of the data sheet" in capsys.readouterr().out
    assert main(["explain", path]) == 0
    assert "cooling.points.2" in capsys.readouterr().out


def test_large_misfit_is_a_warning(tmp_path, capsys):
    text = '[[cooling.points]]\noutdoor = "95 degF"\nload = 0.5\npower = "900 W"\n'
    assert main(["unit", spec_file(tmp_path, text), "--json"]) == 0
    warnings = json.loads(capsys.readouterr().out)["warnings"]
    assert any("point 1 of the data sheet" in warning for warning in warnings)


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ('outdoor = "95 degF"\nload = 0.5', "needs power or current"),
        ('outdoor = "95 degF"\npower = "400 W"', "needs capacity, load or speed"),
        ('outdoor = 95\nload = 0.5\npower = "400 W"', "a number without a unit"),
        ('outdoor = "95 degF"\nlod = 0.5\npower = "400 W"', "lod is an unknown key"),
        ('load = 0.5\npower = "400 W"', "outdoor is missing"),
        ('outdoor = "115 degF"\nload = 1.0\npower = "100 W"', "exceeds the Carnot limit"),
        (
            'outdoor = "95 degF"\nload = 0.5\npower = "400 W"\n[[cooling.points]]\n'
            'outdoor = "95 degF"\nload = 0.5\npower = "400 W"',
            "line 5: cooling.points.2: is the same as point 1",
        ),
    ],
)
def test_bad_points_are_one_message(tmp_path, capsys, rows, message):
    assert main(["unit", spec_file(tmp_path, f"[[cooling.points]]\n{rows}\n")]) == 2
    captured = capsys.readouterr()
    assert message in captured.err
    assert "Traceback" not in captured.err
