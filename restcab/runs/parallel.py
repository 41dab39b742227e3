"""Spreading independent pieces of work over processes, or over a Dask cluster.

The pieces are the same however they are spread, so the results are too. Each result is handed
over as it comes, so that what is finished stays finished when the run is stopped.
"""

import asyncio
import logging
import time
from collections.abc import Callable, Hashable, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager
from functools import partial
from importlib import import_module
from typing import Any, TypeVar

from restcab.errors import InputError, Problem, RestcabError
from restcab.runs.crew import Crew, WorkerLostError
from restcab.runs.waiting import Waiting

_Task = TypeVar("_Task")
_Done = TypeVar("_Done")

CLUSTER_TIMEOUT_S = 5.0
"""To be connected, and again to be greeted: a scheduler that answers at all does so within a
second, across a continent too."""
WORKERLESS_S = 300.0
"""Time that a cluster may be without a worker, or a scheduler without a word: hired machines take
some minutes to start."""
_POLL_S = 0.05


def run_tasks(
    work: Callable[[_Task], _Done],
    tasks: Sequence[_Task],
    keep: Callable[[int, _Done], None],
    *,
    jobs: int = 1,
    cluster: str | None = None,
    groups: Sequence[Hashable] | None = None,
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
    groups
        What each task has in common with others, so that one process does them one after another;
        by default nothing. A scheduler has its own way.

    Raises
    ------
    RestcabError
        The first error of a task in their order, after all others are done.
    WorkerLostError
        Two processes died over the same task, or the cluster is gone or has no worker.
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
        _in_processes(work, tasks, jobs, groups, take)
    else:
        waiting, last = Waiting(len(tasks), groups), None
        while waiting:
            last = waiting.take(last, ())
            take(last, _caught(work, tasks[last]))
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
    groups: Sequence[Hashable] | None,
    take: Callable[[int, "_Done | RestcabError"], None],
) -> None:
    """Run the tasks in fresh processes; when stopped, what they had finished is taken first."""
    with Crew(partial(_caught, work), tasks, jobs, groups) as crew:
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
    with _without_logs("distributed"), client:
        futures = {
            client.submit(_caught, work, task, pure=False): i for i, task in enumerate(tasks)
        }
        done = distributed.as_completed(futures, loop=client.loop)
        while _something_comes(client, done):
            future = next(done)
            yield futures[future], _result(distributed, future)


def _something_comes(client: Any, done: Any) -> bool:
    """Wait for the next piece; False if there is none left.

    Raises
    ------
    WorkerLostError
        There is nobody to work on it, or a scheduler that stands still: Dask itself would wait
        for ever.
    """
    last_seen = time.monotonic()
    while not done.is_empty():
        if done.has_ready():
            return True
        # Without a connection there is nothing to be seen, and Dask gives up by itself.
        if client.status != "running" or _workers(client):
            last_seen = time.monotonic()
        if time.monotonic() - last_seen > WORKERLESS_S:
            what = f"the cluster has had no worker for {WORKERLESS_S:.0f} s"
            raise WorkerLostError(f"{what}. What was finished is kept.")
        time.sleep(_POLL_S)
    return False


def _workers(client: Any) -> dict[str, Any]:
    """What the scheduler knows of its workers; none where the connection has just been lost."""
    try:
        identity = client.sync(client.scheduler.identity, callback_timeout=WORKERLESS_S)
    except TimeoutError as error:
        raise _silent() from error
    except OSError:
        return {}
    workers: dict[str, Any] = identity["workers"]
    return workers


def _silent() -> WorkerLostError:
    """What is said of a scheduler that stands still."""
    what = f"the scheduler of the cluster has not answered for {WORKERLESS_S:.0f} s"
    return WorkerLostError(f"{what}. What was finished is kept.")


@contextmanager
def _without_logs(name: str) -> Iterator[None]:
    """Keep a library's own words from the terminal: what they mean is said in one message."""
    loggers = [
        logging.getLogger(each)
        for each in list(logging.root.manager.loggerDict)
        if each == name or each.startswith(f"{name}.")
    ]
    levels = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for logger, level in zip(loggers, levels, strict=True):
            logger.setLevel(level)


async def _knock(distributed: Any, address: str) -> None:
    """Shake hands with a scheduler and leave.

    Raises
    ------
    TimeoutError
        Somebody takes the connection and says nothing: Dask itself would listen for ever.
    """
    connecting = distributed.core.connect(address, timeout=CLUSTER_TIMEOUT_S)
    try:
        comm = await asyncio.wait_for(connecting, 2.0 * CLUSTER_TIMEOUT_S)
    except TimeoutError as error:
        raise TimeoutError(f"no greeting within {2.0 * CLUSTER_TIMEOUT_S:.0f} s") from error
    await comm.close()


def _result(distributed: Any, future: Any) -> Any:
    """Result of a piece; one that the cluster lost is an error of that piece."""
    try:
        return future.result(timeout=WORKERLESS_S)  # it is there already, and has to be fetched
    except distributed.KilledWorker:
        what = "workers of the cluster died over a piece of work; often their memory is short"
        return WorkerLostError(f"{what}. What else was finished is kept.")
    except TimeoutError:
        return _silent()
    except (asyncio.CancelledError, CancelledError, OSError) as error:
        # Dask's words: which piece, why, and on a further line advice to its programmer.
        reason = str(error).partition("\n")[0].rpartition(" reason: ")[2].rstrip(".")
        what = f"the cluster was lost while it worked ({reason or 'no reason given'})"
        return WorkerLostError(f"{what}. What was finished is kept.")
