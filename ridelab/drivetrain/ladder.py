"""Stages -> the published ladder: every distinct overall ratio, in order, numbered from 1."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Gear:
    """One distinct overall ratio.

    ``number`` counts from 1 = lowest; ``label`` names every combination that shares the gear;
    ``ratio`` is wheel turns per crank turn; ``step`` is ratio over the gear below, minus 1
    (None for gear 1). ``members`` are the ratios of the combinations, lowest first.
    """

    number: int
    label: str
    ratio: float
    step: float | None
    members: tuple[float, ...]


@dataclass(frozen=True)
class Ladder:
    """A published ladder: gears in order, or ``continuous`` (lowest, highest) for a stepless one."""

    drivetrain: str
    gears: tuple[Gear, ...]
    continuous: tuple[float, float] | None = None

    @property
    def stepless(self) -> bool:
        """Whether any ratio between two ends can be ridden, so that there are no gears to count."""
        return self.continuous is not None

    @property
    def ratios(self) -> tuple[float, ...]:
        """Overall ratios, lowest first; empty where stepless."""
        return tuple(gear.ratio for gear in self.gears)

    @property
    def range(self) -> float:
        """Highest ratio over lowest, as a factor."""
        low, high = self.continuous or (self.gears[0].ratio, self.gears[-1].ratio)
        return high / low
