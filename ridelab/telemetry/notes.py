"""A reader's notebook: what was odd about one file, in reading order."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ridelab.problems import Problem

if TYPE_CHECKING:
    from pathlib import Path

STAGE = "read"


@dataclass
class Notes:
    """Collects the problems of one file while it is read."""

    path: Path
    problems: list[Problem] = field(default_factory=list)

    def note(self, message: str) -> None:
        """Write down something odd that cost nothing."""
        self.problems.append(Problem(str(self.path), STAGE, "note", message))

    def warn(self, message: str) -> None:
        """Write down something that was lost or is doubtful."""
        self.problems.append(Problem(str(self.path), STAGE, "warning", message))


def counted(number: int, noun: str) -> str:
    """A number with its noun: ``1 record``, ``2 records``."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
