"""Which way the heat load moves, whatever the numbers: properties of the built-in truck."""

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from restcab.engine.cases import make_cases
from restcab.engine.rests import run_rests
from restcab.season.scene import make_scene
from restcab.spec.reading import default_spec
from restcab.weather.files import default_weather

DAYS = [0, 14, 29]
"""Three rests of July: what holds must hold on each."""
FEW = settings(max_examples=12, deadline=None)
ROUNDING = 1.0 - 1e-9

share = st.floats(0.0, 1.0)


@cache
def scene():
    spec = default_spec(("rest.arrival=cooled", "rest.season=Jul", "rest.hours=3"))
    return make_scene(spec, default_weather())


def heat_wh(sensible=False, **changes):
    """Heat to remove in each rest; one run for two values of each change."""
    place = scene()
    base = place.cases(DAYS)
    columns = {name: np.repeat(np.asarray(pair), len(DAYS)) for name, pair in changes.items()}
    cases = make_cases(
        np.tile(base.start_h, 2),
        columns.pop("setpoint_c", base.setpoint_c[0]),
        **{
            "people_sensible_w": base.people_sensible_w[0],
            "people_moisture_kg_per_s": base.people_moisture_kg_per_s[0],
            "hotel_w": base.hotel_w[0],
            **columns,
        },
    )
    unit = place.ideal
    run = run_rests(place.network, place.forcing, cases, place.options(), unit)
    heat_w = run.load_w - run.latent_w if sensible else run.load_w
    less, more = np.reshape(heat_w.sum(axis=0) * run.step_h, (2, len(DAYS)))
    return less, more


def _more_heat(less, more):
    assert np.all(more >= less * ROUNDING)


@FEW
@given(st.floats(0.2, 2.5), share)
def test_darker_paint_never_cools(absorptance_scale, rise):
    _more_heat(*heat_wh(solar_scale=(absorptance_scale, absorptance_scale * (1.0 + rise))))


@FEW
@given(st.floats(0.0, 200.0), st.floats(0.0, 200.0))
def test_more_people_never_cool(people_w, more_w):
    _more_heat(*heat_wh(people_sensible_w=(people_w, people_w + more_w)))


@FEW
@given(st.floats(0.0, 300.0), st.floats(0.0, 300.0))
def test_hotel_load_ends_up_as_heat(hotel_w, more_w):
    less, more = heat_wh(sensible=True, hotel_w=(hotel_w, hotel_w + more_w))
    _more_heat(less, more)
    hours = scene().spec.rest.hours
    # Dry heat, since a coil that works harder is colder and also dries the air a little further.
    assert np.all(more - less <= more_w * hours * 1.001 + 1e-6)


@FEW
@given(st.floats(17.0, 26.0), st.floats(0.0, 3.0))
def test_a_lower_setpoint_never_saves(setpoint_c, lower_k):
    _more_heat(*heat_wh(setpoint_c=(setpoint_c, setpoint_c - lower_k)))


@FEW
@given(st.floats(0.0, 0.003), st.floats(0.0, 0.003))
def test_moist_people_never_dry_the_bunk(kg_per_h, more_kg_per_h):
    _more_heat(
        *heat_wh(people_moisture_kg_per_s=(kg_per_h / 3600.0, (kg_per_h + more_kg_per_h) / 3600.0))
    )


@FEW
@given(share)
def test_a_warm_engine_bay_never_cools(part):
    _more_heat(*heat_wh(soak_k=(40.0 * part, 40.0)))


@pytest.mark.parametrize("name", ["ua_scale", "leakage_scale"])
@FEW
@given(st.floats(0.3, 3.0), share)
def test_a_poorer_shell_lets_more_heat_in_on_hot_rests(name, scale, rise):
    """Where it is warmer outdoors than in; on a cool night a poor shell drains heat for free."""
    less, more = heat_wh(**{name: (scale, scale * (1.0 + rise))})
    place = scene()
    hours = np.arange(4.0)
    for index, day in enumerate(DAYS):
        at = np.round(place.start_h[day] + hours).astype(int)
        if place.forcing.temp_out_c[at].min() > place.spec.rest.setpoint_c + 2.0:
            assert more[index] >= less[index] * ROUNDING
