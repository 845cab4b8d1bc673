"""Where tasks are done: here one by one, in processes beside, or by the workers of a cluster.

A task is data that can be pickled, and so is what becomes of it. Neither is large: what is goes as
a ``Parcel``. Results come in any order; ``in_order`` puts them into that of the tasks, so that what
is made of them is the same wherever they were worked out.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from ridelab.pipeline.parcels import Place

T = TypeVar("T")
R = TypeVar("R")


@dataclass(frozen=True)
class Lost:
    """What became of a task that nobody finished.

    ``reason`` says why, for people; ``times``: how many workers ended with it.
    """

    reason: str
    times: int = 2

    def said(self, did: str, does: str) -> str:
        """Say so: ``did`` and ``does`` tell what a worker and the run itself do with a task."""
        often = "twice" if self.times == 2 else f"{self.times} times"
        return (
            f"the process that {did} it {self.reason}, {often}; the next run tries again, and "
            f"`--workers 1` {does} in the run's own process"
        )


class Executor(Protocol):
    """Does tasks, each without any other."""

    def folder(self) -> Place:
        """Where tasks leave their parcels; None where they are handed over in memory."""

    def results(
        self, work: Callable[[T], R], tasks: Iterable[T], ahead: int
    ) -> Iterator[tuple[int, R | Lost]]:
        """Yield what ``work`` makes of each task, with the number of the task, as they are done.

        Tasks are asked for as they are needed: ``ahead`` of them wait at each worker. What
        ``work`` raises is raised here.
        """

    def close(self) -> None:
        """Let all workers go."""


class Serial:
    """Does tasks here, one by one."""

    def folder(self) -> None:
        """Nothing has to be handed over."""

    def results(
        self, work: Callable[[T], R], tasks: Iterable[T], ahead: int = 1
    ) -> Iterator[tuple[int, R | Lost]]:
        """Yield results in the order of the tasks; a task is asked for once it is its turn."""
        del ahead
        for number, task in enumerate(tasks):
            yield number, work(task)

    def close(self) -> None:
        """There is nobody to let go."""


def in_order(results: Iterable[tuple[int, R]]) -> Iterator[R]:
    """Yield results in the order of their tasks; early ones wait for those before them."""
    waiting: dict[int, R] = {}
    number = 0
    for done, result in results:
        waiting[done] = result
        while number in waiting:
            yield waiting.pop(number)
            number += 1


def usual_workers() -> int:
    """Return how many workers this machine has cores for, as far as this process may use them."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
