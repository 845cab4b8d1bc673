"""Observations -> steady stretches: some seconds over which the development held still.

A stretch says where a gear is without knowing the ladder, and a ride has hundreds of them instead
of thousands of samples. Riding that drifts (coasting, soft pedalling, mid-shift) yields few.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.gears.observations import Flags, Floats, Observations

#: Neighbouring samples further apart than this many standard deviations start a new stretch.
JUMP_SIGMAS = 3.5
#: Longer ones are cut, so that one long pull does not stand for a single piece of evidence.
LONGEST_S = 20.0
SHORTEST_SAMPLES = 4
#: Stretches that follow each other within this of ln(development) are one hold.
SAME_HOLD = 0.01
#: A stretch whose scatter exceeds its expected variance by this factor was not steady.
MOST_EXCESS = 3.0


@dataclass(frozen=True)
class Stretches:
    """Steady stretches of one or several rides; arrays have one entry a stretch.

    ``ln_development``: robust middle; ``sd``: its standard error; ``seconds``: how long it lasted;
    ``hold``: equal for neighbours in time at one development, which are one decision of the rider.
    """

    ln_development: Floats
    sd: Floats
    seconds: Floats
    hold: NDArray[np.int64]

    def where(self, chosen: Flags) -> Stretches:
        """Return some of the stretches."""
        return Stretches(
            self.ln_development[chosen],
            self.sd[chosen],
            self.seconds[chosen],
            self.hold[chosen],
        )

    def shifted(self, by: float) -> Stretches:
        """Return the same with ``by`` taken from every ln(development)."""
        return replace(self, ln_development=self.ln_development - by)

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.ln_development)


def pooled(parts: Sequence[Stretches]) -> Stretches:
    """Return the stretches of several rides as one set."""
    if not parts:
        return Stretches(np.empty(0), np.empty(0), np.empty(0), np.empty(0, dtype=np.int64))
    before = np.cumsum([0, *(len(part) for part in parts[:-1])])
    return Stretches(
        np.concatenate([part.ln_development for part in parts]),
        np.concatenate([part.sd for part in parts]),
        np.concatenate([part.seconds for part in parts]),
        np.concatenate([part.hold + first for part, first in zip(parts, before, strict=True)]),
    )


def steady_stretches(seen: Observations, among: Flags | None = None) -> Stretches:
    """Cut a ride into steady stretches, in order of time; ``among``: use these samples only."""
    sigma = seen.total_sigma()
    y = seen.ln_development if among is None else np.where(among, seen.ln_development, np.nan)
    edges = _edges(seen, y, sigma)
    starts = np.flatnonzero(edges)
    middles, errors, seconds = [], [], []
    for start, stop in zip(starts, np.append(starts[1:], len(y)), strict=True):
        if stop - start < SHORTEST_SAMPLES or np.isnan(y[start]):
            continue
        middle = float(np.median(y[start:stop]))
        residual = (y[start:stop] - middle) / sigma[start:stop]
        if float(np.mean(np.minimum(residual**2, 9.0))) > MOST_EXCESS:
            continue
        middles.append(middle)
        # The median's standard error is sqrt(pi / 2) times the mean's (normal distribution).
        errors.append(float(np.sqrt(np.pi / 2.0 / (sigma[start:stop] ** -2.0).sum())))
        seconds.append(float(seen.seconds[start:stop].sum()))
    ln_development = np.array(middles)
    moved = np.abs(np.diff(ln_development, prepend=ln_development[:1])) > SAME_HOLD
    return Stretches(ln_development, np.array(errors), np.array(seconds), np.cumsum(moved))


def _edges(seen: Observations, y: Floats, sigma: Floats) -> Flags:
    """Mark the first sample of every run without jump, gap, or missing value."""
    with np.errstate(invalid="ignore"):
        jump = np.abs(np.diff(y)) > JUMP_SIGMAS * np.hypot(sigma[1:], sigma[:-1])
    missing = np.isnan(y)
    edges = np.ones(len(y), dtype=bool)
    edges[1:] = jump | (missing[1:] != missing[:-1]) | seen.gap_before[1:]
    run_starts = np.flatnonzero(edges)
    into_run = seen.t_s - seen.t_s[run_starts[np.cumsum(edges) - 1]]
    piece = np.floor(into_run / LONGEST_S)
    edges[1:] |= np.diff(piece) > 0
    return edges
