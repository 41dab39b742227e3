"""Runs of many rests: balance, parts, and independence of order, batch and chunk."""

from dataclasses import fields, replace

import numpy as np
import pytest
from support import (
    cases_of,
    every_nth_rest,
    fixed_wall,
    light_box,
    one_zone,
    plain_forcing,
    reordered_network,
    truck_scene,
)

from restcab.engine import rests
from restcab.engine.assemble import build_network
from restcab.engine.cases import RunOptions
from restcab.engine.heating import HeaterSetup
from restcab.engine.ideal import IdealSetup
from restcab.engine.origins import LOAD_PARTS
from restcab.engine.rests import BankSetup, run_rests
from restcab.errors import SolverError

TRUCKS = {
    "two zones": (),
    "curtain open": ("truck.curtain=open", "truck.fresh_air=10 cfm"),
    "open fairing, bare windows": ("truck.roof_fairing=open", "truck.window_covers=none"),
    "cooled": ("rest.arrival=cooled",),
    "soaked": ("rest.arrival=soaked",),
    "one zone": ("truck.preset=day-cab",),
}
BALANCE_FRAC = 1e-9
MASS = LOAD_PARTS.index("mass")


def _run(overrides, unit="real", index=None, record=False, **changes):
    scene = truck_scene(*overrides)
    index = every_nth_rest(scene) if index is None else index
    setup = {
        "none": None,
        "real": scene.unit(1.0, len(index)),
        "ideal": scene.ideal,
    }[unit]
    options = scene.options(record=record, **changes)
    return run_rests(scene.network, scene.forcing, scene.cases(index), options, setup)


@pytest.mark.parametrize("name", TRUCKS)
@pytest.mark.parametrize("unit", ["none", "real", "ideal"])
def test_energy_balance_closes(name, unit):
    run = _run(TRUCKS[name], unit)
    assert run.balance_residual_frac.max() < BALANCE_FRAC


@pytest.mark.parametrize("name", TRUCKS)
def test_parts_add_up_to_the_load(name):
    run = _run(TRUCKS[name], "ideal", record=True)
    assert run.parts_w.shape[0] == len(LOAD_PARTS)
    assert run.parts_w.sum(axis=0) == pytest.approx(run.load_w, abs=1e-6)
    assert run.stored_w.sum(axis=0) == pytest.approx(run.parts_w[MASS], abs=1e-6)
    assert run.load_w.max() > 100.0


def test_parts_are_those_of_ideal_cooling_alone():
    with pytest.raises(ValueError, match="ideal cooling"):
        _run((), "real", record=True)


def test_recording_changes_nothing():
    plain, recorded = _run((), "ideal"), _run((), "ideal", record=True)
    assert np.array_equal(plain.temp_bunk_c, recorded.temp_bunk_c)


def test_order_of_surfaces_changes_nothing():
    scene = truck_scene()
    index = every_nth_rest(scene)
    order = np.random.default_rng(3).permutation(scene.network.n_surface)
    shuffled = reordered_network(scene.network, order)
    solar = scene.forcing.solar
    moved = replace(solar, surface=np.argsort(order)[solar.surface])
    runs = [
        run_rests(
            network, forcing, scene.cases(index), scene.options(), scene.unit(1.0, len(index))
        )
        for network, forcing in (
            (scene.network, scene.forcing),
            (shuffled, replace(scene.forcing, solar=moved)),
        )
    ]
    # Sums in another order: rounding only.
    assert runs[1].temp_bunk_c == pytest.approx(runs[0].temp_bunk_c, abs=1e-9)
    assert runs[1].energy_wh == pytest.approx(runs[0].energy_wh, rel=1e-9)


def _everything(run):
    return {
        f.name: np.asarray(getattr(run, f.name))
        for f in fields(run)
        if getattr(run, f.name) is not None and f.name != "time_h"
    }


def _banked(scene, index):
    n_case = len(index)
    params = scene.bank(np.linspace(60.0, 400.0, n_case), np.full(n_case, 25.0))
    return BankSetup(params, np.ones(n_case))


def test_batch_equals_single_cases():
    scene = truck_scene()
    index = every_nth_rest(scene, 3)
    scale = np.array([0.1, 0.5, 1.0])
    bank = _banked(scene, index)
    batch = run_rests(
        scene.network, scene.forcing, scene.cases(index), scene.options(),
        scene.unit(scale, 3), bank,
    )  # fmt: skip
    for k in range(3):
        one = slice(k, k + 1)
        single = run_rests(
            scene.network, scene.forcing, scene.cases(index[one]), scene.options(),
            scene.unit(scale[one], 1), rests.take_cases(bank, one),
        )  # fmt: skip
        for name, values in _everything(batch).items():
            # The last bits depend on how numpy groups the sums over surfaces.
            assert values[..., one] == pytest.approx(
                _everything(single)[name], rel=1e-9, abs=1e-7
            ), name


