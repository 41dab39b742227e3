"""Presets: areas, volumes and directions that a cab of that shape must have."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.spec import catalog, default_spec
from restcab.spec.presets import (
    DRIVER_HEIGHT_M,
    DRIVER_LENGTH_M,
    SLEEPER_HEIGHT_M,
    WIDTH_M,
    preset_shape,
)
from restcab.spec.surfaces import FACINGS, FAIRINGS, PARTS, ROUGHNESSES, ZONES

PRESETS = [f"{roof}-{length}" for roof in SLEEPER_HEIGHT_M for length in (36, 48, 60, 72, 82, 90)]
CLOSED_RTOL = 1e-12  # sums of the same products in another order


def cab(preset="raised-roof-72", *overrides):
    return default_spec([f"truck.preset={preset}", *overrides]).cab


@pytest.mark.parametrize("preset", [*PRESETS, "day-cab"])
def test_surfaces_are_of_the_declared_kinds(preset):
    built = cab(preset)
    names = [surface.name for surface in built.surfaces]
    zones = {zone.name for zone in built.zones}
    assert len(set(names)) == len(names)
    assert built.zones[0].name == "bunk"
    assert zones <= set(ZONES)
    for surface in built.surfaces:
        assert surface.part in PARTS
        assert surface.zone in zones
        assert surface.facing in FACINGS
        assert surface.roughness in ROUGHNESSES
        assert surface.fairing in FAIRINGS
        assert surface.cover in catalog.names("covers")
        assert surface.area_m2 > 0.0
        assert 0.0 <= surface.tilt_deg <= 180.0
        assert 0.0 <= surface.azimuth_deg < 360.0
        assert surface.layers
        assert surface.resistance_m2k_per_w > 0.0 or surface.part == "mass"


@pytest.mark.parametrize("preset", PRESETS)
def test_shell_of_the_bunk_closes(preset):
    """Roof, walls and floor are those of the box that the preset describes."""
    shape = preset_shape(preset)
    built = cab(preset)
    length_m, height_m = shape.sleeper_m, shape.sleeper_height_m
    upright_m2 = sum(
        s.area_m2
        for s in built.surfaces
        if s.zone == "bunk" and s.part in ("walls", "glass") and s.tilt_deg == 90.0
    )
    assert upright_m2 == pytest.approx(height_m * (WIDTH_M + 2.0 * length_m), rel=CLOSED_RTOL)
    assert built.area_m2("floor", "bunk") == pytest.approx(length_m * WIDTH_M, rel=CLOSED_RTOL)
    flat_m2 = sum(
        s.area_m2
        for s in built.surfaces
        if s.zone == "bunk" and s.part == "roof" and s.tilt_deg == 0.0
    )
    assert flat_m2 == pytest.approx(length_m * WIDTH_M, rel=CLOSED_RTOL)
    has_slope = any(s.name == "bunk-roof-front" for s in built.surfaces)
    assert has_slope == (height_m > DRIVER_HEIGHT_M)


def test_windshield_and_firewall_fill_the_front():
    """Heights add up: what the tilted windshield covers is missing from the wall below it."""
    from math import radians, sin

    front = [s for s in cab().surfaces if s.zone == "seats" and s.azimuth_deg == 0.0]
    filled_m2 = sum(
        s.area_m2 * sin(radians(s.tilt_deg))
        for s in front
        if s.name.startswith(("firewall", "windshield"))
    )
    assert filled_m2 == pytest.approx(WIDTH_M * DRIVER_HEIGHT_M, rel=CLOSED_RTOL)


def test_sizes_are_those_of_a_sleeper_tractor():
    """A 72-inch raised-roof sleeper holds 7 to 12 m3 (from memory)."""
    built = cab()
    assert 7.0 < built.zone("bunk").volume_m3 < 12.0
    assert 4.0 < built.zone("seats").volume_m3 < 7.0
    assert 2.0 < built.area_m2("glass", "seats") < 3.5
    assert 18.0 < built.area_m2("roof", "bunk") + built.area_m2("walls", "bunk") < 28.0
    assert DRIVER_LENGTH_M < 2.0


@pytest.mark.parametrize("frac", [0.0, 0.08, 0.3])
def test_ribs_take_their_share_and_no_more(frac):
    built = cab("raised-roof-72", f"truck.thermal_bridge_frac={frac}")
    plain = cab("raised-roof-72", "truck.thermal_bridge_frac=0.0")
    ribs = [s for s in built.surfaces if s.name.endswith("-ribs")]
    for part in ("roof", "walls", "floor"):
        whole_m2 = built.area_m2(part)
        assert whole_m2 == pytest.approx(plain.area_m2(part), rel=CLOSED_RTOL)
        bridged_m2 = sum(s.area_m2 for s in ribs if s.part == part)
        assert bridged_m2 == pytest.approx(frac * whole_m2, rel=1e-9, abs=1e-12)
    by_name = {s.name: s for s in built.surfaces}
    for rib in ribs:
        insulated = by_name[rib.name.removesuffix("-ribs")]
        added = insulated.resistance_m2k_per_w - rib.resistance_m2k_per_w
        assert added == pytest.approx(
            catalog.number("insulations", "as-built", "r_value_m2k_per_w")
        )


def test_sides_mirror_each_other():
    surfaces = {s.name: s for s in cab().surfaces}
    for name, surface in surfaces.items():
        if "right" in name:
            other = surfaces[name.replace("right", "left")]
            assert surface.area_m2 == other.area_m2
            assert (surface.azimuth_deg, other.azimuth_deg) == (90.0, 270.0)


def test_fairing_shades_the_level_sleeper_roof_only():
    built = cab("raised-roof-72", "truck.roof_fairing=open")
    shaded = {s.name for s in built.surfaces if s.fairing == "open"}
    assert shaded == {"bunk-roof", "bunk-roof-ribs"}


def test_engine_warms_tunnel_and_firewall_only():
    warm = {s.name.removesuffix("-ribs") for s in cab().surfaces if s.engine_side}
    assert warm == {"tunnel", "firewall"}
    assert all(s.zone == "seats" for s in cab().surfaces if s.engine_side)


@pytest.mark.parametrize(
    ("curtain", "surfaces", "mixing"), [("closed", 1, 0.004), ("open", 0, 0.2), ("none", 0, 0.2)]
)
def test_curtain(curtain, surfaces, mixing):
    built = cab("raised-roof-72", f"truck.curtain={curtain}")
    cloth = [s for s in built.surfaces if s.part == "curtain"]
    assert len(cloth) == surfaces
    assert all((s.zone, s.facing) == ("bunk", "seats") for s in cloth)
    assert built.mixing_m3_per_s == mixing


def test_day_cab_is_one_zone():
    built = cab("day-cab")
    assert [zone.name for zone in built.zones] == ["bunk"]
    assert built.mixing_m3_per_s == 0.0
    assert any(s.name == "rear" for s in built.surfaces)


def test_words_of_the_truck_reach_the_surfaces():
    built = cab(
        "mid-roof-60",
        "truck.paint=black",
        "truck.skin=steel",
        "truck.window_covers=reflective",
        "truck.glass=clear-6mm",
        "truck.mattress_mass=0 kg",
        "truck.fresh_air=10 cfm",
    )
    surfaces = {s.name: s for s in built.surfaces}
    roof, window = surfaces["bunk-roof"], surfaces["windshield"]
    assert roof.solar_absorptance == 0.95
    assert roof.layers[0].density_kg_per_m3 == 7850.0
    assert (window.cover, window.cover_solar_frac) == ("reflective", 0.30)
    assert (window.transmittance, window.absorptance, window.emittance) == (0.77, 0.16, 0.84)
    assert "mattress" not in surfaces
    assert built.zone("bunk").fresh_air_m3_per_s == pytest.approx(10.0 / 2118.88, rel=1e-5)
    assert built.zone("seats").fresh_air_m3_per_s == 0.0


def test_mass_is_what_was_declared():
    """Heat capacity of the cabinets: 70 kg of board at 1600 J/(kg K)."""
    surfaces = {s.name: s for s in cab().surfaces}
    cabinets = surfaces["cabinets"]
    assert cabinets.area_m2 * cabinets.capacity_j_per_m2k == pytest.approx(70.0 * 1600.0)
    mattress = surfaces["mattress"]
    assert mattress.area_m2 * mattress.capacity_j_per_m2k == pytest.approx(25.0 * 1400.0)


@given(st.text(max_size=20))
def test_other_names_are_no_presets(name):
    shape = preset_shape(name)
    assert shape is None or shape.sleeper_in == 0 or 36 <= shape.sleeper_in <= 90


@pytest.mark.parametrize(
    "name", ["raised-roof-35", "raised-roof-91", "raised-roof-072", "raised-roof", "roof-60"]
)
def test_names_out_of_range(name):
    assert preset_shape(name) is None
