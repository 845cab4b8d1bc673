"""What the stages of a run share, and what a run comes to."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple, Protocol

from ridelab.pipeline.sources import Sources

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from ridelab.campaign import Campaign
    from ridelab.pipeline.executors import Executors
    from ridelab.store import Store


class Progress(NamedTuple):
    """How far a stage is: ``done`` of ``total`` items, and the item that was finished last.

    A stage says so once with ``done`` = 0 when it starts, and then after each item.
    """

    stage: str
    done: int
    total: int
    item: str = ""


class Listen(Protocol):
    """Is told how a run goes on; it draws, the pipeline does not."""

    def __call__(self, progress: Progress, /) -> None:
        """Take note."""


class Log(Protocol):
    """Is told what happened, for programs: ``file read``, ``vehicle measured``, and its facts."""

    def __call__(self, event: str, facts: Mapping[str, object], /) -> None:
        """Take note."""


@dataclass(frozen=True)
class PlannedStage:
    """What a stage would do: ``todo`` names the items to work on, ``kept`` counts the others.

    ``rests``: nothing that the stage reads has changed, so it leaves all as it is. ``touches``: it
    changes what is stored even where there is nothing to do, since files went or were written anew.
    """

    stage: str
    does: str
    todo: tuple[str, ...] = ()
    kept: int = 0
    rests: bool = False
    touches: bool = False


@dataclass(frozen=True)
class Outcome:
    """What a run came to.

    Attributes:
        read: files read as rides in this run.
        unchanged: files whose ride was stored before; not read again.
        duplicates: files with the same content as one of those.
        set_aside: files the campaign names that cannot be used, now or known from before.
        without_files: vehicles that no file belongs to.
        measured: vehicles measured in this run.
        kept: vehicles of which nothing had changed.
        failed: vehicles, queries and the like that went wrong; ``problems`` says how.
        seconds: by stage, in the order they ran.
        took_s: seconds of the whole run, with all between its stages.
        report: the page written, None if no stage wrote one.
    """

    read: int = 0
    unchanged: int = 0
    duplicates: int = 0
    set_aside: int = 0
    without_files: tuple[str, ...] = ()
    measured: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    failed: tuple[str, ...] = ()
    seconds: dict[str, float] = field(default_factory=dict)
    took_s: float = 0.0
    report: Path | None = None

    def taking(self, seconds: float) -> Outcome:
        """Return the same, having taken so long."""
        return replace(self, took_s=seconds)

    @property
    def exit_code(self) -> int:
        """0, or 3 where something the campaign names was set aside, or is not there."""
        return 3 if self.set_aside or self.failed or self.without_files else 0


@dataclass
class Context:
    """What a stage works with. ``outcome`` is replaced as stages add to it."""

    campaign: Campaign
    store: Store
    out_dir: Path
    listen: Listen
    log: Log
    executors: Executors
    outcome: Outcome = field(default_factory=Outcome)
    sources: Sources = field(init=False)

    def __post_init__(self) -> None:
        """Begin with what the store holds now."""
        self.sources = Sources(self.store)
