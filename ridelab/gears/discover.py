"""Steady stretches alone -> where the gears are, as many as the evidence carries."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.drivetrain.ladder import MERGE_WITHIN
from ridelab.gears.ladder import LEAST_S, NoLadder, Rungs, counted
from ridelab.gears.mixture import Mixture, settle, weights

if TYPE_CHECKING:
    from ridelab.gears.observations import Floats
    from ridelab.gears.stretches import Stretches

#: Fewer stretches than this are no ground to find a ladder on.
LEAST_STRETCHES = 8
#: This many settle whether there are gears at all.
MANY_STRETCHES = 20
#: On gears, at least this share of the pedalled seconds lies; else there is no ladder to name.
LEAST_SHARE_ON_GEARS = 1.0 / 3.0
#: Gain of ``concentration`` from which on there are gears, and up to which there are none:
#: simulated stepless riding stayed below 0.15, real chain drives began at 0.23.
GATHERED, SPREAD_OUT = 0.18, 0.20
#: Holds this close in time may be one ratio that a hand drifts away from.
NEAR_HOLDS = 1
#: Stretches of one gear scatter by about this much before the rides speak.
SPREAD = 0.006


def discover(stretches: Stretches, pedalled_s: float) -> Rungs | NoLadder:
    """Find the gears from the stretches alone: as many as the evidence carries."""
    if len(stretches) < LEAST_STRETCHES:
        return NoLadder(
            f"{len(stretches)} steady stretches of pedalling, {LEAST_STRETCHES} are needed to "
            "find a ladder"
        )
    unsteady = NoLadder(
        "less than a third of the pedalled time holds a steady development: no gears are named",
        continuous=True,
    )
    if stretches.seconds.sum() < LEAST_SHARE_ON_GEARS * pedalled_s:
        return unsteady
    gathered = gathers(stretches)
    if gathered is False:
        return NoLadder("development varies without steps: no gears are named", continuous=True)
    if gathered is None:
        return NoLadder(
            f"{len(stretches)} steady stretches of pedalling do not tell gears from chance; ride "
            "each gear steadily, more than once"
        )
    mixture = gatherings(stretches)
    if mixture is None or mixture.seconds.sum() < LEAST_SHARE_ON_GEARS * pedalled_s:
        return unsteady
    return counted(mixture.centres)


def gathers(stretches: Stretches) -> bool | None:
    """Return whether riding gathers on gears, or spreads without steps; None: neither is sure."""
    gain, error = concentration(stretches)
    if gain > GATHERED and gain > 2.0 * error:
        return True
    return False if gain + 2.0 * error < SPREAD_OUT and len(stretches) >= MANY_STRETCHES else None


def gatherings(stretches: Stretches) -> Mixture | None:
    """Return the places where stretches gather, each fit to be a gear; None if there is none."""
    return _without_doubtful(stretches, settle(stretches, _peaks(stretches), SPREAD))


def concentration(
    stretches: Stretches, narrow: float = 0.006, wide: float = 0.025
) -> tuple[float, float]:
    """Return how much better a stretch is foretold by close neighbours than by a smooth density.

    Mean difference of log densities under two kernel widths, the stretch's own hold left out, with
    its standard error: clearly above 0 where different holds gather on gears, below where they
    spread evenly. A rider of a stepless hub, too, holds one ratio for minutes, but not twice the
    same.
    """
    y, w = stretches.ln_development, weights(stretches)
    others = np.abs(stretches.hold[:, None] - stretches.hold) > NEAR_HOLDS
    rest = (others * w).sum(axis=1)

    def log_density(width: float) -> Floats:
        sd = np.hypot(width, stretches.sd)
        kernel = others * w * np.exp(-0.5 * ((y[:, None] - y) / sd) ** 2) / sd
        return np.asarray(np.log(kernel.sum(axis=1) / np.maximum(rest, 1e-9) + 0.01))

    gain = log_density(narrow) - log_density(wide)
    mean = float((w * gain).sum() / w.sum())
    of_hold = np.bincount(stretches.hold, w * (gain - mean))
    return mean, float(np.sqrt((of_hold**2).sum()) / w.sum())


def _peaks(stretches: Stretches) -> Floats:
    """Return the local maxima of the stretches' density, as a first guess of the gears."""
    from scipy.signal import find_peaks

    y, sd = stretches.ln_development, np.hypot(stretches.sd, 0.004)
    grid = np.arange(y.min() - 0.05, y.max() + 0.05, 0.001)
    density = np.zeros(len(grid))
    for middle, width, weight in zip(y, sd, weights(stretches), strict=True):
        density += weight * np.exp(-0.5 * ((grid - middle) / width) ** 2) / width
    at, _ = find_peaks(density, distance=int(MERGE_WITHIN / 0.001))
    return np.asarray(grid[at])


def _without_doubtful(stretches: Stretches, mixture: Mixture) -> Mixture | None:
    """Take away gears that the evidence does not carry, the weakest first, until all stand.

    A gear stands if it was ridden steadily for ``LEAST_S``, is further from its neighbours than
    stretches in one gear scatter, and is worth its two parameters by Schwarz's criterion (1978).
    """
    penalty = np.log(max(float(weights(stretches).sum()), 2.0))
    while len(mixture.centres) > 1:
        doubtful = _weakest(mixture)
        fewer = _refit_without(stretches, mixture, doubtful)
        gaps = np.diff(mixture.centres)
        closest = max(MERGE_WITHIN, 2.5 * mixture.spread)
        too_close = doubtful in (int(np.argmin(gaps)), int(np.argmin(gaps)) + 1)
        forced = mixture.seconds[doubtful] < LEAST_S or (too_close and gaps.min() < closest)
        if not forced and mixture.log_likelihood - fewer.log_likelihood > penalty:
            break
        mixture = fewer
    return mixture if mixture.seconds[0] >= LEAST_S else None


def _weakest(mixture: Mixture) -> int:
    """Return the gear to doubt first: the lesser of two too close, else the least ridden."""
    gaps = np.diff(mixture.centres)
    if gaps.min() < max(MERGE_WITHIN, 2.5 * mixture.spread):
        pair = int(np.argmin(gaps))
        return pair + int(mixture.seconds[pair + 1] < mixture.seconds[pair])
    return int(np.argmin(mixture.seconds))


def _refit_without(stretches: Stretches, mixture: Mixture, gear: int) -> Mixture:
    kept = settle(stretches, np.delete(mixture.centres, gear), spread=mixture.spread, iterations=8)
    order = np.argsort(kept.centres)
    return replace(
        kept,
        centres=kept.centres[order],
        shares=kept.shares[order],
        seconds=kept.seconds[order],
    )
