"""Tasks done in processes of this machine; one that dies costs its task a second try, not the run.

The standard library's pool is broken as a whole once one of its processes is killed. Here each
worker has a pipe of its own, so it is known which task it was at.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
from collections import deque
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from multiprocessing.connection import wait
from typing import TYPE_CHECKING, Any, TypeVar

from ridelab.pipeline.executing import Lost
from ridelab.pipeline.parcels import parcel_room

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from multiprocessing.connection import Connection
    from multiprocessing.context import SpawnProcess
    from pathlib import Path

T = TypeVar("T")
R = TypeVar("R")
Numbered = tuple[int, Any]

#: Spawned, not forked: forks of a process with threads, as polars and DuckDB have, may hang.
_START = multiprocessing.get_context("spawn")
#: The workers are the parallel part: threads of their own would only be in each other's way.
_ENVIRONMENT = {"POLARS_MAX_THREADS": "1"}
_TRIES = 2


@dataclass
class _Worker:
    """A process, our end of its pipe, and the tasks it has, that which it is at first."""

    process: SpawnProcess
    pipe: Connection
    given: deque[Numbered] = field(default_factory=deque)

    def send(self, message: object) -> None:
        """Send; that a worker is dead is found out when its result is due."""
        with suppress(OSError):
            self.pipe.send(message)


@dataclass
class _Job:
    """What is to be done: the work, the tasks not given out, and those whose worker died."""

    work: bytes
    tasks: Iterator[Numbered]
    ahead: int
    again: deque[Numbered] = field(default_factory=deque)
    deaths: dict[int, int] = field(default_factory=dict)

    def give(self, worker: _Worker) -> None:
        """Hand a worker tasks until ``ahead`` are waiting at it beside the one it is at."""
        while len(worker.given) <= self.ahead:
            task = self.again.popleft() if self.again else next(self.tasks, None)
            if task is None:
                return
            worker.given.append(task)
            worker.send(task)


class Processes:
    """An ``Executor`` over processes of this machine, started when they are needed first."""

    def __init__(self, workers: int, store: Path) -> None:
        """``store``: beside which parcels lie."""
        self._count, self._store = workers, store
        self._workers: list[_Worker] = []
        self._closing = ExitStack()
        self._folder: Path | None = None

    def folder(self) -> Path:
        """Where tasks leave their parcels."""
        if self._folder is None:
            self._folder = self._closing.enter_context(parcel_room(self._store))
        return self._folder

    @property
    def running(self) -> bool:
        """Whether the workers are there already."""
        return bool(self._workers)

    def results(
        self, work: Callable[[T], R], tasks: Iterable[T], ahead: int = 1
    ) -> Iterator[tuple[int, R | Lost]]:
        """Yield results as they are done; see ``Executor``."""
        job = _Job(pickle.dumps(work), enumerate(tasks), ahead)
        self._start(job)
        finished = False
        try:
            while busy := self._busy(job):
                for worker in _ready(busy):
                    yield from self._received(worker, job)
            finished = True
        finally:
            if not finished:
                self._end()  # what they are still at belongs to nobody

    def pids(self) -> list[int]:
        """Return the numbers of the processes that run now."""
        return [worker.process.pid for worker in self._workers if worker.process.pid]

    def close(self) -> None:
        """End all workers, and remove what they left."""
        self._end()
        self._closing.close()
        self._folder = None

    def _end(self) -> None:
        for worker in self._workers:
            worker.process.terminate()
            worker.pipe.close()
        for worker in self._workers:
            worker.process.join()
        self._workers.clear()

    def _start(self, job: _Job) -> None:
        while len(self._workers) < self._count:
            self._workers.append(_started())
        for worker in self._workers:
            worker.send(job.work)

    def _busy(self, job: _Job) -> list[_Worker]:
        for worker in self._workers:
            job.give(worker)
        return [worker for worker in self._workers if worker.given]

    def _received(self, worker: _Worker, job: _Job) -> Iterator[tuple[int, Any]]:
        """Yield the next result of a worker, or raise what its task raised."""
        try:
            succeeded, result = worker.pipe.recv()
        except (EOFError, OSError):
            yield from self._replaced(worker, job)
            return
        number, _ = worker.given.popleft()
        if not succeeded:
            raise result
        yield number, result

    def _replaced(self, dead: _Worker, job: _Job) -> Iterator[tuple[int, Lost]]:
        """Start a worker for one that died; its task is done again, once."""
        dead.process.join()
        dead.pipe.close()
        self._workers[self._workers.index(dead)] = new = _started()
        new.send(job.work)
        number, _ = dead.given[0]
        job.deaths[number] = job.deaths.get(number, 0) + 1
        if job.deaths[number] == _TRIES:
            dead.given.popleft()
            yield number, Lost(_how(dead.process.exitcode))
        job.again.extend(dead.given)


def _ready(busy: list[_Worker]) -> list[_Worker]:
    by_pipe = {worker.pipe: worker for worker in busy}
    return [by_pipe[pipe] for pipe in wait(list(by_pipe)) if pipe in by_pipe]


def _started() -> _Worker:
    ours, theirs = _START.Pipe()
    process = _START.Process(target=_serve, args=(theirs,), daemon=True)
    with _quietly():
        process.start()
    theirs.close()
    return _Worker(process, ours)


@contextmanager
def _quietly() -> Iterator[None]:
    """Start processes that leave Ctrl-C, which a terminal sends to all of them, to this one."""
    kept = {name: os.environ.get(name) for name in _ENVIRONMENT}
    os.environ.update(_ENVIRONMENT)
    blocked = hasattr(signal, "pthread_sigmask")
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT}) if blocked else set()
    try:
        yield
    finally:
        if blocked:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
        for name, value in kept.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def _serve(pipe: Connection) -> None:
    """Do the tasks that come through a pipe until it ends, as it does when the parent is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    work: Callable[[Any], Any] | None = None
    with suppress(EOFError, OSError):
        while True:
            message = pipe.recv()
            if isinstance(message, bytes):
                work = pickle.loads(message)  # noqa: S301 - our parent sent it
            elif work is not None:
                pipe.send(attempted(work, message[1]))


def attempted(work: Callable[[Any], Any], task: object) -> tuple[bool, Any]:
    """Return whether a task succeeded, and its result or what it raised, fit to be sent."""
    try:
        return True, work(task)
    except Exception as error:  # noqa: BLE001 - raised again where the results go
        return False, _sendable(error)


def _sendable(error: Exception) -> Exception:
    """Return an error that survives the way through a pipe, with what happened as its note."""
    import traceback

    error.add_note("".join(traceback.format_exception(error)))
    try:
        pickle.loads(pickle.dumps(error))  # noqa: S301 - pickled in this line
    except Exception:  # noqa: BLE001 - any error may refuse, in any way
        return RuntimeError(f"{type(error).__name__}: {error}")
    return error


def _how(exitcode: int | None) -> str:
    """Say how a process ended."""
    if exitcode is None or exitcode >= 0:
        return f"ended with exit code {exitcode}"
    name = signal.strsignal(-exitcode) or f"signal {-exitcode}"
    return f"was killed ({name.lower()})"
