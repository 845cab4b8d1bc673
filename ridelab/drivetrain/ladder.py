"""Stages -> the published ladder: every distinct overall ratio, in order, numbered from 1."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from ridelab.errors import NotAccepted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from ridelab.drivetrain.stages import Drivetrain, Stage

#: Combinations this close to the lowest of their group cannot be told apart by a rider (common
#: practice, no source).
MERGE_WITHIN = 0.015
_MOST_COMBINATIONS = 200_000
# Products of the same tooth counts in another order differ in their last bit.
_ROUNDING = 1e-12


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
    """A published ladder: gears in order, or ``continuous`` (lowest, highest) if stepless."""

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
    def ends(self) -> tuple[float, float]:
        """Lowest and highest overall ratio."""
        return self.continuous or (self.gears[0].ratio, self.gears[-1].ratio)

    @property
    def range(self) -> float:
        """Highest ratio over lowest, as a factor."""
        low, high = self.ends
        return high / low


def published_ladder(drivetrain: Drivetrain, merge_within: float = MERGE_WITHIN) -> Ladder:
    """Return the ladder of all combinations of all stages.

    Where more than one thing is shifted, combinations within ``merge_within`` of the lowest of
    their group share one gear: its ratio is their geometric mean, its label names them all
    ("38/18 = 34/16"). Where a single thing is shifted, its settings are the gears, and only equal
    ratios share one.

    One stepless stage makes the whole ladder continuous from the product of the lowest ratios to
    the product of the highest. Behind stages whose steps are wider than the stepless range there
    are holes between the two ends; they are not told.

    Raises:
        NotAccepted: more combinations than any drivetrain has.
    """
    stages = drivetrain.stages
    if any(stage.continuous for stage in stages):
        lows, highs = zip(*(stage.ends for stage in stages), strict=True)
        return Ladder(drivetrain.name, (), (math.prod(lows), math.prod(highs)))
    count = math.prod(len(stage.choices) for stage in stages)
    if count > _MOST_COMBINATIONS:
        raise NotAccepted(
            f"{count} combinations", f"at most {_MOST_COMBINATIONS} over all stages", "stages"
        )
    tolerance = merge_within if sum(stage.shifters for stage in stages) > 1 else 0.0
    ratios = _overall_ratios(stages)
    order = np.argsort(ratios, kind="stable")
    labels = _labels(stages)
    groups = [order[group] for group in _groups(ratios[order], tolerance)]
    means = [_geometric_mean(ratios[group]) for group in groups]
    steps = [None, *(upper / lower - 1 for lower, upper in pairwise(means))]
    gears = tuple(
        Gear(
            number=number,
            label=" = ".join(labels[index] for index in group),
            ratio=mean,
            step=step,
            members=tuple(ratios[group].tolist()),
        )
        for number, (group, mean, step) in enumerate(zip(groups, means, steps, strict=True), 1)
    )
    return Ladder(drivetrain.name, gears)


def _overall_ratios(stages: tuple[Stage, ...]) -> NDArray[np.float64]:
    """Return the product of every combination, the first stage's choice varying slowest."""
    overall = np.ones(1)
    for stage in stages:
        overall = np.outer(overall, [choice.ratio for choice in stage.choices]).ravel()
    return overall


def _geometric_mean(ratios: NDArray[np.float64]) -> float:
    """Return the geometric mean; of one ratio that ratio itself, not its image in the logarithm."""
    return float(ratios[0] if len(ratios) == 1 else np.exp(np.log(ratios).mean()))


def _labels(stages: tuple[Stage, ...]) -> list[str]:
    """Return a label for each combination, in the order of ``_overall_ratios``.

    Stages without a choice are left out. Beside another stage's, a bare setting is told by its
    stage: "38/18 · hub 3".
    """
    shifted = [stage for stage in stages if len(stage.choices) > 1] or list(stages)
    labels = [""]
    for stage in shifted:
        prefix = f"{stage.name} " if len(shifted) > 1 and not stage.teeth else ""
        labels = [
            f"{before} · {prefix}{choice.label}" if before else f"{prefix}{choice.label}"
            for before in labels
            for choice in stage.choices
        ]
    return labels


def _groups(ascending: NDArray[np.float64], tolerance: float) -> Iterator[slice]:
    """Cut sorted ratios into groups that stay within ``tolerance`` of their lowest."""
    ends = np.searchsorted(ascending, ascending * (1 + tolerance + _ROUNDING), side="right")
    start = 0
    while start < len(ascending):
        yield slice(start, int(ends[start]))
        start = int(ends[start])
