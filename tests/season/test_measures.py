"""One list of measures, which ``load`` and ``claim`` rank each in its own way."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from restcab.claims.remedies import remedies
from restcab.odds.trials import Trial
from restcab.odds.unsure import draw
from restcab.physics.leakage import weather_factor
from restcab.said import customary
from restcab.season.measures import MEASURES, open_measures
from restcab.season.savings import savings
from restcab.season.scene import make_scene
from restcab.spec.heat_loss import AIR_J_PER_M3K, heat_loss_w_per_k
from restcab.spec.reading import default_spec
from restcab.studies.load import load
from restcab.weather.files import open_weather

BARE = ("truck.curtain=open", "truck.window_covers=none", "truck.paint=black",
        "truck.roof_fairing=none", "bank.age=0.8", "cooling.condenser_fouling=0.2",
        "rest.season=all", "rest.hours=4")  # fmt: skip


@cache
def day():
    return open_weather("phoenix-az@7-0.4")


def words(spec):
    return [measure.words for measure in open_measures(spec)]


def test_a_bare_black_truck_is_open_to_all():
    assert words(default_spec(BARE)) == [measure.words for measure in MEASURES]


def test_load_and_claim_propose_from_the_one_list():
    spec = default_spec(BARE)
    ranked = [saving.words for saving in savings(spec, day(), 1, 1000.0)]
    assert sorted(ranked) == sorted(m.words for m in MEASURES if m.on_load)
    scene = make_scene(spec, day())
    trial = Trial(scene, float(scene.start_h[1]), 4.0, spec.bank.bank_ah)
    rows = remedies(trial, draw(spec, 64, 0))
    tried = [row["change"] for row in rows if "bank_batteries" not in row]
    assert sorted(tried) == sorted([*words(spec), "all of these changes together"])


def test_the_thermostat_goes_up_by_one_step_everywhere():
    spec = default_spec()
    (step,) = (measure for measure in MEASURES if "setpoint_c" in measure.values(spec))
    assert step.done_to(spec).rest.setpoint_c - spec.rest.setpoint_c == pytest.approx(2.0 / 1.8)
    assert step.words == "set the thermostat 1.1 K higher"
    assert customary(step.words) == "set the thermostat 2.0 °F (1.1 K) higher"


@pytest.mark.parametrize(
    ("overrides", "proposed"),
    [
        (("truck.window_covers=none",), {"reflective", "insulated"}),
        (("truck.window_covers=curtain",), {"reflective", "insulated"}),
        (("truck.window_covers=insulated",), set()),
        (("truck.window_covers=reflective",), set()),
    ],
)
def test_covers_are_proposed_only_if_better(overrides, proposed):
    found = {text.split()[1] for text in words(default_spec(overrides)) if "covers" in text}
    assert found == proposed


def test_a_truck_has_no_need_of_what_it_has():
    best = ("truck.curtain=closed", "truck.paint=white", "rest.arrival=cooled", "rest.shade=1",
            "truck.roof_fairing=closed", "truck.air_changes=0 1/h")  # fmt: skip
    assert words(default_spec(best)) == ["double the insulation", "set the thermostat 1.1 K higher"]
    assert not any("fairing" in text or "curtain" in text
                   for text in words(default_spec(("truck.preset=day-cab",))))  # fmt: skip


def measured(watts):
    return default_spec((*BARE, f"truck.heat_loss={watts} W/K"))


def done(spec, text):
    (measure,) = (m for m in open_measures(spec) if m.words == text)
    return measure.done_to(spec)


def leak_w_per_k(cab):
    # In the night of the heater test, 20 K and 3 m/s, wind and warmth drive a part of it.
    more = float(weather_factor(20.0, 3.0)) - 1.0
    per_h = sum(
        zone.air_changes_per_h * zone.volume_m3 * (1.0 + zone.air_changes_wind_frac * more)
        for zone in cab.zones
    )
    return per_h * AIR_J_PER_M3K / 3600.0


def test_insulation_of_a_measured_truck_is_doubled_in_its_shell_alone():
    """Resistances of the layers are doubled; glass, films and leaks lose what they lost."""
    spec = measured(60.0)
    after = done(spec, "double the insulation").cab
    assert leak_w_per_k(after) == leak_w_per_k(spec.cab)
    for old, new in zip(spec.cab.surfaces, after.surfaces, strict=True):
        times = 1.0 if old.part == "glass" or old.facing not in ("outdoor", "ground") else 2.0
        assert new.resistance_m2k_per_w == pytest.approx(times * old.resistance_m2k_per_w, rel=1e-6)
    assert heat_loss_w_per_k(after) < 60.0


def test_leaks_of_a_measured_truck_take_their_own_loss_with_them():
    spec = measured(60.0)
    after = done(spec, "halve the air that leaks in").cab
    assert heat_loss_w_per_k(after) == pytest.approx(60.0 - 0.5 * leak_w_per_k(spec.cab), rel=1e-6)
    for old, new in zip(spec.cab.surfaces, after.surfaces, strict=True):
        assert new.resistance_m2k_per_w == pytest.approx(old.resistance_m2k_per_w, rel=1e-6)


def test_a_measured_truck_gains_by_insulation_about_as_one_known_by_its_layers():
    plain = default_spec((*BARE, "rest.arrival=cooled"))
    loss = heat_loss_w_per_k(plain.cab)
    twin = replace(plain, truck=plain.truck.model_copy(update={"heat_loss_w_per_k": loss}))
    saved = [
        next(row["saves_frac"] for row in load(spec, day(), np.datetime64("2001-07-20"))["levers"]
             if row["change"] == "double the insulation")
        for spec in (plain, twin)
    ]  # fmt: skip
    assert saved[0] > 0.03
    # Ribs and skins resist too in the measured one, if little.
    assert saved[1] == pytest.approx(saved[0], rel=0.25)
