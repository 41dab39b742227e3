"""Who gets which task next: a worker goes on where it is, and keeps away from the others."""

import os
import time

import pytest

from restcab.runs.parallel import run_tasks
from restcab.runs.waiting import Waiting

GROUPS = ["north", "south", "north", "south", "west", "north"]


def test_a_worker_stays_with_its_group_while_others_are_at_theirs():
    waiting = Waiting(len(GROUPS), GROUPS)
    assert waiting.take(None, []) == 0
    assert waiting.take(None, [0]) == 1
    assert waiting.take(0, [1]) == 2
    assert waiting.take(1, [2]) == 3
    assert waiting.take(3, [2]) == 4  # south is done, north is taken
    assert waiting.take(2, [4]) == 5
    assert not waiting


def test_who_has_nothing_of_its_own_joins_the_longest_group_at_its_far_end():
    waiting = Waiting(6, ["short", "long", "long", "long", "short", "long"])
    assert [waiting.take(None, []), waiting.take(None, [0])] == [0, 1]
    assert waiting.take(None, [0, 1]) == 5
    assert waiting.take(1, [0, 5]) == 2


def test_a_task_put_back_is_given_out_before_its_group():
    waiting = Waiting(len(GROUPS), GROUPS)
    waiting.put_back(waiting.take(None, []))
    assert waiting.take(2, []) == 0
    last = Waiting(1, ["alone"])
    last.put_back(last.take(None, []))
    assert last
    assert last.take(None, []) == 0
    with pytest.raises(IndexError):
        last.take(None, [])


def test_without_groups_tasks_go_out_in_their_order():
    waiting = Waiting(4)
    assert [waiting.take(last, []) for last in (None, 0, None, 2)] == [0, 1, 2, 3]


def test_one_process_goes_from_group_to_group():
    found = {}
    run_tasks(abs, range(len(GROUPS)), found.__setitem__, groups=GROUPS)
    assert list(found) == [0, 2, 5, 1, 3, 4]


def pause(_: int) -> int:
    """Take long enough for another worker to come to work, and say who did it."""
    time.sleep(0.2)
    return os.getpid()


def test_the_tasks_of_a_group_are_done_in_one_process():
    groups, found = [0, 1] * 4, {}
    run_tasks(pause, range(8), found.__setitem__, jobs=2, groups=groups)
    # The first to begin may have to help the other at the end.
    at_home = {group: [found[at] for at in range(8) if groups[at] == group] for group in (0, 1)}
    shared = [len(set(workers)) for workers in at_home.values()]
    assert sorted(shared) in ([1, 1], [1, 2])
