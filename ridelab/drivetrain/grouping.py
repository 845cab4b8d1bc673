"""Combinations of settings -> groups that share a gear; numpy throughout, for there may be many."""

from __future__ import annotations

from functools import reduce
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

#: Combinations this close to the lowest of their group cannot be told apart by a rider (common
#: practice, no source).
MERGE_WITHIN = 0.015
#: Gears this close feel alike to a rider (common practice, no source).
FEEL_WITHIN = 0.05
# Products of the same tooth counts in another order differ in their last bit.
_ROUNDING = 1e-12


def overall_ratios(stages: Iterable[Sequence[float]]) -> NDArray[np.float64]:
    """Return the product of every combination, the first stage's setting varying slowest."""
    return reduce(lambda overall, one: np.outer(overall, one).ravel(), stages, np.ones(1))


def group_starts(ascending: NDArray[np.float64], within: float) -> NDArray[np.intp]:
    """Cut sorted ratios into groups of those ``within`` (relative) of their lowest.

    Returns where each group begins. ``within`` 0 leaves only equal ratios together.
    """
    ends = np.searchsorted(ascending, ascending * (1 + within + _ROUNDING), side="right").tolist()
    starts, start = [], 0
    while start < len(ends):
        starts.append(start)
        start = ends[start]
    return np.array(starts, dtype=np.intp)


def geometric_means(
    ascending: NDArray[np.float64], starts: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Return the geometric mean of each group; of one ratio itself, not its image in the log."""
    sizes = np.diff(starts, append=len(ascending))
    means: NDArray[np.float64] = np.exp(np.add.reduceat(np.log(ascending), starts) / sizes)
    return np.where(sizes == 1, ascending[starts], means)


def count_groups(stages: Iterable[Sequence[float]], within: float) -> int:
    """Return how many gears the combinations of these settings make.

    Where a single stage is shifted only equal ratios share a gear, however close the others are.
    """
    shifted = [one for one in stages if len(one) > 1]
    ratios = np.sort(overall_ratios(shifted))
    return len(group_starts(ratios, within if len(shifted) > 1 else 0.0))
