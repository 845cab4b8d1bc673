"""How far a run is: a bar where a person watches, a plain line now and then where nobody does."""

from __future__ import annotations

import os
import sys
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING, Protocol

from ridelab.cli import events
from ridelab.cli.output import tell
from ridelab.cli.text import printable

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from rich.progress import Progress, TaskID

EVERY_S = 10.0


class Meter(Protocol):
    """Shows where a run is. ``total`` is None where nobody knows how much there is."""

    def show(self, stage: str, done: int, total: int | None) -> None:
        """Take note that a stage has done so much."""


@contextmanager
def meter() -> Iterator[Meter]:
    """Return what suits stderr: a bar on a terminal, else a line every ten seconds.

    Nothing beside lines of JSON, which tell the same.
    """
    if events.wanted():
        yield Silent()
    elif sys.stderr.isatty() and os.environ.get("TERM") != "dumb":
        with _bar() as bar:
            yield bar
    else:
        yield Lines()


class Lines:
    """One line every ``EVERY_S`` seconds; nothing at all for a run that is over sooner."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self._now = now
        self._told_at = now()

    def show(self, stage: str, done: int, total: int | None) -> None:
        """Print where the run is, if that was not printed lately."""
        if self._now() - self._told_at >= EVERY_S:
            self._told_at = self._now()
            tell(f"{printable(stage)}: {done}" + ("" if total is None else f" of {total}"))


class Silent:
    """Shows nothing."""

    def show(self, stage: str, done: int, total: int | None) -> None:
        """Take no note."""


class Bars:
    """A bar for the stage under way, gone when the run is over."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._stage = ""
        self._task: TaskID | None = None

    def show(self, stage: str, done: int, total: int | None) -> None:
        """Move the bar; a new stage gets a new one."""
        if self._task is None or stage != self._stage:
            if self._task is not None:
                self._progress.remove_task(self._task)
            self._stage = stage
            self._task = self._progress.add_task(printable(stage), total=total)
        self._progress.update(self._task, completed=done, total=total)


@contextmanager
def _bar() -> Iterator[Bars]:
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        yield Bars(progress)
