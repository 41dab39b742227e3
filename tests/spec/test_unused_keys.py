"""What a spec gives and the model would not use is refused, or said in a warning."""

from pathlib import Path

import pytest

from restcab.errors import InputError
from restcab.spec import default_spec, load_spec

BOX = (Path(__file__).parents[2] / "examples" / "plain-box.toml").read_text(encoding="utf-8")
ROOF, WINDOW, FLOOR, BEDDING = 'part = "roof"', 'part = "glass"', 'part = "floor"', 'part = "mass"'


def box(tmp_path, old="", new=""):
    path = tmp_path / "box.toml"
    assert old in BOX
    path.write_text(BOX.replace(old, new, 1), encoding="utf-8")
    return load_spec(path)


def refused(tmp_path, old, new):
    with pytest.raises(InputError) as caught:
        box(tmp_path, old, new)
    (problem,) = caught.value.problems
    return str(problem)


@pytest.mark.parametrize(
    "line",
    ['skin = "steel"', 'insulation = "R-2"', 'r_value = "1 m**2*K/W"', "thermal_bridge_frac = 0.1",
     'roof_fairing = "open"', 'mattress_mass = "20 kg"', 'trim_mass = "50 kg"'],
)  # fmt: skip
def test_key_of_a_preset_beside_a_list(tmp_path, line):
    said = refused(tmp_path, "[truck]\n", f"[truck]\n{line}\n")
    assert f"truck.{line.partition(' ')[0]}" in said
    assert "has no effect on listed surfaces" in said


def test_curtain_of_a_listed_cab_needs_two_zones(tmp_path):
    said = refused(tmp_path, "[truck]\n", '[truck]\ncurtain = "open"\n')
    assert "curtain = open has no effect on a cab of one zone" in said


@pytest.mark.parametrize("line", ['window_covers = "none"', 'glass = "clear-3mm"'])
def test_glass_of_a_listed_cab_without_windows(tmp_path, line):
    start = BOX.index('[[truck.surfaces]]\nname = "window"')
    end = BOX.index('[[truck.surfaces]]\nname = "bedding"')
    said = refused(tmp_path, BOX, (BOX[:start] + BOX[end:]).replace("[truck]", f"[truck]\n{line}"))
    assert "no listed surface is glass" in said


@pytest.mark.parametrize(
    ("part", "line", "message"),
    [
        (FLOOR, 'glass = "clear-6mm"', "glass = clear-6mm has no effect on part floor"),
        (FLOOR, "glass_transmittance = 0.5", "has no effect on part floor, only on glass"),
        (ROOF, 'cover = "insulated"', "has no effect on part roof, only on glass"),
        (ROOF, "cover_outside = true", "cover_outside = true has no effect on part roof"),
        (WINDOW, "solar_absorptance = 0.5", "has no effect on glass: glass_absorptance"),
        (WINDOW, 'fairing = "open"', "has no effect on glass: use a cover"),
        (WINDOW, "cover_outside = true", "has no effect without a cover"),
        (WINDOW, "glass_transmittance = 0.5", "stands beside glass: one of the two"),
        (WINDOW, 'glass_panes = 1\nglass_gap = "6 mm"', "has no effect on a single pane"),
        (WINDOW, 'glass_panes = 2\nglass_gap = "6 mm"\nglass_u_value = "2 W/(m**2*K)"',
         "glass_u_value = 2 W/(m**2*K) stands beside glass_gap"),
        (WINDOW, 'glass_panes = 2\nglass_u_value = "6 W/(m**2*K)"', "below 5.5"),
        (WINDOW, 'facing = "adiabatic"', "cannot be glass on a surface facing adiabatic"),
        (BEDDING, "solar_absorptance = 0.5", "has no effect on a surface facing adiabatic"),
        (BEDDING, "engine_side = true", "engine_side = true has no effect on a surface facing"),
        (BEDDING, 'h_out = "9 W/(m**2*K)"', "has no effect on a surface facing adiabatic"),
        (ROOF, 'h_out = "9 W/(m**2*K)"\nemittance = 0.5', "has no effect beside h_out"),
        (ROOF, 'facing = "ground"', "looks up, but the surface is said to face the ground"),
        (FLOOR, 'facing = "ground"\nfairing = "open"', "has no effect on a surface facing ground"),
    ],
)  # fmt: skip
def test_key_of_a_surface_that_would_be_ignored(tmp_path, part, line, message):
    said = refused(tmp_path, part, f"{part}\n{line}")
    assert message in said
    assert "box.toml line" in said


def test_panes_that_leave_no_light_to_reflect(tmp_path):
    with pytest.raises(InputError, match="leaves nothing to reflect"):
        default_spec(["truck.glass_transmittance=0.5", "truck.glass_absorptance=0.5"])


@pytest.mark.parametrize(
    "override", ['truck.glass_gap="6 mm"', 'truck.glass_u_value="2 W/(m**2*K)"']
)
def test_gap_of_a_single_pane(override):
    with pytest.raises(InputError, match="has no effect on a single pane"):
        default_spec([override])


@pytest.mark.parametrize(
    "override", ["truck.roof_fairing=open", "truck.curtain=open", "truck.mattress_mass=20 kg",
                 "truck.trim_mass=60 kg"],
)  # fmt: skip
def test_sleeper_of_a_day_cab_is_said(override):
    (warning,) = default_spec(["truck.preset=day-cab", override]).warnings
    assert "has no effect on a day cab" in warning
    assert not default_spec([override]).warnings


def test_a_key_that_is_a_number_is_no_count(tmp_path):
    path = tmp_path / "truck.toml"
    path.write_text("[truck]\n2 = 3\n")
    with pytest.raises(InputError, match=r"line 2: truck\.2: 2 is an unknown key"):
        load_spec(path)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('area = "4 m**2"', 'area = "40 m**2"', "truck.surfaces.1.area: area = 40 m**2 is unusual"),
        ('volume = "8 m**3"', 'volume = "30 m**3"', "truck.zones.1.volume: volume = 30 m**3"),
    ],
)
def test_unusual_value_in_a_row(tmp_path, old, new, message):
    (warning,) = box(tmp_path, old, new).warnings
    assert message in warning
    assert "box.toml line" in warning
    assert not box(tmp_path).warnings
