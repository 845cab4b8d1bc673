"""Where a published ladder sits on the steady stretches: its scale, and how surely.

The scale is the rollout. A maker's steps may also be wrong throughout (another hub than the sheet
says), so a common factor on all steps is tried beside it, believed to be 1 until the rides object.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.align import EXPECTED_SD, FURTHEST, WORTH
from ridelab.gears.mixture import BACKGROUND_DENSITY, BACKGROUND_SHARE, weights

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.ladder import Stated
    from ridelab.gears.observations import Floats
    from ridelab.gears.stretches import Stretches

#: Grid of ln(development) and ln(rollout).
BIN = 0.001
#: Scatter of stretches around their gear beside their own errors: each is tried, since errors that
#: last for minutes do not show within a stretch.
SCATTERS = (0.004, 0.008, 0.016)
#: Widths of a gear for which densities are kept.
WIDTHS = np.geomspace(0.004, 0.06, 12)
#: No stretch comes this near the ends of the grid, where a transform would join them.
MARGIN = 0.2
#: What a wheel is expected to roll, over the stated rollout: loaded tyres roll 1-3 % less than the
#: nominal figure (common practice, no source), a measured figure is right within 1 %.
LOADED = {"nominal": (-0.015, 0.015), "measured": (0.0, 0.008)}
#: Now and then it is another one altogether: a recording device that counts wheel turns is set to a
#: wrong wheel; seldom the tyre is not the stated one, and hardly ever one that was measured.
OTHER_WHEEL_SHARE, OTHER_WHEEL_SD = {"set": 0.05, "nominal": 0.01, "measured": 0.001}, 0.08
#: Without any statement: rollouts of 0.9 to 2.4 m, from a 16 inch wheel to the largest 29 inch one.
ANY_WHEEL = (np.log(0.9), np.log(2.4))
#: Factors on all published steps, and how fast belief in them falls with their distance from 1.
FACTORS = 1.0 + np.arange(-10, 11) * 0.01
FACTOR_DOUBT = 0.008
#: So much likelier, in logarithms, must the stretches of a ride be with a wheel that is off by more
#: than half a step.
FAR_WORTH = 25.0
#: Places less probable than this are left out.
LEAST_PROBABILITY = 0.002


@dataclass(frozen=True)
class Placement:
    """One place where a published ladder may sit.

    ``ln_developments``: of its gears; ``factor``: on all its steps; ``scatter``: of stretches
    around their gear, beside their own errors; ``rollout_m``: that puts it there; ``log_prior``:
    of that rollout, and of what gears depart by, before the rides speak; ``probability``: against
    every other place, a whole gear or more away.
    """

    ln_developments: Floats
    factor: float
    scatter: float
    rollout_m: float
    log_prior: float
    probability: float


def place(stretches: Stretches, ln_ratios: Floats, stated: Stated) -> Placement:
    """Return the likeliest place of a ladder built as published, no gear departing.

    ``ln_ratios`` in order, at least one stretch.
    """
    scales, prior = scale_prior(stated)
    log_posterior = prior + _fits(stretches, ln_ratios, scales)
    log_posterior -= doubt_of_factors()
    posterior = normalised(log_posterior)
    scatter = SCATTERS[int(posterior.sum(axis=(1, 2)).argmax())]
    by_scale = posterior.sum(axis=0)
    factor_at, at = np.unravel_index(int(by_scale.argmax()), by_scale.shape)
    factor, scale = float(FACTORS[factor_at]), float(scales[at])
    developments = scale + stretched(ln_ratios, factor)
    half_step = half_a_step(ln_ratios)
    probability = float(by_scale[:, np.abs(scales - scale) <= half_step].sum())
    return Placement(
        developments, factor, scatter, float(np.exp(scale)), float(prior[at]), probability
    )


def normalised(log_posterior: Floats) -> Floats:
    """Return probabilities, one in all, from their logarithms up to a constant; any shape."""
    posterior = np.exp(log_posterior - log_posterior.max())
    return np.asarray(posterior / posterior.sum())


def doubt_of_factors() -> Floats:
    """Return what each factor on the steps costs before the rides speak, a column."""
    return np.asarray(np.abs(FACTORS - 1.0)[:, None] / FACTOR_DOUBT)


def half_a_step(ln_ratios: Floats) -> float:
    """Return half a usual step: scales within it of each other are one place of the ladder."""
    return 0.5 * (float(np.median(np.diff(ln_ratios))) if len(ln_ratios) > 1 else 1.0)


def stretched(ln_ratios: Floats, factor: float) -> Floats:
    """Return the ladder with all its steps wider by a factor, its middle kept."""
    middle = float(ln_ratios.mean())
    return np.asarray(middle + factor * (ln_ratios - middle))


def _fits(stretches: Stretches, ln_ratios: Floats, scales: Floats) -> Floats:
    """Return the log likelihood of the stretches: (scatters, factors, scales).

    Gears, and drift between them. Moving the ladder past the stretches is a correlation, taken by
    its Fourier transform.
    """
    y = stretches.ln_development
    low = float(y.min() - scales[-1]) - MARGIN
    bins = int(np.ceil((float(y.max() - scales[0]) + MARGIN - low) / BIN)) + 2
    bins += -bins % 256  # a length with large prime factors takes several times as long
    grid = np.asarray(low + BIN * np.arange(bins), dtype=np.float64)
    laid = [
        np.conj(np.fft.rfft(_laid(stretches, by, low + scales[-1], bins), axis=1))
        for by in SCATTERS
    ]
    found = np.empty((len(SCATTERS), len(FACTORS), len(scales)))
    for number, factor in enumerate(FACTORS):
        density = np.fft.rfft(_log_densities(grid, stretched(ln_ratios, factor)), axis=1)
        for scatter, own in enumerate(laid):
            moved = np.fft.irfft((density * own).sum(axis=0), bins)[: len(scales)]
            found[scatter, number] = moved[::-1]
    return found


def _laid(stretches: Stretches, scatter: float, low: float, bins: int) -> Floats:
    """Return the evidence of the stretches on a grid from ``low``: (widths, bins).

    A stretch counts for the two bins and for the two widths beside it, the nearer one more.
    """
    across, at = np.modf((stretches.ln_development - low) / BIN)
    place = np.interp(
        np.log(np.hypot(scatter, stretches.sd)), np.log(WIDTHS), np.arange(len(WIDTHS))
    )
    up = np.minimum(place.astype(np.int64), len(WIDTHS) - 2)
    flat = np.zeros(len(WIDTHS) * bins)
    for row, row_share in ((up, 1.0 + up - place), (up + 1, place - up)):
        for bin_, bin_share in ((at, 1.0 - across), (at + 1.0, across)):
            share = weights(stretches) * row_share * bin_share
            flat += np.bincount(row * bins + bin_.astype(np.int64), share, len(flat))
    return flat.reshape(len(WIDTHS), bins)


def _log_densities(grid: Floats, ln_ratios: Floats) -> Floats:
    """Return the log density of a stretch at each point of the grid, a row for each width."""
    across, at = np.modf((ln_ratios - grid[0]) / BIN)
    inside = (at >= 0) & (at < len(grid) - 1)
    spikes = np.zeros(len(grid))
    for bin_, share in ((at, 1.0 - across), (at + 1.0, across)):
        spikes += np.bincount(bin_[inside].astype(np.int64), share[inside], len(grid))
    spikes /= len(ln_ratios)
    frequency = 2.0 * np.pi * np.fft.rfftfreq(len(grid), BIN)
    blur = np.exp(-0.5 * (WIDTHS[:, None] * frequency) ** 2)
    gears = np.fft.irfft(np.fft.rfft(spikes) * blur, len(grid), axis=1) / BIN
    share = BACKGROUND_SHARE
    return np.log((1.0 - share) * np.maximum(gears, 0.0) + share * BACKGROUND_DENSITY)


def offsets(parts: Sequence[Stretches], placed: Placement) -> Floats:
    """Return ln(wheel of a ride over the wheel of all), one value a ride, their weighted mean 0.

    One recording device may be set to another wheel size than the next. A ride is offset only if
    that makes its stretches clearly likelier under the ladder as placed, and by more than half the
    smallest step only if they are as clear against each place nearer by: on a ladder of fine steps
    a ride would often fit as well a gear further on.
    """
    found = np.zeros(len(parts))
    evidence = np.array([float(weights(part).sum()) for part in parts])
    for ride, part in enumerate(parts):
        if len(part):
            found[ride] = offset_of(part, placed.ln_developments, placed.scatter)
    return np.asarray(found - (evidence * found).sum() / max(float(evidence.sum()), 1e-9))


def offset_of(part: Stretches, ln_developments: Floats, scatter: float) -> float:
    """Return by how much a ride is offset from a ladder, 0 unless clearly: see ``offsets``.

    ``scatter``: of stretches around their gear, in ln(development).
    """
    tried = np.arange(-FURTHEST, FURTHEST + BIN / 2, BIN)
    unmoved = int(np.abs(tried).argmin())
    step = float(np.diff(ln_developments).min(initial=2.0 * FURTHEST))
    far = np.where(np.abs(tried) > 0.5 * step, FAR_WORTH, 0.0)
    width = np.hypot(scatter, part.sd)[:, None, None]
    z = (part.ln_development[:, None, None] - tried[:, None] - ln_developments) / width
    gears = (np.exp(-0.5 * z * z) / (np.sqrt(2.0 * np.pi) * width)).mean(axis=2)
    share = BACKGROUND_SHARE
    density = np.log((1.0 - share) * gears + share * BACKGROUND_DENSITY)
    posterior = weights(part) @ density - 0.5 * (tried / EXPECTED_SD) ** 2 - far
    best = int(posterior.argmax())
    return float(tried[best]) if posterior[best] - posterior[unmoved] > WORTH else 0.0


def scale_prior(stated: Stated) -> tuple[Floats, Floats]:
    """Return ln(rollout) on a grid and its log prior, up to a constant."""
    if stated.rollout_m is None:
        scales = np.arange(*ANY_WHEEL, BIN)
        return scales, np.zeros(len(scales))
    off = np.arange(-0.25, 0.25, BIN)
    known = "measured" if stated.rollout_is_measured else "nominal"
    middle, sd = LOADED[known]
    other_share = OTHER_WHEEL_SHARE["set" if stated.wheel_is_set else known]
    usual = np.exp(-0.5 * ((off - middle) / sd) ** 2) / sd
    other = np.exp(-0.5 * (off / OTHER_WHEEL_SD) ** 2) / OTHER_WHEEL_SD
    density = (1.0 - other_share) * usual + other_share * other
    return np.log(stated.rollout_m) + off, np.log(density)
