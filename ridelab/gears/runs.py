"""Runs of samples that follow each other -> one number a run, for all runs at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.gears.observations import Flags, Floats

    Whole = NDArray[np.intp]


@dataclass(frozen=True)
class Runs:
    """Runs of samples, none of them empty, in order of time, no sample in two of them.

    ``first``: index of the first sample of each; ``stop``: one past its last.
    """

    first: Whole
    stop: Whole

    @classmethod
    def cut(cls, edges: Flags) -> Runs:
        """Return runs of all samples, a new one wherever ``edges`` says so, and at the first."""
        first = np.flatnonzero(np.concatenate([[True], edges[1:]]))
        return cls(first, np.append(first[1:], len(edges)))

    def where(self, chosen: Flags) -> Runs:
        """Return some of the runs."""
        return Runs(self.first[chosen], self.stop[chosen])

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.first)

    @cached_property
    def lengths(self) -> Whole:
        """How many samples each has."""
        return self.stop - self.first

    @cached_property
    def of_sample(self) -> Whole:
        """Which run, one value for each sample of a run, in order."""
        return np.repeat(np.arange(len(self)), self.lengths)

    @cached_property
    def samples(self) -> Whole:
        """Indices of all samples of all runs, in order."""
        return np.arange(len(self.of_sample)) + (self.first - self._before)[self.of_sample]

    @cached_property
    def _before(self) -> Whole:
        """How many samples the runs before have."""
        return np.cumsum(self.lengths) - self.lengths

    def sums(self, values: Floats) -> Floats:
        """Return the sum over each run; ``values``: one for each sample of a run."""
        return np.asarray(np.bincount(self.of_sample, values, minlength=len(self)), np.float64)

    def medians(self, values: Floats) -> Floats:
        """Return the median over each run; ``values``: one for each sample of a run, finite."""
        if len(self) == 0:
            return np.empty(0)
        order = np.argsort(values)
        rank = np.empty_like(order)
        rank[order] = np.arange(len(order))
        within = values[order[np.sort(self.of_sample * len(order) + rank) % len(order)]]
        lower, upper = (self.lengths - 1) // 2, self.lengths // 2
        return np.asarray(0.5 * (within[self._before + lower] + within[self._before + upper]))
