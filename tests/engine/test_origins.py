"""Where the heat comes from: each part against runs in which its source is changed or left out."""

from dataclasses import replace

import numpy as np
import pytest
from support import (
    CONCRETE,
    DRY_HUMIDITY_RATIO,
    FOAM,
    PRESSURE_PA,
    cases_of,
    fixed_wall,
    one_zone,
    plain_forcing,
)

from restcab.engine.assemble import build_network
from restcab.engine.cases import RunOptions
from restcab.engine.ideal import IdealSetup
from restcab.engine.origins import LOAD_PARTS
from restcab.engine.rests import run_rests
from restcab.physics.air import H_FG, density_dry_kg_per_m3
from restcab.spec.surfaces import Layer, Surface

SETPOINT_C = 22.0
HOURS = 24
HOT_C = 32.0
EXACT_W = 1e-7


def _box(air_changes_per_h=0.0, h_radiative=5.0):
    """A box of given films, so that the whole of it is linear: walls, a slab, bedding, a window."""
    surfaces = [
        fixed_wall((FOAM,), name="wall", area_m2=15.0, h_radiative=h_radiative),
        fixed_wall((FOAM, FOAM), name="top", area_m2=5.0, part="roof", h_radiative=h_radiative),
        fixed_wall((CONCRETE,), name="slab", area_m2=5.0, part="floor", facing="adiabatic",
                   h_radiative=h_radiative),
        Surface("window", "glass", "bunk", 1.0, layers=(Layer(0.006, 1.0, 2500.0, 800.0),),
                transmittance=0.77, absorptance=0.16, h_out_w_per_m2k=8.0,
                h_in_convective_w_per_m2k=3.0, h_in_radiative_w_per_m2k=h_radiative),
    ]  # fmt: skip
    return build_network(one_zone(surfaces, volume_m3=8.0, air_changes_per_h=air_changes_per_h))


def _run(net, temp_out_c=HOT_C, sun_w=0.0, start_c=SETPOINT_C, lead_in_h=0.0, ceiling=1.0, **gains):
    hours = HOURS + 60
    forcing = plain_forcing([temp_out_c] * hours, cyclic=True)
    sun = np.full((1, hours), sun_w)
    forcing = replace(forcing, solar=replace(forcing.solar, diffuse_in_w=sun))
    options = RunOptions(
        hours=float(HOURS), lead_in_h=lead_in_h, arrival="soaked", start_temp_c=start_c, record=True
    )
    cases = replace(cases_of(1, SETPOINT_C, **gains), start_h=np.array([lead_in_h]))
    return run_rests(net, forcing, cases, options, IdealSetup(ceiling))


def _part(run, name):
    return run.parts_w[LOAD_PARTS.index(name)]


def _only(run, *names):
    """Whether the load consists of these parts alone."""
    others = [name for name in LOAD_PARTS if name not in names]
    return all(np.abs(_part(run, name)).max() < EXACT_W for name in others)


@pytest.mark.parametrize(
    ("part", "gains"),
    [("people", {"people_sensible_w": 60.0, "people_moisture_kg_per_s": 2e-5}),
     ("equipment", {"hotel_w": 90.0}),
     ("glass", {"sun_w": 200.0})],
)  # fmt: skip
def test_a_part_is_what_the_load_falls_by_without_its_source(part, gains):
    net = _box()
    # Warm at first, so that there is enough to cool for all the drying that is asked for.
    run, without = (_run(net, ceiling=0.3, start_c=30.0, **more) for more in (gains, {}))
    difference = run.load_w - without.load_w
    assert difference.min() > 1.0
    assert _part(run, part) - _part(without, part) == pytest.approx(difference, abs=1e-6)
    for name in LOAD_PARTS:
        if name != part:
            assert _part(run, name) == pytest.approx(_part(without, name), abs=1e-6)


def test_window_sun_kept_by_the_floor_is_glass_not_floor():
    run = _run(_box(), temp_out_c=SETPOINT_C, sun_w=300.0)
    assert run.load_w[-1, 0] > 100.0
    assert _only(run, "glass")
    assert np.all(np.diff(run.load_w[:, 0]) > -1e-6)  # it comes slowly, out of the slab


def test_steady_parts_are_conductance_times_difference():
    """Without radiation between the faces; with it, some of a part leaves by the others again."""
    run = _run(_box(h_radiative=0.0))
    films = 1.0 / 8.0 + 1.0 / 2.5
    ua = {"walls": 15.0 / (films + 0.05 / 0.04), "roof": 5.0 / (films + 0.10 / 0.04)}
    for part, ua_w_per_k in ua.items():
        heat_w = _part(run, part)[-1, 0]
        assert heat_w == pytest.approx(ua_w_per_k * (HOT_C - SETPOINT_C), rel=1e-3)
    assert np.abs(_part(run, "floor")).max() < EXACT_W


def test_heat_of_a_warm_start_is_stored_and_fades():
    net = _box()
    warm, level = (_run(net, temp_out_c=SETPOINT_C, start_c=c) for c in (35.0, SETPOINT_C))
    assert not level.load_w.any()
    assert _only(warm, "mass")
    assert warm.load_w[0, 0] > 10.0 * warm.load_w[-1, 0] > 0.0


def test_stored_heat_is_told_by_the_way_it_came_in():
    """After a sunny stand without cooling by the window, after a hot one through the shell."""
    net = _box()
    sunny = _run(net, temp_out_c=SETPOINT_C, sun_w=300.0, lead_in_h=48.0)
    hot = _run(net, lead_in_h=48.0)
    for run, ways in ((sunny, ("glass",)), (hot, ("walls", "roof", "glass"))):
        total = run.stored_w.sum(axis=(1, 2))
        known = sum(total[LOAD_PARTS.index(way)] for way in ways)
        assert total.sum() > 0.0
        assert known == pytest.approx(total.sum(), rel=1e-6)
        assert run.stored_w.sum(axis=0) == pytest.approx(_part(run, "mass"), abs=1e-6)


def test_damp_air_brings_its_water():
    """Steady: leaking air brings sensible heat and the water above the humidity that is held."""
    net = _box(air_changes_per_h=3.0)
    dry = _run(net, ceiling=1.0)
    damp = _run(net, ceiling=0.2)
    assert not dry.latent_w.any()
    density = density_dry_kg_per_m3(float(damp.temp_out_c[-1, 0]), DRY_HUMIDITY_RATIO, PRESSURE_PA)
    kg_per_s = 3.0 * 8.0 / 3600.0 * float(density)
    held = float(damp.humidity_ratio[-1, 0])
    water_w = H_FG * kg_per_s * (DRY_HUMIDITY_RATIO - held)
    assert water_w > 5.0
    more = _part(damp, "air")[-1, 0] - _part(dry, "air")[-1, 0]
    assert more == pytest.approx(water_w, rel=0.01)
    assert damp.parts_w.sum(axis=0) == pytest.approx(damp.load_w, abs=1e-7)
