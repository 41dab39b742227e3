"""``unit``: full speed against the coil's own balance, part load, frost guard, limits."""

import json
from functools import cache
from xml.etree import ElementTree

import numpy as np
import pytest

from restcab.cli.main import main
from restcab.errors import InputError
from restcab.output.figures import svg
from restcab.output.unit_figure import unit_figure
from restcab.physics.air import PRESSURE_SEA_LEVEL_PA, humidity_ratio_from_rh
from restcab.physics.refrigeration.coil import full_speed_state
from restcab.physics.refrigeration.fan import bypass_at_fan_frac, fan_power_frac, fan_speed_frac
from restcab.said import customary
from restcab.season.scene import unit_map
from restcab.spec.reading import default_spec
from restcab.studies.unit import Indoor, run_unit, unit

# Newton steps of engine and coil stop within 1e-6 K; the room's answer of 1e-6 K/W adds 2e-4.
STEADY_RTOL = 5e-4
FROSTY = ("cooling.airflow=210 cfm", "cooling.speed=fixed")


@cache
def made(*overrides):
    return unit_map(default_spec(overrides), PRESSURE_SEA_LEVEL_PA)


def asked(load_w, outdoor_c, *overrides, temp_c=26.0, rh=0.5):
    """Net sensible and latent heat and the engine's step for one demand."""
    indoor = Indoor(temp_c, float(humidity_ratio_from_rh(temp_c, rh)))
    outdoor = np.atleast_1d(np.asarray(outdoor_c, dtype=float))
    load = np.broadcast_to(np.asarray(load_w, dtype=float), outdoor.shape)
    return run_unit(
        default_spec(overrides), made(*overrides), indoor, PRESSURE_SEA_LEVEL_PA, outdoor, load
    )


@pytest.mark.parametrize("speed", ["fixed", "variable"])
@pytest.mark.parametrize("rh", [0.15, 0.5, 0.85])
def test_engine_at_full_output_equals_the_coil_in_steady_state(speed, rh):
    outdoor = np.array([22.0, 35.0, 48.0])
    overrides = (f"cooling.speed={speed}",)
    sensible, latent, last = asked(np.inf, outdoor, *overrides, rh=rh)
    plain = made(*overrides)
    coil_c, dry_w, wet_w, power_w = full_speed_state(
        plain, outdoor, 26.0, float(humidity_ratio_from_rh(26.0, rh))
    )
    fan_w = plain.evaporator_fan_w + default_spec().cooling.controls_power_w
    assert sensible == pytest.approx(dry_w - fan_w, rel=STEADY_RTOL)
    assert latent == pytest.approx(wet_w, rel=5.0 * STEADY_RTOL, abs=0.5)
    assert last.terminal_w == pytest.approx(power_w + fan_w, rel=STEADY_RTOL)
    assert last.coil_c == pytest.approx(coil_c, abs=0.01)
    assert last.limited.all()


def test_rating_point_is_met():
    rows = {row["outdoor_c"]: row for row in unit(default_spec())["rows"]}
    spec = default_spec().cooling
    # 0.5 %: fit of the performance map
    assert rows[35.0]["capacity_w"] == pytest.approx(spec.capacity_w, rel=0.005)
    assert rows[35.0]["power_w"] == pytest.approx(spec.power_w, rel=0.005)
    assert rows[35.0]["cop"] == pytest.approx(spec.capacity_w / spec.power_w, rel=0.01)


def test_rows_reach_from_20_to_50_and_fall_with_outdoor_temperature():
    frame = unit(default_spec()).frame
    assert frame["outdoor_c"].iloc[[0, -1]].tolist() == [20.0, 50.0]
    assert (frame["capacity_w"].diff().dropna() < 0.0).all()
    assert (frame["cop"].diff().dropna() < 0.0).all()
    assert frame["sensible_frac"].between(0.5, 1.0).all()


def test_less_air_means_a_wetter_coil():
    wide, narrow = (
        unit(default_spec([f"cooling.airflow={cfm} cfm"])).frame["sensible_frac"].mean()
        for cfm in (350, 250)
    )
    assert wide > narrow + 0.04


def test_part_load_helps_a_variable_unit_and_hurts_a_fixed_one():
    for speed, better in (("variable", True), ("fixed", False)):
        part = unit(default_spec([f"cooling.speed={speed}"]))["part_load"]
        cop = {row["load_frac"]: row["cop"] for row in part if row["outdoor_c"] == 35.0}
        assert (cop[0.5] > 1.1 * cop[1.0]) is better
        assert (cop[0.5] < cop[1.0]) is not better


@pytest.mark.parametrize("load_w", [150.0, 400.0, 900.0, 1500.0])
@pytest.mark.parametrize("speed", ["fixed", "variable"])
def test_demand_is_met_exactly(load_w, speed):
    sensible, _, last = asked(load_w, [24.0, 36.0], f"cooling.speed={speed}")
    assert sensible == pytest.approx(load_w, rel=1e-6)
    assert not last.limited.any()


@pytest.mark.parametrize("load_w", [1250.0, 1500.0, 1800.0])
def test_coil_heat_of_a_modulating_unit_is_what_its_speed_gives(load_w):
    """The refrigerant takes up what the air gives off, the fan slowed as it is."""
    outdoor = np.array([25.0, 38.0])
    _, _, last = asked(load_w, outdoor)
    assert (last.run_frac == 1.0).all()
    assert made().capacity_w(outdoor, last.coil_c, last.speed_frac) == pytest.approx(
        last.coil_w, rel=2e-3
    )  # two Newton steps for the speed


