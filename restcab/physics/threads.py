"""Compiled work on several cores at once: it holds no lock of Python's while it runs."""

import os
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from typing import TypeVar

LIMIT = "OMP_NUM_THREADS"
"""Variable of the environment that bounds the threads of a process, as for libraries of linear
algebra; the workers of a fleet, each on a core of its own, have it at 1."""
LINEAR_ALGEBRA = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""Variables for the threads of linear algebra alone. Ours is small: more than one wait for each
other, by turning, and a quarter of the processor's time goes into that."""

Piece = TypeVar("Piece")
Result = TypeVar("Result")


def available_cores() -> int:
    """Return how many cores this process may use, at least 1."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@cache
def cores() -> int:
    """Return how many of them the environment leaves to the threads of this process."""
    limit, allowed = os.environ.get(LIMIT, ""), available_cores()
    return min(int(limit), allowed) if limit.isdigit() and int(limit) > 0 else allowed


def side_by_side(work: Callable[[Piece], Result], pieces: Sequence[Piece]) -> Iterator[Result]:
    """Give the results of all pieces in their order, as many at a time as there are cores.

    Parameters
    ----------
    work
        Spends its time in compiled code, and writes to nothing that two pieces share.
    pieces
        What it is called with.

    Raises
    ------
    Exception
        What the work raised at the first piece that failed; pieces not begun are given up.
    """
    if cores() == 1 or len(pieces) == 1:
        yield from map(work, pieces)
        return
    from concurrent.futures import ThreadPoolExecutor

    pool = ThreadPoolExecutor(min(cores(), len(pieces)))
    try:
        yield from pool.map(work, pieces)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
