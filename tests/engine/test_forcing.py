"""Values between the hours."""

from dataclasses import replace

import numpy as np
import pytest
from support import plain_forcing

from restcab.engine.forcing import Sampler, look_up, shines
from restcab.physics.compiled import compiled


def _with_sun(temp_out_c, heat_w, cyclic):
    forcing = plain_forcing(temp_out_c, cyclic=cyclic)
    heat = np.array([heat_w], dtype=float)
    solar = replace(
        forcing.solar, absorbed_w=heat, node=np.array([0]), surface=np.array([0]),
        opaque=np.array([True]), beam_in_w=2.0 * heat, diffuse_in_w=3.0 * heat,
    )  # fmt: skip
    return replace(forcing, solar=solar)


def test_state_is_read_at_its_label():
    sampler = Sampler(_with_sun([10.0, 20.0, 40.0], [0.0, 100.0, 0.0], cyclic=False))
    moment = sampler.at(np.array([0.0, 0.5, 1.25]))
    assert moment.temp_out_c == pytest.approx([10.0, 15.0, 25.0])


def test_hourly_means_sit_half_an_hour_before_their_label():
    sampler = Sampler(_with_sun([10.0, 20.0, 40.0], [0.0, 100.0, 0.0], cyclic=False))
    moment = sampler.at(np.array([0.5, 1.0, 0.0]))
    assert moment.absorbed_w[0] == pytest.approx([100.0, 50.0, 50.0])
    assert moment.beam_in_w[0] == pytest.approx([200.0, 100.0, 100.0])
    assert moment.diffuse_in_w[0] == pytest.approx([300.0, 150.0, 150.0])


def test_a_year_meets_its_beginning_and_a_log_holds_its_last_value():
    temps, none = [10.0, 20.0, 40.0], [0.0] * 3
    around = Sampler(_with_sun(temps, none, cyclic=True)).at(np.array([2.5, -1.0, 3.0]))
    held = Sampler(_with_sun(temps, none, cyclic=False)).at(np.array([2.5, -1.0, 3.0]))
    assert around.temp_out_c == pytest.approx([25.0, 40.0, 10.0])
    assert held.temp_out_c == pytest.approx([40.0, 10.0, 40.0])


def test_night_falls_and_ends_in_the_same_room():
    """Instants one after the other are those looked up afresh, through the dark and out of it."""
    heat = [0.0, 0.0, 0.0, 40.0, 100.0, 0.0, 0.0, 0.0]
    sampler = Sampler(_with_sun(np.linspace(10.0, 24.0, 8), heat, cyclic=True))
    starts = np.array([0.0, 0.25, 3.0])
    as_it_is = np.ones(3), np.zeros(3)
    room, weather = sampler.room(3), sampler.weather(starts, *as_it_is)
    one, of_one = sampler.room(1), sampler.weather(starts[:1], np.ones(1), np.zeros(1))
    lit = []
    for after_h in np.arange(0.0, 16.0, 1.0 / 3.0):
        compiled(look_up)(weather, after_h, room)
        compiled(look_up)(of_one, after_h, one)
        fresh = sampler.at(starts + after_h)
        for name, values in room.moment._asdict().items():
            np.testing.assert_allclose(values, getattr(fresh, name), atol=1e-12, err_msg=name)
        np.testing.assert_allclose(one.moment.absorbed_w[0], fresh.absorbed_w[0, :1], atol=1e-12)
        assert compiled(shines)(one.moment) == one.moment.absorbed_w.any()
        lit.append(bool(compiled(shines)(one.moment)))
    assert lit[0] is False
    assert 0 < sum(lit) < len(lit) / 2


@pytest.mark.parametrize("name", ["absorbed_w", "beam_in_w", "diffuse_in_w"])
def test_a_little_sun_anywhere_shines(name):
    moment = Sampler(_with_sun([10.0] * 3, [0.0] * 3, cyclic=True)).at(np.zeros(9))
    assert not compiled(shines)(moment)
    getattr(moment, name)[-1, -1] = 1e-9
    assert compiled(shines)(moment)
