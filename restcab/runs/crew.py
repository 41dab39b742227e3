"""A few processes that work off tasks and never outlive, nor bring down, the one that hired them.

Each worker has a pipe to the parent and holds one task at a time. A worker that dies (killed, out
of memory) is replaced and its task given out once more. If the parent goes, however it goes, its
workers notice and go too; if it stops them, what they had finished is still handed over.
"""

import os
import signal
import threading
import traceback
from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import contextmanager, suppress
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Any

from restcab.errors import RestcabError
from restcab.physics import threads
from restcab.runs.waiting import Waiting

THREAD_VARIABLES = (threads.LIMIT, *threads.LINEAR_ALGEBRA)
"""Threads of the engine and of linear algebra: one for each worker."""
_TRIES = 2
"""Workers that may die over one task: one may be an accident, two are the task's doing."""
_STILLBORN = 4
"""Workers for each process that may die before any of them has finished anything."""
_GRACE_S = 2.0
"""Time a worker gets to end before it is killed."""
_ORPHAN = 1
"""Exit code of a worker whose parent has gone; nobody is left to read it."""


class WorkerLostError(RestcabError):
    """Processes that worked on a task died: says how, and what may help."""


class TaskError(Exception):
    """The traceback of an error in a worker, as the cause of that error here."""


class _Worker:
    """One process, its pipe, and the task it holds."""

    def __init__(self, work: Callable[[Any], Any]) -> None:
        context = get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self.process: BaseProcess = context.Process(target=_serve, args=(work, theirs), daemon=True)
        with _interrupts_held_back():
            self.process.start()
        theirs.close()
        self.task: int | None = None
        self.last: int | None = None

    def give(self, index: int, task: Any) -> None:
        """Hand out a task; a worker that has died meanwhile is found by its closed pipe."""
        self.task = self.last = index
        with suppress(BrokenPipeError, ConnectionResetError):
            self.pipe.send(task)

    def take(self) -> tuple[bool, Any] | None:
        """Return what it sent, or None if it died."""
        try:
            answer: tuple[bool, Any] = self.pipe.recv()
        except (EOFError, ConnectionResetError):
            return None
        return answer

    def stop(self) -> None:
        """End the process, whatever it does."""
        self.process.terminate()
        self.process.join(_GRACE_S)
        if self.process.exitcode is None:
            self.process.kill()
            self.process.join()
        self.pipe.close()


