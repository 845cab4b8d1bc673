"""Steady stretches alone -> whether there are gears at all, and where they are."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.counting import count_gears
from ridelab.gears.gear_mixture import evidence_weights
from ridelab.gears.ladder import NoLadder, Rungs, counted
from ridelab.gears.mixture import BACKGROUND_DENSITY, BACKGROUND_SHARE

if TYPE_CHECKING:
    from ridelab.gears.observations import Floats
    from ridelab.gears.stretches import Stretches

#: Fewer stretches than this are no ground to find a ladder on.
LEAST_STRETCHES = 8
#: This many settle whether there are gears at all.
MANY_STRETCHES = 20
#: On gears, at least this share of the pedalled seconds lies; else there is no ladder to name.
LEAST_SHARE_ON_GEARS = 1.0 / 3.0
#: Gain of ``concentration`` from which on there are gears, in nats a stretch, if it is that many
#: standard errors from none; and up to which there are none, two standard errors included.
GATHERED, SURE, SPREAD_OUT = 0.15, 3.0, 0.2
#: Holds this close in time may be one ratio that a hand drifts away from.
NEAR_HOLDS = 1
#: Two stretches in one gear differ by this much beside their own errors, which may be so many times
#: what they say. A smooth density varies over so many times that, and at least over half a usual
#: step.
OTHER_SD, ERROR_FACTORS, SMOOTH, SMOOTH_LEAST = 0.003, (0.4, 0.7, 1.0, 1.3), 3.0, 0.02
#: Riding is called stepless only if gears so far apart would have shown more clearly.
SMALL_STEP = 0.1
#: More stretches are thinned: kernels compare each with each.
MOST_STRETCHES = 1000


def discover(stretches: Stretches, pedalled_s: float) -> Rungs | NoLadder:
    """Find the gears from the stretches alone: as many as the evidence carries."""
    if len(stretches) < LEAST_STRETCHES:
        return NoLadder(
            f"{len(stretches)} steady stretches of pedalling, {LEAST_STRETCHES} are needed to "
            "find a ladder"
        )
    unsteady = NoLadder(
        "less than a third of the pedalled time holds a steady development: no gears are named"
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
    found = count_gears(stretches)
    if found is None or found.seconds.sum() < LEAST_SHARE_ON_GEARS * pedalled_s:
        return unsteady
    probabilities = tuple(found.probabilities.items())
    return replace(counted(found.centres), count_probabilities=probabilities)


def gathers(stretches: Stretches) -> bool | None:
    """Return whether riding gathers on gears, or spreads without steps; None: neither is sure."""
    gain, error = concentration(stretches)
    if gain > GATHERED and gain > SURE * error:
        return True
    if gain + 2.0 * error >= SPREAD_OUT or len(stretches) < MANY_STRETCHES:
        return None
    expected, doubt = concentration(_on_gears(stretches))
    return False if expected - gain > SURE * np.hypot(error, doubt) else None


def _on_gears(stretches: Stretches) -> Stretches:
    """Return what the same holds would be if the vehicle had gears, ``SMALL_STEP`` apart.

    Each is moved to the nearest rung, and its stretches are scattered again.
    """
    _, hold = np.unique(stretches.hold, return_inverse=True)
    held = np.bincount(hold, stretches.ln_development) / np.bincount(hold)
    rungs = SMALL_STEP * np.round(held / SMALL_STEP)
    scatter = np.hypot(OTHER_SD, max(ERROR_FACTORS) * stretches.sd)
    moved = rungs[hold] + scatter * np.random.default_rng(0).standard_normal(len(hold))
    return replace(stretches, ln_development=moved)


def concentration(stretches: Stretches) -> tuple[float, float]:
    """Return how much better a stretch is foretold by close neighbours than by a smooth density.

    Mean difference of log densities under two kernels, the stretch's own hold left out, with its
    standard error: clearly above 0 where different holds gather on gears, below where they spread
    evenly. A rider of a stepless hub, too, holds one ratio for minutes, but not twice the same. The
    narrow kernel is the scatter of two stretches in one gear, the wide one hides steps between; of
    several estimates of that scatter the most telling one counts.
    """
    few = _thinned(stretches)
    w = evidence_weights(few)
    others = w * (np.abs(few.hold[:, None] - few.hold) > NEAR_HOLDS)
    others /= np.maximum(others.sum(axis=1, keepdims=True), 1e-9)
    apart2 = (few.ln_development[:, None] - few.ln_development) ** 2
    found = []
    for factor in ERROR_FACTORS:
        own = OTHER_SD**2 + (factor * few.sd) ** 2
        narrow = own[:, None] + own
        smooth = np.maximum(SMOOTH**2 * narrow, SMOOTH_LEAST**2)
        gain = _log_density(others, apart2, narrow) - _log_density(others, apart2, smooth)
        mean = float((w * gain).sum() / w.sum())
        of_hold = np.bincount(few.hold, w * (gain - mean))
        found.append((mean, float(np.sqrt((of_hold**2).sum()) / w.sum())))
    return max(found)


def _log_density(others: Floats, apart2: Floats, variance: Floats) -> Floats:
    """Return the log density at each stretch of the others, blurred, on a flat background."""
    kernel = np.exp(-0.5 * apart2 / variance) / np.sqrt(2.0 * np.pi * variance)
    density = (1.0 - BACKGROUND_SHARE) * (others * kernel).sum(axis=1)
    return np.asarray(np.log(density + BACKGROUND_SHARE * BACKGROUND_DENSITY))


def _thinned(stretches: Stretches) -> Stretches:
    """Return at most ``MOST_STRETCHES``, every so many-th of them in order of development."""
    every = 1 + (len(stretches) - 1) // MOST_STRETCHES
    chosen = np.zeros(len(stretches), dtype=bool)
    chosen[np.argsort(stretches.ln_development, kind="stable")[::every]] = True
    return stretches.where(chosen)
