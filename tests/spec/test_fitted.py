"""What a log found, in a spec: written beside the owner's keys, narrowing what is unsure."""

import numpy as np
import pytest
from support import weather_of

from restcab.odds.unsure import draw
from restcab.season.scene import make_scene
from restcab.spec.reading import default_spec, load_spec
from restcab.spec.rewrite import with_keys

SPREADS = [
    ("shell_conductance", "shell_spread", 0.03),
    ("leakage", "leakage_spread", 0.1),
    ("paint_absorptance", "solar_spread", 0.05),
    ("cooling_capacity", "capacity_spread", 0.01),
    ("electric_input", "power_spread", 0.02),
    ("part_load_input", "part_load_spread", 0.04),
    ("controls_draw", "controls_spread", 0.1),
    ("bank_capacity", "bank_spread", 0.01),
]


@pytest.mark.parametrize(("name", "key", "spread"), SPREADS)
def test_a_spread_found_takes_the_place_of_that_assumed(name, key, spread):
    narrow = draw(default_spec([f"fitted.{key}={spread}"]), 256, 0)[name]
    wide = draw(default_spec(), 256, 0)[name]
    assert np.std(np.log(narrow)) == pytest.approx(spread, rel=0.15)
    assert np.std(np.log(wide)) > 1.5 * np.std(np.log(narrow))


def test_a_spread_said_outright_stays():
    both = draw(default_spec(["fitted.power_spread=0.01", "claim.power_spread=0.2"]), 256, 0)
    assert np.std(both["electric_input"]) == pytest.approx(0.2, rel=0.15)


MEASURED = ["bank.age=0.5", "fitted.bank_spread=0.02", "fitted.bank_age=0.5"]


def test_a_measured_bank_is_not_spread_by_age_again():
    unmeasured = draw(default_spec(MEASURED[:1]), 256, 0)["bank_age_frac"]
    assert np.ptp(unmeasured) == pytest.approx(0.4, abs=0.01)
    assert draw(default_spec(MEASURED), 256, 0)["bank_age_frac"] == pytest.approx(0.5)


def test_what_a_bank_aged_since_it_was_measured_is_unsure():
    later = draw(default_spec([*MEASURED, "bank.age=0.6"]), 256, 0)["bank_age_frac"]
    # At least as old as when it was measured, at most twice as much older as said.
    assert later.min() == pytest.approx(0.5, abs=0.01)
    assert later.max() == pytest.approx(0.7, abs=0.01)


def test_the_end_of_life_of_a_measured_bank_stays_unsure():
    scene = make_scene(default_spec(MEASURED), weather_of())
    worn = draw(scene.sized_for.spec, 256, 0)["bank_age_frac"]
    assert worn.min() == pytest.approx(0.8, abs=0.01)
    assert worn.max() == pytest.approx(1.0, abs=0.01)


def test_an_age_spread_said_outright_stays():
    said = draw(default_spec([*MEASURED, "claim.bank_age_spread=0.1"]), 256, 0)["bank_age_frac"]
    assert np.ptp(said) == pytest.approx(0.2, abs=0.01)


def test_solar_scale_scales_the_sun():
    plain, more = (
        make_scene(default_spec(keys), weather_of()).forcing.solar
        for keys in ([], ["fitted.solar_scale=1.3"])
    )
    assert more.absorbed_w == pytest.approx(1.3 * plain.absorbed_w)
    assert more.diffuse_in_w == pytest.approx(1.3 * plain.diffuse_in_w)


def test_contents_scale_scales_what_stands_in_the_cab():
    from restcab.engine.assemble import build_network

    plain, more = (
        build_network(default_spec(keys).cab) for keys in ([], ["fitted.contents_scale=2"])
    )
    inside = np.array([part == "mass" for part in plain.parts])
    before, after = plain.capacity_j_per_k.sum(axis=0), more.capacity_j_per_k.sum(axis=0)
    assert after[inside] == pytest.approx(2.0 * before[inside])
    assert after[~inside] == pytest.approx(before[~inside])


def test_part_load_scale_reaches_the_unit():
    scene = make_scene(default_spec(["fitted.part_load_scale=1.2"]), weather_of())
    assert scene.unit(1.0, 1).scale.part_load == pytest.approx(1.2)


def test_pages_say_what_was_narrowed():
    spec = default_spec(['fitted.log="night.csv"', "fitted.shell_spread=0.05"])
    assert any("night.csv" in note and "8%" in note for note in spec.warnings)
    assert default_spec().warnings == ()


def test_keys_are_changed_where_they_stand(tmp_path):
    text = '# mine\n[truck]\npreset = "day-cab" # old\n\n[bank]\nbatteries = 4\n'
    changed = with_keys(
        text, {"truck.heat_loss": '"50 W/K"', "bank.batteries": "5", "fitted.solar_scale": "1.1"},
        "found",
    )  # fmt: skip
    assert "# mine" in changed
    assert "batteries = 5 # found; before: 4" in changed
    path = tmp_path / "truck.toml"
    path.write_text(changed, encoding="utf-8")
    spec = load_spec(path)
    assert spec.truck.heat_loss_w_per_k == pytest.approx(50.0)
    assert spec.bank.batteries_count == 5
    assert spec.fitted.solar_scale == pytest.approx(1.1)
    assert spec.truck.preset == "day-cab"


def test_an_empty_text_becomes_a_spec():
    assert with_keys("", {"truck.heat_loss": '"80 W/K"'}) == '[truck]\nheat_loss = "80 W/K"\n'


def test_a_table_before_lists_of_tables():
    text = '[truck]\npaint = "white"\n\n[[truck.zones]]\nname = "bunk"\n'
    lines = with_keys(text, {"truck.heat_loss": '"80 W/K"'}).splitlines()
    assert lines.index('heat_loss = "80 W/K"') < lines.index("[[truck.zones]]")
