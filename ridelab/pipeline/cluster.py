"""Tasks done by the workers of a Dask cluster; a worker that dies costs its tasks another try.

Nothing but small messages goes through the scheduler: rides go as parcels, in a folder that all
machines share or in a lake. Workers must be of the same ridelab, Python and polars, as objects are
sent to them, and must see the same files.
"""

from __future__ import annotations

import math
import pickle
import platform
import time
import warnings
from concurrent.futures import CancelledError
from contextlib import ExitStack
from dataclasses import dataclass
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any, TypeVar

import ridelab
from ridelab.errors import ClusterError
from ridelab.pipeline.connecting import ask_all, connected, gone
from ridelab.pipeline.executing import Lost
from ridelab.pipeline.lake_tables import complete
from ridelab.pipeline.parcels import parcel_room
from ridelab.pipeline.processes import attempted
from ridelab.pipeline.visible import MarkedFolder, MarkedLake

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from distributed import Client, Future

    from ridelab.pipeline.lake import Lake
    from ridelab.pipeline.visible import Visible
    from ridelab.store import Store

T = TypeVar("T")
R = TypeVar("R")

#: How long a cluster may stay without a worker while tasks wait for one.
_NO_WORKER_S = 30.0
#: How often it is looked whether the cluster is still there, while nothing is done.
_LOOK_EVERY_S = 2.0


#: Runs that this process, a worker, has been found fit for.
_FIT: set[tuple[tuple[str, ...], tuple[Visible, ...]]] = set()


@dataclass(frozen=True)
class _Held:
    """What all tasks of a job share, and what must hold where they are done."""

    work: Callable[[Any], Any]
    versions: tuple[str, ...]
    visible: tuple[Visible, ...]


class Cluster:
    """An ``Executor`` over the workers of a Dask scheduler."""

    def __init__(self, client: Client, address: str, store: Path, lake: Lake | None = None) -> None:
        """``store``: beside which parcels lie, unless there is a lake, where workers see them."""
        self._client, self._address, self._store, self._lake = client, address, store, lake
        self._closing = ExitStack()
        self._folder: Path | None = None
        self._visible: tuple[Visible, ...] = ()

    @classmethod
    def at(cls, address: str, store: Path, lake: Lake | None = None) -> Cluster:
        """Connect to a scheduler whose workers can do our tasks, and leave rides in a lake.

        Raises:
            UsageError, ClusterError: as of ``connected``; or a worker of another version, or one
                that does not see the lake.
            RemoteError: the lake cannot be written into.
        """
        found = cls(connected(address), address, store, lake)
        try:
            found.must_see()
            if lake is not None:
                marked = MarkedLake.of(lake)
                found._closing.callback(marked.remove)
                found.must_see(marked)
        except BaseException:
            found.close()
            raise
        return found

    @property
    def slots(self) -> int:
        """How many tasks its workers do at once now.

        Raises:
            ClusterError: the scheduler went away.
        """
        try:
            return sum(self._client.nthreads().values())
        except OSError as error:
            raise gone(self._address) from error

    def folder(self) -> Path | Lake:
        """Where tasks leave their parcels.

        Raises:
            ClusterError: a worker does not see it.
        """
        if self._lake is not None:
            return self._lake
        if self._folder is None:
            self._folder = self._closing.enter_context(parcel_room(self._store))
            self.must_see(MarkedFolder.of(self._folder))
        return self._folder

    def must_see(self, *visible: Visible) -> None:
        """Refuse workers, now or later, of other versions, or that do not see the same files.

        Raises:
            ClusterError: there is one, and why.
        """
        self._visible += visible
        asked = (_versions(), self._visible)
        for worker, odd in ask_all(self._client, self._address, _fault, *asked).items():
            if odd:
                raise _unfit(worker, odd)

    def results(
        self, work: Callable[[T], R], tasks: Iterable[T], ahead: int = 1
    ) -> Iterator[tuple[int, R | Lost]]:
        """Yield results as they are done; see ``Executor``.

        Raises:
            ClusterError: the scheduler went away, or all workers did and none came back; or a
                worker has come that is of no use.
        """
        job = _Job(self._client, _Held(work, _versions(), self._visible))
        waiting = enumerate(tasks)
        looked, most = -math.inf, 0
        try:
            while True:
                if time.monotonic() > looked + _LOOK_EVERY_S:  # workers come and go
                    looked, most = time.monotonic(), max(self.slots, 1) * (1 + ahead)
                while len(job.numbers) < most and (task := next(waiting, None)) is not None:
                    job.give(*task)
                if not job.numbers:
                    return
                yield self._done(job)
        finally:
            job.end()

    def complete(self, store: Store) -> None:
        """See that the lake, if there is one, has all that the store has.

        Raises:
            RemoteError: it cannot be read or written.
        """
        if self._lake is not None:
            complete(self._lake, store)

    def close(self) -> None:
        """Leave the workers to others, and remove what they left."""
        self._closing.close()
        self._client.close()

    def _done(self, job: _Job) -> tuple[int, Any]:
        """Return the next result, as long as there is anybody to work it out."""
        alone_since: float | None = None
        while True:
            try:
                return job.next_done(_LOOK_EVERY_S)
            except Empty:
                alone_since = self._alone(alone_since)
            except CancelledError as error:
                raise gone(self._address) from error

    def _alone(self, since: float | None) -> float | None:
        """Return since when no worker has been there."""
        if self.slots:
            return None
        now = time.monotonic()
        if since is not None and now - since > _NO_WORKER_S:
            raise ClusterError(
                f"{self._address}: all workers went away, and none has come back for "
                f"{_NO_WORKER_S:.0f} s; what was stored stays stored"
            )
        return since or now


