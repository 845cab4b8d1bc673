"""Observations -> steady stretches: some seconds over which the development held still.

A stretch says where a gear is without knowing the ladder, and a ride has hundreds of them instead
of thousands of samples. Riding that drifts (coasting, soft pedalling, mid-shift) yields few.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.noise import MEDIAN_TO_SD
from ridelab.gears.runs import Runs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.gears.observations import Flags, Floats, Observations

    Whole = NDArray[np.int64]

#: Neighbouring samples further apart than this many standard deviations start a new stretch.
JUMP_SIGMAS = 3.5
#: Longer ones are cut, so that one long pull does not stand for a single piece of evidence.
LONGEST_S = 20.0
SHORTEST_SAMPLES = 4
#: Stretches that follow each other within this of ln(development), or this many of their standard
#: deviations, and no more than so many seconds apart are one hold.
SAME_HOLD, SAME_SIGMAS, SAME_HOLD_S = 0.01, 2.0, 30.0
#: Speed that does not come from the wheel wanders: it is off for seconds on end, in the same
#: direction. Runs from so many samples on show by how much; more than this is no error of speed.
WANDER_SAMPLES, MOST_WANDER_MPS = 8, 0.12
#: A stretch whose scatter exceeds its expected variance by this factor was not steady.
MOST_EXCESS = 3.0


@dataclass(frozen=True)
class Stretches:
    """Steady stretches of one or several rides; arrays have one entry a stretch.

    ``ln_development``: robust middle; ``sd``: its standard error, with what the speed wanders by;
    ``seconds``: how long it lasted; ``hold``: equal for neighbours in time at one development,
    which are one decision of the rider, one more for the next decision of the same ride.
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
    # Numbers of holds leave one out between rides: the last of one is no neighbour of the next.
    before = np.cumsum([0, *(int(part.hold.max(initial=-2)) + 2 for part in parts[:-1])])
    return Stretches(
        np.concatenate([part.ln_development for part in parts]),
        np.concatenate([part.sd for part in parts]),
        np.concatenate([part.seconds for part in parts]),
        np.concatenate([part.hold + first for part, first in zip(parts, before, strict=True)]),
    )


def steady_stretches(seen: Observations, among: Flags | None = None) -> Stretches:
    """Cut a ride into steady stretches, in order of time; ``among``: use these samples only.

    What the speed wanders by does not make a stretch unsteady, and what is left of it in the mean
    of one is part of ``sd``; both are larger the slower the ride.
    """
    sigma = seen.total_sigma()
    y = seen.ln_development if among is None else np.where(among, seen.ln_development, np.nan)
    runs = Runs.cut(_edges(seen, y, sigma))
    runs = runs.where((runs.lengths >= SHORTEST_SAMPLES) & np.isfinite(y[runs.first]))
    middle = runs.medians(y[runs.samples])
    wander_mps, lasting_mps = _wander_mps(seen, y, sigma, runs)
    speed = runs.medians(seen.speed_mps[runs.samples])
    spread = np.hypot(sigma[runs.samples], (wander_mps / speed)[runs.of_sample])
    residual = (y[runs.samples] - middle[runs.of_sample]) / spread
    steady = runs.sums(np.minimum(residual**2, 9.0)) <= MOST_EXCESS * runs.lengths
    # The median's standard error is sqrt(pi / 2) times the mean's (normal distribution).
    own = np.sqrt(np.pi / 2.0 / runs.sums(sigma[runs.samples] ** -2.0))
    middle, sd = middle[steady], np.hypot(own, lasting_mps / speed)[steady]
    runs = runs.where(steady)
    holds = _holds(middle, sd, seen.t_s[runs.first], seen.t_s[runs.stop - 1])
    return Stretches(middle, sd, runs.sums(seen.seconds[runs.samples]), holds)


def _holds(ln_development: Floats, sd: Floats, begins_s: Floats, ends_s: Floats) -> Whole:
    """Number the holds: neighbours in time that may well be at one development share one."""
    if len(sd) == 0:
        return np.empty(0, dtype=np.int64)
    apart = np.maximum(SAME_HOLD, SAME_SIGMAS * np.hypot(sd[1:], sd[:-1]))
    moved = np.abs(np.diff(ln_development)) > apart
    moved |= begins_s[1:] - ends_s[:-1] > SAME_HOLD_S
    return np.concatenate([[0], np.cumsum(moved)])


def _wander_mps(seen: Observations, y: Floats, sigma: Floats, runs: Runs) -> tuple[float, float]:
    """Return by how much the speed wanders within seconds, and what is left over a run of them.

    Beside the noise of single samples. The second half of a run differs from the first by twice
    what the mean of both is off by, if errors are forgotten in between. 0 for a sensor at the
    wheel, whose turns cannot stray.
    """
    runs = runs.where(runs.lengths >= WANDER_SAMPLES)
    if seen.bias_mps == 0.0 or len(runs) == 0:
        return 0.0, 0.0
    speed, noise = runs.medians(seen.speed_mps[runs.samples]), runs.medians(sigma[runs.samples])
    middle = runs.medians(y[runs.samples])
    scatter = MEDIAN_TO_SD * runs.medians(np.abs(y[runs.samples] - middle[runs.of_sample]))
    wander = np.median(np.sqrt(np.maximum(scatter**2 - noise**2, 0.0)) * speed)
    late = runs.samples - runs.first[runs.of_sample] >= (runs.lengths // 2)[runs.of_sample]
    second = runs.sums(late * y[runs.samples]) / runs.sums(late.astype(float))
    first = runs.sums(~late * y[runs.samples]) / runs.sums((~late).astype(float))
    half = MEDIAN_TO_SD * np.median(np.abs(second - first) * speed) / 2.0
    lasting = np.sqrt(max(half**2 - np.median(noise * speed / np.sqrt(runs.lengths)) ** 2, 0.0))
    return min(float(wander), MOST_WANDER_MPS), min(float(lasting), MOST_WANDER_MPS)


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
