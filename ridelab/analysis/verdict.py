"""What a claim comes to: one of four words, what was measured, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from ridelab.gears.result import Interval

Word = Literal["holds", "fails", "undecided", "untestable"]


@dataclass(frozen=True)
class Verdict:
    """One of the four words, what was measured (if anything), and why in one plain sentence.

    ``rests_on``: the gears that it was taken from, to be ridden longer if it is not sure enough.
    """

    word: Word
    reason: str
    measured: Interval | None = None
    rests_on: tuple[int, ...] = ()

    @property
    def decided(self) -> bool:
        """Whether it says that the claim holds or that it fails."""
        return self.word in {"holds", "fails"}
