"""What is promised of compiled functions, and what that is good for."""

import numpy as np
import pytest
from numba.core.errors import NumbaError

from restcab import userdir
from restcab.physics.arrays import exp, where
from restcab.physics.compiled import apart, compiled, written_out


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    """Code is made in this process, which alone can be looked into."""
    monkeypatch.setenv(userdir.DIRECTORY_VARIABLE, str(tmp_path))


def words_of(entry):
    """All that an entry was translated to, in LLVM's words."""
    return "\n".join(compiled(entry).inspect_llvm().values())


def add_both(values, first, second):
    for case in range(values.size):
        first[case] += values[case]
        second[case] += 2.0 * values[case]


def call_add_both(values, totals):
    add_both(values, totals[0], totals[1])


def add_both_apart(values, first, second):
    for case in range(values.size):
        first[case] += values[case]
        second[case] += 2.0 * values[case]


add_both_apart.__module__ = add_both.__module__ = "restcab.test"
apart(add_both_apart)


def call_add_both_apart(values, totals):
    add_both_apart(values, totals[0], totals[1])


@pytest.mark.parametrize(
    ("entry", "looks_first"), [(call_add_both, True), (call_add_both_apart, False)]
)
def test_a_promise_spares_the_look_where_arrays_lie(entry, looks_first):
    totals = np.zeros((2, 50))
    compiled(entry)(np.ones(50), totals)
    assert totals[0] == pytest.approx(1.0)
    assert totals[1] == pytest.approx(2.0)
    assert ("vector.memcheck" in words_of(entry)) == looks_first


def warm(temp_c):
    """Too long to be put into a loop four times, if that is left to the compiler."""
    return where(temp_c > 0.0, exp(temp_c) * exp(2.0 * temp_c) / exp(3.0 * temp_c), 0.0)


def warm_all(values, found):
    for case in range(values.size):
        here = values[case]
        found[case] = warm(here) + warm(-here) + warm(2.0 * here) + warm(-2.0 * here)


warm.__module__ = warm_all.__module__ = "restcab.test"
apart(warm_all)


def call_warm_all(values, found):
    warm_all(values, found)


def test_what_a_row_asks_of_one_case_is_put_into_its_loop():
    found = np.zeros(50)
    compiled(call_warm_all)(np.linspace(-1.0, 1.0, 50), found)
    assert found == pytest.approx(2.0)
    words = words_of(call_warm_all)
    assert "x double>" in words  # several cases at a time
    assert not [line for line in words.splitlines() if "call" in line and "warmB" in line]


def make_one(values):
    values[:] = np.zeros(values.size)


def test_compiled_functions_make_no_arrays():
    with pytest.raises(NumbaError):
        compiled(make_one)(np.ones(3))


def halves(values):
    return values[: values.size // 2]


def take_half(values):
    found = halves(values)
    found[0] = 7.0


halves.__module__ = "restcab.test"
written_out(halves)


def test_a_part_of_an_array_comes_from_what_is_written_out():
    values = np.ones(4)
    compiled(take_half)(values)
    assert values.tolist() == [7.0, 1.0, 1.0, 1.0]


def test_no_references_are_counted():
    values = np.ones(4)
    compiled(take_half)(values)
    assert "NRT_incref" not in words_of(take_half)
