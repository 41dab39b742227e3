"""Spreading independent pieces of work over processes, or over a Dask cluster.

The pieces are the same however they are spread, so the results are too. Each result is handed
over as it comes, so that what is finished stays finished when the run is stopped.
"""

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from importlib import import_module
from multiprocessing import get_context
from typing import Any, TypeVar

from restcab.errors import InputError, Problem, RestcabError

_Task = TypeVar("_Task")
_Done = TypeVar("_Done")

_THREAD_VARIABLES = (
    "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS",
)  # fmt: skip


def available_cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def run_tasks(
    work: Callable[[_Task], _Done],
    tasks: Sequence[_Task],
    keep: Callable[[int, _Done], None],
    *,
    jobs: int = 1,
    cluster: str | None = None,
) -> None:
    """Run all tasks and hand over each result as it comes.

    Parameters
    ----------
    work
        A function of a module: it travels to other processes by name.
    tasks
        What it is called with; they and the results must survive pickling.
    keep
        Called in this process with the index of a task and its result, in any order.
    jobs
        Processes; 1 works in this one.
    cluster
        Address of a Dask scheduler to use instead.

    Raises
    ------
    RestcabError
        The first error of a task in their order, after all others are done.
    InputError
        The cluster cannot be reached, or Dask is not installed.
    """
    if cluster is not None:
        results = _on_cluster(work, tasks, cluster)
    elif jobs > 1 and len(tasks) > 1:
        results = _in_processes(work, tasks, min(jobs, len(tasks)))
    else:
        results = ((index, _caught(work, task)) for index, task in enumerate(tasks))
    errors: dict[int, RestcabError] = {}
    for index, result in results:
        if isinstance(result, RestcabError):
            errors[index] = result
        else:
            keep(index, result)
    if errors:
        raise errors[min(errors)]


def _caught(work: Callable[[_Task], _Done], task: _Task) -> "_Done | RestcabError":
    """Return a user's error instead of raising it: the other tasks go on."""
    try:
        return work(task)
    except RestcabError as error:
        return error


def _in_processes(
    work: Callable[[_Task], _Done], tasks: Sequence[_Task], jobs: int
) -> Iterator[tuple[int, "_Done | RestcabError"]]:
    """Results of a pool of fresh processes, as they come."""
    with _single_threaded(), ProcessPoolExecutor(
        jobs, mp_context=get_context("spawn"), initializer=_ignore_interrupts
    ) as pool:  # fmt: skip
        waiting = {pool.submit(_caught, work, task): i for i, task in enumerate(tasks)}
        try:
            while waiting:
                yield from _finished(waiting)
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise


def _finished(waiting: "dict[Future[Any], int]") -> Iterator[tuple[int, Any]]:
    """Take the futures that are done out of those waited for."""
    done, _ = wait(waiting, return_when=FIRST_COMPLETED)
    for future in sorted(done, key=waiting.__getitem__):
        yield waiting.pop(future), future.result()


def _ignore_interrupts() -> None:
    # Ctrl-C reaches the whole process group; only the parent may decide what it means.
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def _single_threaded() -> Iterator[None]:
    """Let processes born meanwhile use one thread each for linear algebra."""
    before = {name: os.environ.get(name) for name in _THREAD_VARIABLES}
    os.environ.update(dict.fromkeys(_THREAD_VARIABLES, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def _on_cluster(
    work: Callable[[_Task], _Done], tasks: Sequence[_Task], address: str
) -> Iterator[tuple[int, "_Done | RestcabError"]]:
    """Results of a Dask cluster, as they come."""
    try:
        distributed = import_module("distributed")
    except ImportError as error:
        raise InputError(
            Problem("--cluster", "Dask is not installed", "pip install 'restcab[cluster]'")
        ) from error
    try:
        client = distributed.Client(address, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        what = f"{address!r} cannot be reached: {error}"
        allowed = "the address of a Dask scheduler, such as tcp://host:8786"
        raise InputError(Problem("--cluster", what, allowed)) from error
    with client:
        futures = {
            client.submit(_caught, work, task, pure=False): i for i, task in enumerate(tasks)
        }
        for future in distributed.as_completed(futures, loop=client.loop):
            yield futures[future], future.result()
