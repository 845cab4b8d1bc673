"""Steady stretches -> where the gears are, with a published ladder to match or without one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.mixture import (
    BACKGROUND_DENSITY,
    BACKGROUND_SHARE,
    Anchor,
    Mixture,
    settle,
    weights,
)

if TYPE_CHECKING:
    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.observations import Floats
    from ridelab.gears.stretches import Stretches

#: A gear is told of only if engaged for this long (design.md, section 4).
LEAST_S = 10.0
#: Gears closer than this share one (design.md, section 1: ``merge_within``).
CLOSEST = 0.015
#: What a wheel is expected to roll, over the stated rollout: loaded tyres roll 1-3 % less than the
#: nominal figure (common practice, no source), a measured figure is right within 1 %, and now and
#: then the tyre or the recording device's wheel setting is another one altogether.
LOADED = {"nominal": (-0.015, 0.015), "measured": (0.0, 0.008)}
OTHER_WHEEL_SHARE, OTHER_WHEEL_SD = 0.05, 0.08
#: Another placement of the whole ladder is told of from this probability on.
WORTH_SAYING = 0.05
#: Without any statement: rollouts of 0.9 to 2.4 m, from a 16 inch wheel to the largest 29 inch one.
ANY_WHEEL = (np.log(0.9), np.log(2.4))
#: A gear departs from its published ratio by about this much before the rides speak.
DEPARTURE_SD = 0.01
#: Fewer stretches than this are no ground to find a ladder on.
LEAST_STRETCHES = 8
#: This many settle whether there are gears at all.
MANY_STRETCHES = 20
#: On gears, at least this share of the pedalled seconds lies; else there is no ladder to name.
LEAST_SHARE_ON_GEARS = 1.0 / 3.0


@dataclass(frozen=True)
class Stated:
    """What is published of a drivetrain and stated of a wheel, before any ride speaks.

    ``rollout_m``: metres per wheel turn; nominal unless ``rollout_is_measured``.
    """

    ladder: Ladder | None = None
    rollout_m: float | None = None
    rollout_is_measured: bool = False

    @property
    def stepless(self) -> bool:
        """Whether the drivetrain is published as stepless."""
        return self.ladder is not None and self.ladder.stepless


@dataclass(frozen=True)
class Rungs:
    """A ladder in use: ln(development) of each gear, lowest first.

    ``ln_ratios`` are the published ones, None without a published ladder; ``slide`` tells, in
    words, of another whole-gear placement that the rides cannot exclude.
    """

    ln_developments: Floats
    ln_ratios: Floats | None = None
    slide: str | None = None

    @property
    def count(self) -> int:
        """Return the number of gears."""
        return len(self.ln_developments)


@dataclass(frozen=True)
class NoLadder:
    """Why no ladder can be named; ``continuous`` where the development varies without steps."""

    reason: str
    continuous: bool = False


def match(stretches: Stretches, published: Ladder, stated: Stated) -> Rungs | NoLadder:
    """Place a published ladder on the stretches: one scale, then a small departure of each gear."""
    if len(stretches) == 0:
        return NoLadder("no steady pedalling: the published ladder cannot be placed")
    ln_ratios = np.log(np.array(published.ratios))
    scales, log_posterior = _scale_posterior(stretches, ln_ratios, stated)
    best = float(scales[np.argmax(log_posterior)])
    slide = _slide(scales, log_posterior, best, ln_ratios)
    start = float(np.clip(np.diff(ln_ratios).min(initial=0.1) / 4.0, 0.004, 0.03))
    mixture = settle(
        stretches, best + ln_ratios, spread=start, anchor=Anchor(ln_ratios, DEPARTURE_SD)
    )
    return Rungs(np.sort(mixture.centres), ln_ratios, slide)


def _scale_posterior(
    stretches: Stretches, ln_ratios: Floats, stated: Stated
) -> tuple[Floats, Floats]:
    """Return ln(rollout) on a grid and its log posterior, up to a constant."""
    scales, prior = _scale_prior(stated)
    sd = np.hypot(stretches.sd, 0.006)[:, None]
    y, w = stretches.ln_development[:, None], weights(stretches)
    evidence = np.empty(len(scales))
    floor = BACKGROUND_SHARE * BACKGROUND_DENSITY
    height = (1 - BACKGROUND_SHARE) / len(ln_ratios) / (np.sqrt(2 * np.pi) * sd)
    for i, scale in enumerate(scales):
        z = (y - scale - ln_ratios) / sd
        evidence[i] = (w * np.log((height * np.exp(-0.5 * z * z)).sum(axis=1) + floor)).sum()
    return scales, evidence + prior


def _scale_prior(stated: Stated) -> tuple[Floats, Floats]:
    """Return ln(rollout) on a grid and its log prior, up to a constant."""
    if stated.rollout_m is None:
        scales = np.arange(*ANY_WHEEL, 0.001)
        return scales, np.zeros(len(scales))
    off = np.arange(-0.25, 0.25, 0.001)
    middle, sd = LOADED["measured" if stated.rollout_is_measured else "nominal"]
    usual = np.exp(-0.5 * ((off - middle) / sd) ** 2) / sd
    other = np.exp(-0.5 * (off / OTHER_WHEEL_SD) ** 2) / OTHER_WHEEL_SD
    density = (1.0 - OTHER_WHEEL_SHARE) * usual + OTHER_WHEEL_SHARE * other
    return np.log(stated.rollout_m) + off, np.log(density)


def _slide(scales: Floats, log_posterior: Floats, best: float, ln_ratios: Floats) -> str | None:
    """Say which other placement keeps ``WORTH_SAYING`` of the posterior or more, if any does.

    Placements within half the smallest step of the best are the same placement.
    """
    if len(ln_ratios) < 2:
        return None
    posterior = np.exp(log_posterior - log_posterior.max())
    elsewhere = np.abs(scales - best) > 0.5 * np.diff(ln_ratios).min()
    share = float(posterior[elsewhere].sum() / posterior.sum())
    if share < WORTH_SAYING:
        return None
    other = float(scales[elsewhere][np.argmax(log_posterior[elsewhere])])
    return (
        f"the whole ladder may sit elsewhere: a rollout of {np.exp(other):.3f} m instead of "
        f"{np.exp(best):.3f} m fits the rides too (probability {share:.0%}); "
        "measure the rollout, or ride more of the gears"
    )


def discover(stretches: Stretches, pedalled_s: float) -> Rungs | NoLadder:
    """Find the gears from the stretches alone: as many as the evidence carries."""
    if len(stretches) < LEAST_STRETCHES:
        return NoLadder(
            f"{len(stretches)} steady stretches of pedalling, {LEAST_STRETCHES} are needed to "
            "find a ladder"
        )
    gain, error = _concentration(stretches)
    if gain - 2.0 * error <= 0.0:
        if gain + 2.0 * error < 0.1 or len(stretches) >= MANY_STRETCHES:
            return NoLadder("development varies without steps: no gears are named", continuous=True)
        return NoLadder(
            f"{len(stretches)} steady stretches of pedalling do not tell gears from chance; ride "
            f"each gear steadily, {MANY_STRETCHES} stretches or more"
        )
    mixture = _without_doubtful(stretches, settle(stretches, _peaks(stretches), spread=0.006))
    if mixture is None or mixture.seconds.sum() < LEAST_SHARE_ON_GEARS * pedalled_s:
        return NoLadder(
            "less than a third of the pedalled time holds a steady development: no gears are named",
            continuous=True,
        )
    return Rungs(mixture.centres)


def _concentration(
    stretches: Stretches, narrow: float = 0.008, wide: float = 0.05
) -> tuple[float, float]:
    """Return how much better a stretch is foretold by close neighbours than by a smooth density.

    Mean difference of leave-one-out log densities under two kernel widths, with its standard error:
    clearly above 0 where stretches gather on gears, below where they spread evenly.
    """
    y, w = stretches.ln_development, weights(stretches)

    def log_density(width: float) -> Floats:
        sd = np.hypot(width, stretches.sd)
        kernel = w * np.exp(-0.5 * ((y[:, None] - y) / sd) ** 2) / sd
        np.fill_diagonal(kernel, 0.0)
        return np.asarray(np.log(kernel.sum(axis=1) / (w.sum() - w) + 0.01))

    gain = log_density(narrow) - log_density(wide)
    mean = float((w * gain).sum() / w.sum())
    error = float(np.sqrt((w**2 * (gain - mean) ** 2).sum()) / w.sum())
    return mean, error


def _peaks(stretches: Stretches) -> Floats:
    """Return the local maxima of the stretches' density, as a first guess of the gears."""
    from scipy.signal import find_peaks

    y, sd = stretches.ln_development, np.hypot(stretches.sd, 0.004)
    grid = np.arange(y.min() - 0.05, y.max() + 0.05, 0.001)
    density = np.zeros(len(grid))
    for middle, width, weight in zip(y, sd, weights(stretches), strict=True):
        density += weight * np.exp(-0.5 * ((grid - middle) / width) ** 2) / width
    at, _ = find_peaks(density, distance=int(CLOSEST / 0.001))
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
        closest = max(CLOSEST, 2.5 * mixture.spread)
        too_close = doubtful in (int(np.argmin(gaps)), int(np.argmin(gaps)) + 1)
        forced = mixture.seconds[doubtful] < LEAST_S or (too_close and gaps.min() < closest)
        if not forced and mixture.log_likelihood - fewer.log_likelihood > penalty:
            break
        mixture = fewer
    return mixture if mixture.seconds[0] >= LEAST_S else None


def _weakest(mixture: Mixture) -> int:
    """Return the gear to doubt first: the lesser of two too close, else the least ridden."""
    gaps = np.diff(mixture.centres)
    if gaps.min() < max(CLOSEST, 2.5 * mixture.spread):
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