@pytest.mark.parametrize("chunk", [1, 2, 7])
def test_chunk_boundaries_change_nothing(monkeypatch, chunk):
    scene = truck_scene()
    index = every_nth_rest(scene, 7)
    seen = []

    def run():
        return run_rests(
            scene.network, scene.forcing, scene.cases(index), scene.options(hours=3.0),
            scene.unit(np.linspace(0.1, 1.0, 7), 7), _banked(scene, index),
            on_progress=lambda done, total: seen.append((done, total)),
        )  # fmt: skip

    whole = _everything(run())  # seven cases, filled up to eight
    seen.clear()
    monkeypatch.setattr(rests, "_cases_at_once", lambda _: chunk)
    monkeypatch.setattr(rests, "_ABREAST", 1)
    cut = _everything(run())
    assert seen[-1] == (7, 7)
    assert len(seen) == -(-7 // chunk)
    for name, values in whole.items():
        assert cut[name].shape == values.shape
        assert cut[name] == pytest.approx(values, rel=1e-9, abs=1e-7), name


@pytest.mark.parametrize(
    ("total", "most", "sizes"),
    [
        (1, 200, [1]),
        (7, 200, [7]),
        (16, 16, [16]),
        (365, 208, [184, 181]),
        (365, 7, [8] * 45 + [5]),
    ],
)
def test_batches_are_alike_and_fill_what_works_abreast(monkeypatch, total, most, sizes):
    monkeypatch.setattr(rests, "_cases_at_once", lambda _: most)
    monkeypatch.setattr(rests, "cores", lambda: 1)
    batches = rests._batches(None, total)
    cases = np.arange(total)
    assert [cases[batch].size for batch in batches] == sizes
    np.testing.assert_array_equal(np.concatenate([cases[batch] for batch in batches]), cases)
    for batch in batches:
        filled = cases[rests._filled(batch)]
        own = cases[batch]
        assert filled.size % 8 == 0
        assert filled.size < own.size + 8
        np.testing.assert_array_equal(filled[: own.size], own)
        assert (filled[own.size :] == own[-1]).all()


@pytest.mark.parametrize("curtain", ["closed", "open"])
@pytest.mark.parametrize("speed", ["variable", "fixed"])
@pytest.mark.parametrize("arrival", ["cooled", "soaked"])
def test_halving_the_step_changes_energy_by_less_than_a_percent(arrival, speed, curtain):
    overrides = (
        f"rest.arrival={arrival}", f"truck.curtain={curtain}", f"cooling.speed={speed}",
    )  # fmt: skip
    index = every_nth_rest(truck_scene(*overrides), 12)
    coarse, fine = (
        _run(overrides, index=index, step_s=step_s, first_step_s=step_s / 5.0)
        for step_s in (300.0, 150.0)
    )
    change = fine.energy_wh / coarse.energy_wh - 1.0
    assert np.abs(change).max() < 0.01, change.round(4)
    assert fine.energy_wh.sum() == pytest.approx(coarse.energy_wh.sum(), rel=0.01)
    assert fine.load_w.sum() * fine.step_h == pytest.approx(
        coarse.load_w.sum() * coarse.step_h, rel=0.01
    )


def test_cooled_arrival_starts_at_the_setpoint_and_soaked_does_not():
    scene = truck_scene()
    hot = np.array([int(np.argmax([scene.forcing.temp_out_c[int(h)] for h in scene.start_h]))])
    # The first seconds without a unit: still close to where the lead-in left the air.
    first_c = {
        arrival: _run((f"rest.arrival={arrival}",), "none", hot, step_s=5.0, hours=0.1)
        .temp_bunk_c[0, 0]
        for arrival in ("cooled", "soaked")
    }  # fmt: skip
    setpoint_c = scene.spec.rest.setpoint_c
    assert first_c["cooled"] == pytest.approx(setpoint_c, abs=1.0)
    assert first_c["soaked"] > setpoint_c + 5.0


def test_rest_of_an_odd_length_ends_when_it_should():
    run = _run((), "none", hours=1.03)
    assert run.time_h[-1] == pytest.approx(1.03)
    assert run.step_h * len(run.time_h) == pytest.approx(1.03)


def test_implausible_temperature_stops_the_run():
    wall = fixed_wall(light_box().surfaces[0].layers)
    network = build_network(one_zone([wall], volume_m3=1.0, heat_sensible_w=1e5))
    options = RunOptions(hours=2.0, lead_in_h=0.0, start_temp_c=20.0)
    with pytest.raises(SolverError, match="°C after"):
        run_rests(network, plain_forcing([20.0] * 3), cases_of(), options)


def test_gains_of_people_and_hotel_load_end_in_the_air():
    """Steady: an ideal unit takes out what people and appliances give, and nothing else."""
    wall = fixed_wall(light_box().surfaces[0].layers, area_m2=20.0, facing="adiabatic")
    network = build_network(one_zone([wall], volume_m3=8.0))
    options = RunOptions(hours=48.0, lead_in_h=0.0, start_temp_c=24.0, arrival="soaked")
    cases = cases_of(1, 24.0, people_sensible_w=50.0, hotel_w=60.0)
    run = run_rests(network, plain_forcing([24.0] * 50), cases, options, IdealSetup(0.5))
    assert run.load_w[-1, 0] == pytest.approx(110.0, rel=1e-6)


COLD = ("rest.season=Jan", "rest.arrival=soaked")
NIGHT = ("rest.start=22:00",)


def _heated(overrides, heater=True, **changes):
    scene = truck_scene(*COLD, *NIGHT, *overrides)
    index = every_nth_rest(scene, 7)
    lowest_c = np.full(len(index), scene.spec.heater.setpoint_c)
    setup = HeaterSetup(np.full(len(index), np.inf), lowest_c) if heater else None
    options = scene.options(**changes)
    return run_rests(
        scene.network, scene.forcing, scene.cases(index), options, scene.ideal, heater=setup
    )


def test_a_cold_rest_begins_in_a_heated_cab_unless_told_otherwise():
    setpoint_c = truck_scene().spec.heater.setpoint_c
    short = {"hours": 0.1, "step_s": 5.0}
    warm = _heated(("rest.occupants=0",), heater=False, **short).temp_bunk_c[0]
    cold = _heated(("rest.occupants=0", "heater.arrival=cold"), heater=False, **short)
    assert warm == pytest.approx(setpoint_c, abs=1.0)
    assert cold.temp_bunk_c[0].max() < setpoint_c - 5.0
    # A cold cab has to be warmed through first.
    energy_wh = [
        run.heat_w.sum() * run.step_h for run in (_heated(()), _heated(("heater.arrival=cold",)))
    ]
    assert energy_wh[1] > 1.1 * energy_wh[0]


def test_a_warm_day_before_a_rest_needs_no_heating():
    heated, left = (
        _run((f"heater.arrival={how}", "rest.season=Jul"), "ideal") for how in ("heated", "cold")
    )
    # Cool nights before some of them were heated: what is left of that in the evening.
    assert np.abs(left.load_w - heated.load_w).max() < 0.005 * left.load_w.max()


@pytest.mark.parametrize("arrival", ["heated", "cold"])
def test_halving_the_step_of_a_heated_rest_changes_heat_by_less_than_a_percent(arrival):
    overrides = (f"heater.arrival={arrival}",)
    coarse, fine = (
        _heated(overrides, step_s=step_s, first_step_s=step_s / 5.0) for step_s in (300.0, 150.0)
    )
    coarse_wh, fine_wh = (run.heat_w.sum(axis=0) * run.step_h for run in (coarse, fine))
    assert np.abs(fine_wh / coarse_wh - 1.0).max() < 0.01
    assert max(run.balance_residual_frac.max() for run in (coarse, fine)) < BALANCE_FRAC


@pytest.mark.parametrize("arrival", ["cooled", "soaked"])
def test_halving_the_step_changes_the_ideal_load_by_less_than_a_percent(arrival):
    coarse, fine = (
        _run((f"rest.arrival={arrival}",), "ideal", step_s=step_s, first_step_s=step_s / 5.0)
        for step_s in (300.0, 150.0)
    )
    coarse_wh, fine_wh = (run.load_w.sum(axis=0) * run.step_h for run in (coarse, fine))
    assert fine_wh.sum() == pytest.approx(coarse_wh.sum(), rel=0.01)
    assert np.abs(fine_wh - coarse_wh).max() < 0.01 * coarse_wh.max()
