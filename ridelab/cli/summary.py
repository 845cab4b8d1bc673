"""What a run came to, in two lines: what became of the files, and where the time went."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ridelab.pipeline import Outcome

#: Stages that are named; all others are told as one.
_NAMED = 4


def files_line(outcome: Outcome) -> str:
    """Say what became of the files: "files: 9 read, 2 unchanged, 1 set aside"."""
    counts = (
        (outcome.read, "read"),
        (outcome.unchanged, "unchanged"),
        (outcome.duplicates, "the same as another"),
        (outcome.set_aside, "set aside"),
    )
    parts = [f"{number} {word}" for number, word in counts if number]
    return f"files: {', '.join(parts) or 'none'}"


def time_line(outcome: Outcome) -> str:
    """Say where the time went: "time: 61 s (measure 31, report 12, …), 16 rides/s"."""
    longest = sorted(outcome.seconds.items(), key=lambda one: -one[1])[:_NAMED]
    told = [(stage, seconds) for stage, seconds in longest if _figure(seconds) != "0.0"]
    rest = outcome.took_s - sum(seconds for _, seconds in told)
    parts = [f"{stage} {_figure(seconds)}" for stage, seconds in (*told, ("rest", rest))]
    line = f"time: {_figure(outcome.took_s)} s ({', '.join(parts)})"
    if outcome.read and outcome.took_s > 0:
        line += f", {outcome.read / outcome.took_s:.2g} rides/s"
    return line


def _figure(seconds: float) -> str:
    return f"{seconds:.0f}" if seconds >= 9.95 else f"{max(seconds, 0.0):.1f}"
