"""Which executor a stage gets: processes beside, where starting them is worth it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.pipeline.executing import Serial
from ridelab.pipeline.parcels import sweep_parcels
from ridelab.pipeline.processes import Processes

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.pipeline.executing import Executor

#: Work that takes less than this is done sooner than processes are started.
_WORTH_S = 1.0


class Executors:
    """The executors of one run. Its processes, once started, stay for the stages after."""

    def __init__(self, workers: int, store: Path) -> None:
        """``store``: held by this run, so that nobody else works beside it."""
        sweep_parcels(store)
        self._workers = workers
        self._processes = Processes(workers, store)

    def chosen(self, tasks: int, seconds: float) -> Executor:
        """Return what to do tasks with that would take about so many seconds here in all."""
        worth = self._processes.running or seconds >= _WORTH_S
        return self._processes if min(self._workers, tasks) > 1 and worth else Serial()

    def close(self) -> None:
        """Let all workers go."""
        self._processes.close()
