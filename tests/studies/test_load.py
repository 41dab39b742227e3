"""``load``: parts that add up, hours that cover the rest."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from restcab.errors import InputError
from restcab.spec.reading import default_spec
from restcab.studies.load import load
from restcab.weather.files import default_weather, open_weather

KEYS = {
    "load_peak_w", "load_energy_wh", "hours", "parts_energy_wh", "stored_energy_wh",
    "heat_loss_w_per_k", "heat_loss_btu_per_h_f", "heat_loss_shell_w_per_k",
    "heat_loss_air_w_per_k", "heat_loss_bare_w_per_k", "heat_loss_bare_btu_per_h_f",
    "humidity_bunk_max_frac", "humidity_above_frac",
}  # fmt: skip
ROW_KEYS = {
    "time", "temp_out_c", "temp_bunk_c", "load_w", "roof_w", "walls_w", "floor_w", "glass_w",
    "air_w", "people_w", "equipment_w", "mass_w", "curtain_w", "humidity_bunk_frac",
}  # fmt: skip
ADD_UP_W = 1e-6


@pytest.fixture(scope="module")
def weather():
    return default_weather()


@pytest.mark.parametrize(
    "overrides",
    [(), ("truck.curtain=open",), ("truck.preset=day-cab",), ("rest.arrival=cooled",)],
    ids=["default", "open curtain", "day cab", "cooled"],
)
def test_parts_add_up_to_the_load(weather, overrides):
    answer = load(default_spec(overrides), weather)
    assert set(answer.values) >= KEYS
    for row in answer["hours"]:
        assert set(row) == ROW_KEYS
        parts = sum(value for key, value in row.items() if key.endswith("_w") and key != "load_w")
        assert parts == pytest.approx(row["load_w"], abs=ADD_UP_W)
    assert sum(answer["parts_energy_wh"].values()) == pytest.approx(answer["load_energy_wh"])
    stored_wh = sum(answer["stored_energy_wh"].values())
    assert stored_wh == pytest.approx(answer["parts_energy_wh"]["mass_wh"])
    assert answer["balance_residual_frac"] < 1e-9


def test_hours_cover_the_rest(weather):
    answer = load(default_spec(("rest.hours=8.5",)), weather)
    assert len(answer["hours"]) == 9
    energy = answer.frame["load_w"].to_numpy() @ np.append(np.ones(8), 0.5)
    assert energy == pytest.approx(answer["load_energy_wh"], rel=1e-9)


def test_a_day_can_be_chosen(weather):
    answer = load(default_spec(), weather, np.datetime64("2024-06-21"))
    assert answer["rest_start"].endswith("06-21T18:00:00")


def test_a_day_outside_the_season_is_bad_input(weather):
    with pytest.raises(InputError, match="no rest of the season begins"):
        load(default_spec(), weather, np.datetime64("2024-12-21"))


def test_a_season_by_default_without_the_hottest_month_is_told(weather):
    """The same year south of the equator: its months half a year on."""
    south = replace(weather, latitude_deg=-36.1, frame=_half_a_year_on(weather.frame))
    told = [text for text in load(default_spec(), south).warnings if "rest.season" in text]
    assert len(told) == 1
    assert "Jan" in told[0]
    for overrides, year in (((), weather), (("rest.season=Apr-Aug",), south)):
        assert not any("rest.season" in w for w in load(default_spec(overrides), year).warnings)


def _half_a_year_on(frame):
    half = len(frame) // 48 * 24
    rolled = np.roll(frame.to_numpy(), half, axis=0)
    return pd.DataFrame(rolled, index=frame.index, columns=frame.columns)


def test_the_setpoint_is_kept(weather):
    spec = default_spec(("rest.arrival=cooled",))
    frame = load(spec, weather).frame
    assert frame["temp_bunk_c"].to_numpy() == pytest.approx(spec.rest.setpoint_c, abs=1e-6)


DAY = np.datetime64("2001-07-10")


@pytest.fixture
def _no_savings(monkeypatch):
    monkeypatch.setattr("restcab.studies.load.savings", lambda *_: [])


@pytest.mark.usefixtures("_no_savings")
@pytest.mark.parametrize(
    "unit",
    ["cooling.airflow=500 cfm", "cooling.capacity=3000 Btu/h", "cooling.outdoor_max=80 degF"],
    ids=["airflow", "size", "cut out by the heat"],
)
def test_the_load_is_none_of_the_units_business(unit):
    miami = open_weather("miami-fl")
    one, other = (load(default_spec(more), miami, DAY) for more in ((), (unit,)))
    assert one.frame["temp_out_c"].max() > 27.0
    assert one["latent_energy_wh"] > 0.1 * one["load_energy_wh"]
    for key in ("load_peak_w", "load_energy_wh", "latent_energy_wh"):
        assert other[key] == pytest.approx(one[key], rel=1e-12)


@pytest.mark.usefixtures("_no_savings")
def test_a_drier_bunk_is_more_to_take_out(weather):
    dry, usual, damp = (
        load(default_spec((f"rest.load_humidity={share}",)), weather, DAY)
        for share in (0.4, 0.5, 0.65)
    )
    assert dry["latent_energy_wh"] > usual["latent_energy_wh"] > damp["latent_energy_wh"]
    sensible = [a["load_energy_wh"] - a["latent_energy_wh"] for a in (dry, damp)]
    assert sensible[0] == pytest.approx(sensible[1], rel=1e-9)


@pytest.mark.usefixtures("_no_savings")
def test_heat_loss_of_the_bare_cab_is_the_one_a_spec_states(weather):
    """Covers and curtain are part of the parked figure alone; a measured figure comes back."""
    parked, stripped = (
        load(default_spec(("truck.heat_loss=80 W/K", *more)), weather, DAY)
        for more in ((), ("truck.window_covers=none", "truck.curtain=open"))
    )
    for answer in (parked, stripped):
        assert answer["heat_loss_bare_w_per_k"] == pytest.approx(80.0)
        assert answer["heat_loss_bare_btu_per_h_f"] == pytest.approx(80.0 * 1.895634)
    assert parked["heat_loss_w_per_k"] < 0.8 * stripped["heat_loss_w_per_k"]
    assert stripped["heat_loss_w_per_k"] < 80.0


@pytest.mark.usefixtures("_no_savings")
def test_bare_windows_bring_glass_and_not_floor(weather):
    """The sun of day and evening, most of it kept by floor and bedding for a while."""
    bare, covered = (
        load(default_spec((f"truck.window_covers={kind}", "rest.start=14:00")), weather, DAY)
        for kind in ("none", "insulated")
    )
    more_wh = {
        part: sum(
            sign * answer[kind][f"{part}_wh"]
            for kind in ("parts_energy_wh", "stored_energy_wh")
            for sign, answer in ((1.0, bare), (-1.0, covered))
        )
        for part in ("glass", "floor")
    }
    assert more_wh["glass"] > 100.0
    assert abs(more_wh["floor"]) < 0.1 * more_wh["glass"]


def test_humidity_is_that_of_the_declared_unit(weather):
    """A unit whose coil stays warm takes out less water, though the load is nearly the same."""
    usual = load(default_spec(), weather)
    warm_coil = load(default_spec(('cooling.coil_guard="50 degF"',)), weather)
    rows = usual.frame["humidity_bunk_frac"].to_numpy()
    assert 0.0 < rows.min() < rows.max() <= 1.0
    # The highest hour's mean lies below the highest step.
    assert rows[1:].max() <= usual["humidity_bunk_max_frac"] + 1e-9
    assert warm_coil["humidity_bunk_max_frac"] > usual["humidity_bunk_max_frac"]
    assert warm_coil["load_energy_wh"] == usual["load_energy_wh"]


@pytest.mark.parametrize(("limit", "told"), [("0.5", True), ("0.8", False)])
def test_a_damp_bunk_is_told(weather, limit, told):
    answer = load(default_spec((f"rest.humidity_limit={limit}",)), weather)
    assert (answer["humidity_above_frac"] > 0.01) == told
    assert any("rest.humidity_limit" in text for text in answer.warnings) == told
