"""Spreading independent pieces of work over processes, or over a Dask cluster.

The pieces are the same however they are spread, so the results are too. Each result is handed
over as it comes, so that what is finished stays finished when the run is stopped.
"""

import asyncio
import os
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from importlib import import_module
from typing import Any, TypeVar

from restcab.errors import InputError, Problem, RestcabError
from restcab.runs.crew import Crew, WorkerLostError

_Task = TypeVar("_Task")
_Done = TypeVar("_Done")

CLUSTER_TIMEOUT_S = 5.0
"""A scheduler that answers at all does so within a second, across a continent too."""


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
    WorkerLostError
        Two processes died over the same task.
    InputError
        The cluster cannot be reached, or Dask is not installed.
    """
    errors: dict[int, RestcabError] = {}

    def take(index: int, result: _Done | RestcabError) -> None:
        if isinstance(result, RestcabError):
            errors[index] = result
        else:
            keep(index, result)

    if cluster is not None:
        for index, result in _on_cluster(work, tasks, cluster):
            take(index, result)
    elif jobs > 1 and len(tasks) > 1:
        _in_processes(work, tasks, jobs, take)
    else:
        for index, task in enumerate(tasks):
            take(index, _caught(work, task))
    if errors:
        raise errors[min(errors)]


def _caught(work: Callable[[_Task], _Done], task: _Task) -> "_Done | RestcabError":
    """Return a user's error instead of raising it: the other tasks go on."""
    try:
        return work(task)
    except RestcabError as error:
        return error


def _in_processes(
    work: Callable[[_Task], _Done],
    tasks: Sequence[_Task],
    jobs: int,
    take: Callable[[int, "_Done | RestcabError"], None],
) -> None:
    """Run the tasks in fresh processes; when stopped, what they had finished is taken first."""
    with Crew(partial(_caught, work), tasks, jobs) as crew:
        try:
            for index, result in crew.results():
                take(index, result)
        except BaseException:
            for index, result in crew.finished():
                take(index, result)
            raise


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
        # Asked first without a client, which would go on trying for a minute after it gave up.
        asyncio.run(_knock(distributed, address))
        client = distributed.Client(address, timeout=CLUSTER_TIMEOUT_S, set_as_default=False)
    except Exception as error:  # who answers there may be anybody, and send anything
        what = f"{address!r} cannot be reached: {str(error) or type(error).__name__}"
        allowed = "the address of a Dask scheduler, such as tcp://host:8786"
        raise InputError(Problem("--cluster", what, allowed)) from error
    with client:
        futures = {
            client.submit(_caught, work, task, pure=False): i for i, task in enumerate(tasks)
        }
        for future in distributed.as_completed(futures, loop=client.loop):
            yield futures[future], _result(distributed, future)


async def _knock(distributed: Any, address: str) -> None:
    """Shake hands with a scheduler and leave."""
    comm = await distributed.core.connect(address, timeout=CLUSTER_TIMEOUT_S)
    await comm.close()


def _result(distributed: Any, future: Any) -> Any:
    """Result of a piece; one that the cluster lost is an error of that piece."""
    try:
        return future.result()
    except (asyncio.CancelledError, OSError, distributed.KilledWorker) as error:
        return WorkerLostError(
            f"the cluster lost a piece of work: {str(error) or 'no reason given'}"
        )
