"""Stages -> the published ladder: every distinct overall ratio, in order, numbered from 1."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from ridelab.drivetrain.grouping import (
    MERGE_WITHIN,
    geometric_means,
    group_starts,
    overall_ratios,
)
from ridelab.errors import NotAccepted

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.drivetrain.stages import Drivetrain, Stage

__all__ = ["MERGE_WITHIN", "Gear", "Ladder", "published_ladder"]

_MOST_COMBINATIONS = 200_000


@dataclass(frozen=True)
class Gear:
    """One distinct overall ratio.

    ``number`` counts from 1 = lowest; ``label`` names every combination that shares the gear;
    ``ratio`` is wheel turns per crank turn; ``step`` is ratio over the gear below, minus 1
    (None for gear 1). ``members`` are the ratios of the combinations, lowest first, and
    ``settings`` what each of them is called.
    """

    number: int
    label: str
    ratio: float
    step: float | None
    members: tuple[float, ...]
    settings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Ladder:
    """A published ladder: gears in order, or ``continuous`` (lowest, highest) if stepless."""

    drivetrain: str
    gears: tuple[Gear, ...]
    continuous: tuple[float, float] | None = None
    #: (lowest, highest) of what cannot be ridden between the two ends of a stepless ladder.
    holes: tuple[tuple[float, float], ...] = ()

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
    the product of the highest, but for ``holes`` where the steps of the others are wider than the
    stepless range.

    Raises:
        NotAccepted: more combinations than any drivetrain has.
    """
    stages = drivetrain.stages
    count = math.prod(len(stage.choices) for stage in stages if not stage.continuous)
    if count > _MOST_COMBINATIONS:
        raise NotAccepted(
            f"{count} combinations", f"at most {_MOST_COMBINATIONS} over all stages", "stages"
        )
    settings = [[choice.ratio for choice in one.choices] for one in stages if not one.continuous]
    ratios = overall_ratios(settings)
    if any(stage.continuous for stage in stages):
        return _stepless(drivetrain, np.sort(ratios))
    several = sum(stage.shifters for stage in stages) > 1
    gears = _gears(ratios, _labels(stages), merge_within if several else 0.0)
    return Ladder(drivetrain.name, gears)


def _gears(ratios: NDArray[np.float64], labels: list[str], within: float) -> tuple[Gear, ...]:
    """Number the groups of combinations; ``labels`` name these in the order of ``ratios``."""
    order = np.argsort(ratios, kind="stable")
    starts = group_starts(ratios[order], within)
    means = geometric_means(ratios[order], starts).tolist()
    members = ratios[order].tolist()
    settings = [labels[index] for index in order.tolist()]
    ends = [*starts.tolist()[1:], len(members)]
    steps = [None, *(upper / lower - 1 for lower, upper in pairwise(means))]
    return tuple(
        Gear(
            number=number,
            label=" = ".join(settings[start:end]),
            ratio=mean,
            step=step,
            members=tuple(members[start:end]),
            settings=tuple(settings[start:end]),
        )
        for number, (start, end, mean, step) in enumerate(
            zip(starts.tolist(), ends, means, steps, strict=True), 1
        )
    )


def _stepless(drivetrain: Drivetrain, ascending: NDArray[np.float64]) -> Ladder:
    """Return the ladder of stages of which some are stepless, behind settings of the others."""
    spans = [stage.continuous for stage in drivetrain.stages if stage.continuous]
    low, high = (math.prod(span[end] for span in spans) for end in (0, 1))
    below, above = ascending[:-1] * high, ascending[1:] * low
    holes = [(float(one), float(two)) for one, two in zip(below, above, strict=True) if one < two]
    ends = float(ascending[0] * low), float(ascending[-1] * high)
    return Ladder(drivetrain.name, (), ends, tuple(holes))


def _labels(stages: tuple[Stage, ...]) -> list[str]:
    """Return a label for each combination, in the order of ``overall_ratios``.

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