def test_slowed_fan_saves_almost_with_the_cube_of_its_speed():
    assert 0.5**3 < fan_power_frac(0.5) < 0.5**2
    assert fan_power_frac(1.0) == 1.0
    assert fan_power_frac(0.0) == 0.0
    assert fan_speed_frac(np.array([0.1, 0.3, 0.65, 1.0]), 0.3, 0.5) == pytest.approx(
        [0.5, 0.5, 0.75, 1.0]
    )
    assert fan_speed_frac(0.4, 1.0, 0.5) == 1.0


def test_slower_air_bypasses_less():
    # NTU grows with flow**-0.5: half the flow has 1.414 times the transfer units.
    assert bypass_at_fan_frac(0.2, 0.5) == pytest.approx(0.2 ** np.sqrt(2.0))
    assert bypass_at_fan_frac(0.2, 1.0) == pytest.approx(0.2)


def test_slowed_fan_saves_power_at_part_load_and_none_at_full():
    (steady, slowed), (steady_full, slowed_full) = (
        [asked(load, 30.0, f"cooling.fan_min={low}")[2].power_w[0] for low in (1.0, 0.5)]
        for load in (500.0, np.inf)
    )
    assert slowed < steady - 20.0
    assert slowed_full == pytest.approx(steady_full, rel=1e-9)


def test_fixed_unit_keeps_its_fan():
    powers = [
        asked(500.0, 30.0, "cooling.speed=fixed", f"cooling.fan_min={low}")[2].power_w[0]
        for low in (1.0, 0.5)
    ]
    assert powers[0] == powers[1]


@pytest.mark.parametrize("load_w", [300.0, np.inf])
def test_frost_guard_keeps_the_coil_above_its_limit(load_w):
    air = {"temp_c": 16.0, "rh": 0.3}
    free = asked(load_w, 20.0, *FROSTY, "cooling.coil_guard=23 degF", **air)
    kept = asked(load_w, 20.0, *FROSTY, "cooling.coil_guard=32 degF", **air)
    assert free[2].coil_c[0] < -1.0
    assert kept[2].coil_c[0] >= -1e-9
    if np.isinf(load_w):
        assert kept[0][0] < free[0][0]
        assert kept[2].run_frac[0] < 1.0
    else:
        assert kept[0][0] == pytest.approx(load_w, rel=1e-6)


def test_dust_costs_capacity_and_power():
    clean, dusty = (
        unit(default_spec([f"cooling.condenser_fouling={dust}"])).frame for dust in (0.0, 0.4)
    )
    assert (dusty["capacity_w"] < clean["capacity_w"]).all()
    assert (dusty["power_w"] > clean["power_w"]).all()


def test_declared_limit_stops_the_unit_and_says_so():
    result = unit(default_spec(["cooling.outdoor_max=104 degF"]))
    hot = [row for row in result["rows"] if row["outdoor_c"] > 40.0]
    assert hot
    assert all(not row["runs"] and row["capacity_w"] == 0.0 and row["cop"] is None for row in hot)
    (told,) = (w for w in result.warnings if "the unit stops" in w)
    assert told == "the unit stops above 40.0 °C: cooling.outdoor_max"
    assert customary(told) == "the unit stops above 104.0 °F (40.0 °C): cooling.outdoor_max"


def test_high_pressure_cutout_stops_the_unit_and_says_so():
    dusty = ["cooling.refrigerant=R410A", "cooling.condenser_fouling=0.55"]
    result = unit(default_spec(dusty))
    assert result["temp_outdoor_max_c"] < 50.0
    assert any("high-pressure cut-out" in warning for warning in result.warnings)
    assert not result["rows"][-1]["runs"]


def test_impossible_indoor_air_is_refused():
    with pytest.raises(InputError, match=r"at an indoor temperature of 68\.0 °F \(20\.0"):
        unit(default_spec(), 20.0, 25.0)
    with pytest.raises(InputError, match="out of range"):
        unit(default_spec(), 20.0, rh_frac=1.5)


def test_figure_is_the_same_svg_every_time():
    result = unit(default_spec())
    first, second = (svg(unit_figure(result, "us")) for _ in range(2))
    assert first == second
    assert ElementTree.fromstring(first).tag.endswith("svg")


def test_command_prints_json_and_draws(tmp_path, capsys):
    plot = tmp_path / "unit.svg"
    assert main(["unit", "--json", "--plot", str(plot), "--indoor", "75 degF", "--rh", "0.5"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["schema"] == "restcab/unit/1"
    assert {"outdoor_c", "capacity_w", "power_w", "cop", "sensible_frac"} <= set(
        document["result"]["rows"][0]
    )
    assert plot.read_text(encoding="utf-8").startswith("<?xml")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--plot", "unit.gif"], "a name ending in .svg"),
        (["--indoor", "75"], "--indoor"),
        (["--set", "cooling.power=60 W", "--set", "cooling.fan_power=0 W",
          "--set", "cooling.condenser_fan_power=0 W"], "exceeds the Carnot limit"),
        (["--set", "cooling.fan_min=0"], "fan_min = 0: out of range"),
    ],
)  # fmt: skip
def test_bad_input_is_one_message(capsys, words, message):
    assert main(["unit", *words]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert message in captured.err


@pytest.mark.parametrize("columns", [60, 80])
def test_page_fits_the_terminal(capsys, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    assert main(["unit"]) == 0
    assert max(len(line) for line in capsys.readouterr().out.splitlines()) <= columns
