"""How many of a vehicle's gears are really different, as far as its rides tell."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from ridelab.analysis.estimates import quotient
from ridelab.drivetrain.ladder import MERGE_WITHIN
from ridelab.gears.result import Interval

if TYPE_CHECKING:
    from ridelab.analysis.evidence import Evidence

Pair = tuple[int, int]


@dataclass(frozen=True)
class Census:
    """Gears counted.

    Attributes:
        least: ratios that were measured and are certainly distinct.
        likely: ratios that were measured and are not certainly the same.
        alike: neighbours that are certainly the same.
        unclear: neighbours that may be the same.
        unridden: published gears that were not measured.
    """

    least: int
    likely: int
    alike: tuple[Pair, ...]
    unclear: tuple[Pair, ...]
    unridden: tuple[int, ...]

    @property
    def most(self) -> int:
        """As many distinct ratios as there can be, with those that nobody rode."""
        return self.likely + len(self.unridden)

    @property
    def number(self) -> Interval:
        """The count, from the fewest that it can be to the most."""
        return Interval(self.likely, self.least, self.most)


def take_census(evidence: Evidence) -> Census:
    """Compare neighbours among the measured gears: closer than ``MERGE_WITHIN``, they are one."""
    measured = [gear for gear in evidence.ratios if gear not in evidence.outside]
    alike: list[Pair] = []
    unclear: list[Pair] = []
    for below, above in pairwise(measured):
        between = quotient(evidence.ratios[above], evidence.ratios[below])
        if between.high < 1 + MERGE_WITHIN:
            alike.append((below, above))
        elif between.low <= 1 + MERGE_WITHIN:
            unclear.append((below, above))
    likely = len(measured) - len(alike)
    return Census(
        least=likely - len(unclear),
        likely=likely,
        alike=tuple(alike),
        unclear=tuple(unclear),
        unridden=evidence.unmeasured(evidence.published),
    )