class _Job:
    """Tasks under way: their futures, and the numbers they had."""

    def __init__(self, client: Client, held: _Held) -> None:
        self._client = client
        # as the result of a task, not as data: what is lost with a worker is made anew
        self._held = client.submit(pickle.loads, pickle.dumps(held), pure=False)
        self._done: SimpleQueue[Future] = SimpleQueue()
        self._futures: dict[str, Future] = {}
        self.numbers: dict[str, int] = {}

    def give(self, number: int, task: object) -> None:
        """Hand the cluster a task, as bytes, which it does not look into."""
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of a task that is large, as a vehicle's rides are
            future = self._client.submit(_do, self._held, pickle.dumps(task), pure=False)
        self.numbers[future.key], self._futures[future.key] = number, future
        future.add_done_callback(self._done.put)

    def next_done(self, within_s: float) -> tuple[int, Any]:
        """Return number and result of the next task done.

        Raises:
            Empty: none is, in that time.
        """
        from distributed import KilledWorker

        future = self._done.get(timeout=within_s)
        number = self.numbers.pop(future.key)
        del self._futures[future.key]
        try:
            succeeded, result = future.result()
        except KilledWorker as error:
            return number, Lost("was killed", times=_deaths(error))
        if not succeeded:
            raise result
        return number, result

    def end(self) -> None:
        """Let go what is under way: it belongs to nobody any more."""
        self._client.cancel([*self._futures.values(), self._held])


def _do(held: _Held, task: bytes) -> tuple[bool, Any]:
    """Do a task in a worker; return whether it succeeded, and its result or what it raised."""
    if odd := _fault(held.versions, held.visible):
        return False, _unfit(platform.node(), odd)
    return attempted(held.work, pickle.loads(task))  # noqa: S301 - who may send tasks may run anything


def _unfit(worker: str, odd: str) -> ClusterError:
    return ClusterError(f"worker {worker} {odd}")


def _fault(versions: tuple[str, ...], visible: tuple[Visible, ...]) -> str:
    """Say what keeps this process from doing tasks of such a run; once nothing does, it is fit."""
    if (versions, visible) in _FIT:
        return ""
    here = _versions()
    if here != versions:
        return f"has {', '.join(here)}, this run {', '.join(versions)}; accepted: the same on all"
    odd = next(filter(None, (one.fault() for one in visible)), "")
    if not odd:
        _FIT.add((versions, visible))
    return odd


def _versions() -> tuple[str, ...]:
    """Return what must be the same on both sides, since objects go to and fro."""
    import polars

    python = ".".join(platform.python_version_tuple()[:2])
    return f"ridelab {ridelab.__version__}", f"Python {python}", f"polars {polars.__version__}"


def _deaths(error: Exception) -> int:
    """Return how many workers died of a task: one more than its scheduler allows, usually 3."""
    allowed = error.args[-1] if error.args else None
    return 1 + (allowed if isinstance(allowed, int) else 3)
