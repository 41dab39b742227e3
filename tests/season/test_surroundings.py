"""What a truck stands on and between, as the studies see it."""

import dataclasses

import numpy as np
import pytest
from support import outer_faces, truck_scene, weather_of

from restcab.engine.forcing import SEEN, Sampler
from restcab.engine.rests import arrive, run_rests
from restcab.season.scene import make_scene
from restcab.season.surroundings import PLAIN_ALBEDO, site_of, sun_around, temp_seen_c
from restcab.spec.reading import default_spec

HOT_DAY = "phoenix-az@7-0.4"
NOON, NIGHT = 24 * 200 + 12, 24 * 200 + 23


def _seen(*overrides, name=None):
    weather = weather_of(name)
    return temp_seen_c(weather, site_of(default_spec(overrides), weather), name is None)


def test_sunlit_lot_is_hot_and_the_shade_below_the_truck_is_not():
    seen, air = _seen(), truck_scene().forcing.temp_out_c
    lot, beside, patch, neighbour = (seen[:, NOON] - air[NOON])[:4]
    assert lot > 15.0
    assert lot > beside > patch
    assert patch < 2.0
    assert neighbour == 0.0


def test_grounds_differ_as_on_the_road():
    hottest = {
        name: _seen(f"rest.ground={name}")[0].max()
        for name in ("asphalt", "concrete", "gravel", "grass")
    }
    assert hottest["asphalt"] > hottest["concrete"] + 3.0
    assert hottest["concrete"] > hottest["grass"] + 5.0


def test_albedo_given_takes_the_place_of_the_grounds():
    assert _seen("rest.ground_albedo=0.5")[0].max() < _seen()[0].max() - 10.0


@pytest.mark.parametrize("name", [None, "sae-j2918-cooling"])
def test_none_and_chambers_are_as_warm_as_the_air(name):
    overrides = ["rest.ground=none"] if name is None else ["rest.season=all"]
    scene = make_scene(default_spec(overrides), weather_of(name))
    seen = scene.forcing.temp_seen_c
    assert seen is not None
    assert seen == pytest.approx(np.broadcast_to(scene.forcing.temp_out_c, seen.shape))


def test_chamber_has_no_neighbours_and_no_asphalt():
    site = site_of(default_spec(["rest.neighbours=row"]), weather_of("sae-j2918-cooling"))
    assert not site.lot.neighbours
    assert site.albedo == PLAIN_ALBEDO


def test_design_day_is_warmed_up_by_its_own_days():
    seen = _seen(name=HOT_DAY)
    days = seen[:, : seen.shape[1] // 24 * 24].reshape(len(SEEN), -1, 24)
    assert np.abs(days[:, 1] - days[:, 0]).max() < 0.5
    assert days[0].max() > weather_of(HOT_DAY).values("temp_air_c").max() + 20.0


def test_radiating_temperature_is_the_mean_of_fourth_powers():
    scene = truck_scene("rest.neighbours=row")
    moment = Sampler(scene.forcing).at(np.array([float(NOON)]))
    network = scene.network
    nodes_c = np.full((len(network.capacity_j_per_k), network.n_surface, 1), 30.0)
    outer = outer_faces(network, nodes_c, moment, np.array([40.0]))
    views = [network.view_lot, network.view_beside, network.view_patch, network.view_neighbour]
    air = network.view_rest - sum(views)
    kelvin = [float(t) + 273.15 for t in (moment.temp_out_c[0], *moment.temp_seen_c[:, 0])]
    power = sum(
        view * temp**4 for view, temp in zip((air, *views), kelvin, strict=True)
    ) / network.view_rest.clip(1e-9)
    # Faces that no weather reaches look at nothing.
    cool = (network.soak == 0.0) & (network.view_rest > 1e-6) & (network.outdoor > 0.0)
    seen_c = outer.temp_seen_c[outer.far_end, 0]
    assert seen_c[cool] == pytest.approx(power[cool] ** 0.25 - 273.15)
    # Faces beside the engine meet its bay.
    beside_engine = network.soak > 0.0
    assert seen_c[beside_engine] == pytest.approx(moment.temp_out_c[0] + 40.0)


def test_row_keeps_low_sun_and_sky_off_the_sides_only():
    alone, row = truck_scene(), truck_scene("rest.neighbours=row")
    assert row.network.view_sky.sum() < alone.network.view_sky.sum()
    lit = [
        dict(zip(scene.forcing.solar.surface.tolist(),
                 scene.forcing.solar.absorbed_w.sum(axis=1).tolist(), strict=True))
        for scene in (alone, row)
    ]  # fmt: skip
    for surface, name in enumerate(alone.network.names):
        if surface in lit[0] and "left" in name:
            assert lit[1][surface] < 0.7 * lit[0][surface], name


def test_underside_is_not_lit_like_open_ground():
    shaded, plain = truck_scene(), truck_scene("rest.ground=none", "rest.ground_albedo=0.12")
    floor = [i for i, part in enumerate(shaded.network.parts) if part == "floor"]
    sun = [
        sum(
            scene.forcing.solar.absorbed_w[source].sum()
            for source, surface in enumerate(scene.forcing.solar.surface) if surface in floor
        )
        for scene in (shaded, plain)
    ]  # fmt: skip
    # 0.71 of the view falls on the patch below, most of the rest on ground half in shade.
    assert 0.1 < sun[0] / sun[1] < 0.5


def test_warmer_surroundings_mean_more_heat_and_the_balance_stays_closed():
    scene = truck_scene()
    rests = np.array([20, 80])
    unit, options = scene.ideal, scene.options()
    runs = [
        run_rests(scene.network, scene.forcing, scene.cases(rests, surroundings_k=k), options, unit)
        for k in (0.0, 5.0)
    ]
    heat = [run.load_w.sum(axis=0) * run.step_h for run in runs]
    assert (heat[1] > heat[0] + 50.0).all()
    assert max(run.balance_residual_frac.max() for run in runs) < 1e-9


def test_sun_around_keeps_its_values_to_itself():
    weather = weather_of()
    values = sun_around(weather, site_of(default_spec(), weather))
    with pytest.raises(ValueError, match="read-only"):
        values[0, 0] = 1.0


def test_driven_cab_rolls_over_sunlit_road():
    """A cab that arrives cooled was not above its own shade: making the ground below it as warm
    as the lot changes nothing, making the lot as cool as the shade does.
    """
    scene = truck_scene("rest.arrival=cooled", "rest.start=16:00")
    seen = scene.forcing.temp_seen_c
    states = [
        arrive(
            scene.network, dataclasses.replace(scene.forcing, temp_seen_c=seen[rows]),
            scene.cases(np.array([80])), scene.options(),
        ).nodes_c
        for rows in ([0, 1, 2, 3], [0, 0, 0, 3], [2, 2, 2, 3])
    ]  # fmt: skip
    assert states[0] == pytest.approx(states[1])
    assert states[0].mean() > states[2].mean() + 0.1
