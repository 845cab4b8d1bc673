"""Where a published ladder sits on the steady stretches: its scale, and how surely.

The scale is the rollout. A maker's steps may also be wrong throughout (another hub than the sheet
says), so a common factor on all steps is tried beside it, believed to be 1 until the rides object.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.mixture import BACKGROUND_DENSITY, BACKGROUND_SHARE, weights

if TYPE_CHECKING:
    from ridelab.gears.ladder import Stated
    from ridelab.gears.observations import Floats
    from ridelab.gears.stretches import Stretches

#: Grid of ln(development) and ln(rollout).
BIN = 0.0005
#: Scatter of a stretch around its gear beside its own error.
WIDTH = 0.005
#: What a wheel is expected to roll, over the stated rollout: loaded tyres roll 1-3 % less than the
#: nominal figure (common practice, no source), a measured figure is right within 1 %, and now and
#: then the tyre or the recording device's wheel setting is another one altogether.
LOADED = {"nominal": (-0.015, 0.015), "measured": (0.0, 0.008)}
OTHER_WHEEL_SHARE, OTHER_WHEEL_SD = 0.05, 0.08
#: Without any statement: rollouts of 0.9 to 2.4 m, from a 16 inch wheel to the largest 29 inch one.
ANY_WHEEL = (np.log(0.9), np.log(2.4))
#: Factors on all published steps, and how fast belief in them falls with their distance from 1.
FACTORS = 1.0 + np.arange(-20, 21) * 0.005
FACTOR_DOUBT = 0.008


@dataclass(frozen=True)
class Placement:
    """The most probable placement of a published ladder.

    ``ln_developments``: of its gears; ``factor``: on all its steps; ``probability``: of this
    placement against every other, a whole gear or more away; ``others``: the rollouts of those
    others that keep some probability, the most probable first.
    """

    ln_developments: Floats
    factor: float
    probability: float
    others: tuple[float, ...]


def place(stretches: Stretches, ln_ratios: Floats, stated: Stated) -> Placement:
    """Return where a published ladder sits; ``ln_ratios`` in order, at least one stretch."""
    scales, prior = _scale_prior(stated)
    middle = float(ln_ratios.mean())
    stretched = middle + FACTORS[:, None] * (ln_ratios - middle)
    doubt = np.abs(FACTORS - 1.0) / FACTOR_DOUBT
    log_posterior = prior + _fits(stretches, stretched, scales) - doubt[:, None]
    posterior = np.exp(log_posterior - log_posterior.max())
    factor_at, scale_at = np.unravel_index(int(posterior.argmax()), posterior.shape)
    factor, best = float(FACTORS[factor_at]), float(scales[scale_at])
    probability, others = _rivals(scales, posterior.sum(axis=0), best, ln_ratios)
    return Placement(best + stretched[factor_at], factor, probability, others)


def _fits(stretches: Stretches, ladders: Floats, scales: Floats) -> Floats:
    """Return the log likelihood of the stretches, gears and drift between them: (ladders, scales).

    ``ladders``: ln(ratio), one row each; ``scales``: ln(rollout), ``BIN`` apart. A scale moves all
    stretches along the density by as many bins, so the sum over them is a correlation. A stretch
    counts for the two bins beside it, the nearer one more.
    """
    low = float(stretches.ln_development.min() - scales[-1])
    share, bins = np.modf((stretches.ln_development - scales[-1] - low) / BIN)
    beside = np.concatenate([bins, bins + 1.0]).astype(np.int64)
    evidence = np.bincount(
        beside, np.concatenate([1.0 - share, share]) * np.tile(weights(stretches), 2)
    )
    width = float(np.hypot(WIDTH, np.median(stretches.sd)))
    length = len(evidence) + len(scales) - 1
    gears = _combs(ladders, width, low, length)
    density = np.log((1 - BACKGROUND_SHARE) * gears + BACKGROUND_SHARE * BACKGROUND_DENSITY)
    size = 1 << length.bit_length()
    spectrum = np.fft.rfft(density, size) * np.conj(np.fft.rfft(evidence, size))
    return np.asarray(np.fft.irfft(spectrum, size)[:, len(scales) - 1 :: -1])


def _combs(ladders: Floats, width: float, low: float, length: int) -> Floats:
    """Return each ladder's density in ``length`` bins from ``low``, its gears normal distributions.

    Eight standard deviations away a gear has left nothing that the drift would not hide.
    """
    reach = int(np.ceil(8.0 * width / BIN))
    nearest = np.round((ladders - low) / BIN).astype(np.int64)
    bins = nearest[:, :, None] + np.arange(-reach, reach + 1)
    z = (low + BIN * bins - ladders[:, :, None]) / width
    row = np.arange(len(ladders))[:, None, None] * length
    inside = (bins >= 0) & (bins < length)
    summed = np.bincount(
        (row + bins)[inside], np.exp(-0.5 * z * z)[inside], minlength=len(ladders) * length
    )
    return np.asarray(
        summed.reshape(len(ladders), -1) / (np.sqrt(2 * np.pi) * width * ladders.shape[1])
    )


def _scale_prior(stated: Stated) -> tuple[Floats, Floats]:
    """Return ln(rollout) on a grid and its log prior, up to a constant."""
    if stated.rollout_m is None:
        scales = np.arange(*ANY_WHEEL, BIN)
        return scales, np.zeros(len(scales))
    off = np.arange(-0.25, 0.25, BIN)
    middle, sd = LOADED["measured" if stated.rollout_is_measured else "nominal"]
    usual = np.exp(-0.5 * ((off - middle) / sd) ** 2) / sd
    other = np.exp(-0.5 * (off / OTHER_WHEEL_SD) ** 2) / OTHER_WHEEL_SD
    density = (1.0 - OTHER_WHEEL_SHARE) * usual + OTHER_WHEEL_SHARE * other
    return np.log(stated.rollout_m) + off, np.log(density)


def _rivals(
    scales: Floats, posterior: Floats, best: float, ln_ratios: Floats
) -> tuple[float, tuple[float, ...]]:
    """Return the probability of the best placement and the rollouts of the others.

    Placements within half a usual step of each other are the same one.
    """
    half_step = 0.5 * (float(np.median(np.diff(ln_ratios))) if len(ln_ratios) > 1 else 1.0)
    left = posterior / posterior.sum()
    here = np.abs(scales - best) <= half_step
    probability = float(left[here].sum())
    left = np.where(here, 0.0, left)
    others: list[float] = []
    while left.max() > 0 and len(others) < len(ln_ratios):
        rival = float(scales[int(left.argmax())])
        near = np.abs(scales - rival) <= half_step
        if left[near].sum() < 0.01:
            break
        others.append(float(np.exp(rival)))
        left = np.where(near, 0.0, left)
    return probability, tuple(others)