class Crew:
    """Processes at work on a list of tasks; a context that leaves none of them behind.

    Parameters
    ----------
    work
        A function of a module: it travels to the workers by name.
    tasks
        What it is called with; they and the results must survive pickling.
    jobs
        Processes.
    groups
        What each task has in common with others, as for `Waiting`; by default nothing.
    """

    def __init__(
        self, work: Callable[[Any], Any], tasks: Sequence[Any], jobs: int,
        groups: Sequence[Hashable] | None = None,
    ) -> None:  # fmt: skip
        self._work, self._tasks = work, tasks
        self._waiting = Waiting(len(tasks), groups)
        self._deaths = dict.fromkeys(range(len(tasks)), 0)
        self._jobs, self._heard_of_any = min(jobs, len(tasks)), False
        self._workers: list[_Worker] = []

    def __enter__(self) -> "Crew":
        return self

    def __exit__(self, *_: object) -> None:
        for worker in self._workers:
            worker.process.terminate()  # all at once: they end side by side
        for worker in self._workers:
            worker.stop()
        self._workers.clear()

    def results(self) -> Iterator[tuple[int, Any]]:
        """Give index and result of each task as it comes.

        Raises
        ------
        Exception
            What the work raised, with its traceback there as the cause.
        """
        while len(self._workers) < self._jobs:
            self._hire()
        while any(worker.task is not None for worker in self._workers):
            at_work = {worker.pipe: worker for worker in self._workers if worker.task is not None}
            for pipe in wait(list(at_work)):
                assert isinstance(pipe, Connection)
                yield from self._heard(at_work[pipe])

    def finished(self) -> Iterator[tuple[int, Any]]:
        """Give what is ready now and has not been taken; to be asked before the crew is stopped."""
        for worker in self._workers:
            if worker.task is not None and worker.pipe.poll():
                answer = worker.take()
                if answer is not None and answer[0]:
                    index, worker.task = worker.task, None
                    yield index, answer[1]

    def _hire(self) -> None:
        if self._waiting:
            with _single_threaded():
                worker = _Worker(self._work)
            self._workers.append(worker)
            self._give_next(worker)

    def _give_next(self, worker: _Worker) -> None:
        worker.task = None
        if self._waiting:
            others = [each.task for each in self._workers if each.task is not None]
            index = self._waiting.take(worker.last, others)
            worker.give(index, self._tasks[index])

    def _heard(self, worker: _Worker) -> Iterator[tuple[int, Any]]:
        """Take what a worker sent, or bury it."""
        index = worker.task
        assert index is not None
        answer = worker.take()
        if answer is None:
            yield from self._replace(worker, index)
            return
        self._heard_of_any = True
        self._give_next(worker)
        is_result, value = answer
        if not is_result:
            error, text = value
            raise error from TaskError(f"in a worker process\n{text}")
        yield index, value

    def _replace(self, worker: _Worker, index: int) -> Iterator[tuple[int, Any]]:
        """Put another worker in the place of one that died, and its task back once.

        Where every worker dies before any has done anything, it is no task's doing.
        """
        worker.stop()
        self._workers.remove(worker)
        self._deaths[index] += 1
        if not self._heard_of_any and sum(self._deaths.values()) >= _STILLBORN * self._jobs:
            raise WorkerLostError(_stillborn(worker.process.exitcode))
        if self._deaths[index] < _TRIES:
            self._waiting.put_back(index)
        else:
            yield index, WorkerLostError(_obituary(worker.process.exitcode))
        self._hire()


def _obituary(exit_code: int | None) -> str:
    return (
        f"a worker process ended {_how(exit_code)} while it worked, and so did the one that tried "
        "again; often memory is short: fewer processes (--jobs) need less. What else was finished "
        "is kept."
    )


def _stillborn(exit_code: int | None) -> str:
    return (
        f"no worker process came to anything, the last ended {_how(exit_code)}: memory may be "
        "short, so that fewer processes (--jobs) would do; or a script that calls restcab runs "
        "again in each of them, unless it begins with: if __name__ == '__main__':"
    )


def _how(exit_code: int | None) -> str:
    """How a process ended."""
    if exit_code is not None and exit_code < 0:
        with suppress(ValueError):
            return f"by signal {signal.Signals(-exit_code).name}"
    return f"with exit code {exit_code}"


def _serve(work: Callable[[Any], Any], pipe: Connection) -> None:
    """Work off what comes through the pipe until it closes: the life of a worker."""
    # Ctrl-C reaches the whole process group; only the parent may decide what it means.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_follow_parent, daemon=True).start()
    with suppress(EOFError, BrokenPipeError, ConnectionResetError):
        while True:
            task = pipe.recv()
            try:
                pipe.send((True, work(task)))
            except (EOFError, BrokenPipeError, ConnectionResetError):
                raise
            except Exception as error:
                _send_error(pipe, error)


def _send_error(pipe: Connection, error: Exception) -> None:
    text = traceback.format_exc()
    try:
        pipe.send((False, (error, text)))
    except (BrokenPipeError, ConnectionResetError):
        raise
    except Exception:  # it does not survive pickling
        pipe.send((False, (RuntimeError(f"{type(error).__name__}: {error}"), text)))


def _follow_parent() -> None:
    """End this process when its parent has: a killed parent can stop nobody."""
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(_ORPHAN)


@contextmanager
def _interrupts_held_back() -> Iterator[None]:
    """Let a process be born deaf to Ctrl-C; one that comes meanwhile reaches this process after."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def _single_threaded() -> Iterator[None]:
    """Let processes born meanwhile use one thread each for linear algebra."""
    before = {name: os.environ.get(name) for name in THREAD_VARIABLES}
    os.environ.update(dict.fromkeys(THREAD_VARIABLES, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
