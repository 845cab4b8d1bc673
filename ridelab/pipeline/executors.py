"""Which executor a stage gets: a cluster if there is one, or processes where these are worth it."""

from __future__ import annotations

from contextlib import closing, contextmanager
from typing import TYPE_CHECKING

from ridelab.errors import UsageError
from ridelab.objects import Remote, bucket_of
from ridelab.pipeline.executing import Serial
from ridelab.pipeline.parcels import sweep_parcels
from ridelab.pipeline.processes import Processes
from ridelab.pipeline.visible import RideFile, RideObject

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from ridelab.pipeline.cluster import Cluster
    from ridelab.pipeline.executing import Executor
    from ridelab.pipeline.sighting import Sight
    from ridelab.pipeline.visible import Visible
    from ridelab.store import Store

#: Work that takes less than this is done sooner than processes are started.
_WORTH_S = 1.0
#: Folders of which each worker looks at a file before it is sent any.
_FOLDERS = 20


@contextmanager
def reached(scheduler: str | None, lake: str | None, store: Path) -> Iterator[Cluster | None]:
    """Connect to a cluster and its lake where they are asked for, before anything is done here.

    Raises:
        UsageError, ClusterError, RemoteError: as of ``Lake.at`` and ``Cluster.at``.
    """
    if scheduler is None:
        if lake is not None:
            raise UsageError("--lake goes with --scheduler: the workers of a cluster fill it")
        yield None
        return
    from ridelab.pipeline.cluster import Cluster
    from ridelab.pipeline.lake import Lake

    with closing(
        Cluster.at(scheduler, store, Lake.at(lake) if lake is not None else None)
    ) as cluster:
        yield cluster


class Executors:
    """The executors of one run. Its processes, once started, stay for the stages after."""

    def __init__(self, workers: int, store: Path, cluster: Cluster | None = None) -> None:
        """``store``: held by this run, so that nobody else works beside it."""
        sweep_parcels(store)
        self._workers = workers
        self._processes = Processes(workers, store)
        self._cluster = cluster

    @property
    def workers(self) -> int:
        """How many tasks are done at once."""
        return self._workers if self._cluster is None else self._cluster.slots

    def chosen(self, tasks: int, seconds: float) -> Executor:
        """Return what to do tasks with that would take about so many seconds here in all."""
        if self._cluster is not None:
            return self._cluster if tasks else Serial()
        worth = self._processes.running or seconds >= _WORTH_S
        return self._processes if min(self._workers, tasks) > 1 and worth else Serial()

    def to_read(self, sights: Iterable[Sight]) -> None:
        """See that all who may read these files see them: the first of each folder stands for it.

        Raises:
            ClusterError: a worker does not.
        """
        if self._cluster is None:
            return
        firsts: dict[Path | str, Visible] = {}
        for sight in sights:
            if sight.action == "read" and len(firsts) < _FOLDERS:
                place, size = sight.location, sight.file.size_bytes or 0
                if isinstance(place, Remote):
                    firsts.setdefault(bucket_of(place.url), RideObject(place.url, size))
                else:
                    firsts.setdefault(place.parent, RideFile(place, size))
        self._cluster.must_see(*firsts.values())

    def complete(self, store: Store) -> None:
        """Bring what a cluster keeps of a store up to it.

        Raises:
            RemoteError: that cannot be read or written.
        """
        if self._cluster is not None:
            self._cluster.complete(store)

    def close(self) -> None:
        """Let all workers go."""
        self._processes.close()
        if self._cluster is not None:
            self._cluster.close()  # while the store is held: what it leaves lies beside it
