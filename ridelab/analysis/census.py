"""How many of a vehicle's gears are really different, as far as its rides tell."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from ridelab.analysis.intervals import exactly, quotient
from ridelab.gears.result import Interval

if TYPE_CHECKING:
    from ridelab.analysis.evidence import Evidence, Pair


@dataclass(frozen=True)
class Census:
    """Gears counted.

    Attributes:
        least: ratios that were measured and are certainly distinct.
        likely: ratios that were measured and are not certainly the same.
        alike: neighbours that are certainly the same.
        unclear: neighbours that may be the same.
        unridden: published gears that were not measured.
        strange: measured ratios that are certainly none of the ladder's.
        doubtful: measured ratios that may be none of the ladder's.
    """

    least: int
    likely: int
    alike: tuple[Pair, ...]
    unclear: tuple[Pair, ...]
    unridden: tuple[int, ...]
    strange: tuple[float, ...]
    doubtful: tuple[float, ...]

    @property
    def most(self) -> int:
        """As many distinct ratios as there can be, with those that nobody rode."""
        return self.likely + len(self.unridden)

    @property
    def number(self) -> Interval:
        """The count, from the fewest that it can be to the most."""
        return Interval(self.likely, self.least, self.most)


def take_census(evidence: Evidence, within: float | None = None) -> Census:
    """Compare the measured gears: closer than a campaign's ``merge_within``, two are one.

    ``within``: how close a claim says that they are one, to the lowest of their group.
    """
    alike: list[Pair] = []
    unclear: list[Pair] = []
    lowest = next(iter(evidence.ratios), 0)
    for below, gear in pairwise(evidence.ratios):
        pair = (below if within is None else lowest, gear)
        between = evidence.between(pair)
        apart = 1 + (_least_step(pair, evidence) if within is None else within)
        if between.high < apart:
            alike.append(pair)
            continue
        if between.low <= apart:
            unclear.append(pair)
        lowest = gear
    strange, doubtful = _outside(evidence)
    likely = len(evidence.ratios) - len(alike) + len(strange)
    return Census(
        least=likely - len(unclear),
        likely=likely,
        alike=tuple(alike),
        unclear=tuple(unclear),
        unridden=evidence.unmeasured(evidence.published),
        strange=strange,
        doubtful=doubtful,
    )


def _least_step(pair: Pair, evidence: Evidence) -> float:
    """Return the step from which two gears are two, relative.

    Settings of a single lever are published as gears however close they are; those turn out as one
    where most of their published step is missing.
    """
    below, above = pair
    published = evidence.published[above] / evidence.published[below] - 1
    return evidence.merge_within if published > evidence.merge_within else published / 2


def _outside(evidence: Evidence) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the strangers that certainly, and those that perhaps, are no gear of the ladder."""
    apart = 1 + evidence.merge_within
    gears = [*map(exactly, evidence.published.values()), *evidence.ratios.values()]
    strange: list[float] = []
    doubtful: list[float] = []
    for stranger in evidence.strangers.values():
        away = [quotient(stranger, gear) for gear in gears]
        if all(one.low > apart or one.high < 1 / apart for one in away):
            strange.append(stranger.value)
        elif not any(1 / apart <= one.low and one.high <= apart for one in away):
            doubtful.append(stranger.value)
    return tuple(sorted(strange)), tuple(sorted(doubtful))
