"""Room for arrays: where it begins, and that nothing else differs from an array as it comes."""

import numpy as np
import pytest

from restcab.physics.compiled import plain
from restcab.physics.room import in_room, room, zero_room

LINE_BYTES = 64


def address(values):
    return values.__array_interface__["data"][0]


@pytest.mark.parametrize("shape", [184, (3, 8), (10, 33, 184), (2, 0, 16), (0,)])
@pytest.mark.parametrize("dtype", [np.float64, np.bool_])
def test_it_begins_with_a_line_of_the_cache(shape, dtype):
    many = [room(shape, dtype) for _ in range(5)]
    for found in many:
        assert found.shape == np.empty(shape).shape
        assert found.dtype == dtype
        assert address(found) % LINE_BYTES == 0 or not found.size
        assert plain(found, dtype) is found  # compiled code takes it as it is


def test_so_does_each_row_of_a_multiple_of_eight_cases():
    found = room((4, 5, 24))
    assert {address(row) % LINE_BYTES for block in found for row in block} == {0}


def test_room_is_one_s_own():
    first, second = room((3, 8)), room((3, 8))
    first[:], second[:] = 1.0, 2.0
    assert (first == 1.0).all()
    assert (second == 2.0).all()


def test_it_is_filled_as_asked():
    assert not zero_room((3, 5)).any()
    values = np.broadcast_to(np.arange(4.0), (3, 4))
    copy = in_room(values)
    np.testing.assert_array_equal(copy, values)
    copy[0, 0] = 9.0
    assert values[0, 0] == 0.0
    assert address(copy) % LINE_BYTES == 0
