"""Steady stretches as a mixture: each gear a narrow normal distribution, drift a flat background.

Expectation maximisation after Dempster, Laird and Rubin (1977), with known measurement errors and
one shared spread. The background keeps a stretch that fits no gear from pulling one towards it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from ridelab.gears.observations import Floats
    from ridelab.gears.stretches import Stretches

#: Share and density of the background, the latter per unit of ln(development).
BACKGROUND_SHARE = 0.05
BACKGROUND_DENSITY = 0.4
#: Bounds of the shared spread between stretches in one gear.
SPREAD_LIMITS = (0.001, 0.012)
#: A stretch of this many seconds counts as one piece of evidence, a longer one as more.
ONE_PIECE_S = 8.0
#: A gear with less evidence than this says nothing of where a ladder sits.
LEAST_PIECES = 0.5


@dataclass(frozen=True)
class Anchor:
    """Where a published ladder expects the gears, up to a common scale, and how firmly.

    ``ln_ratios``: published; ``sd``: of a gear's departure from its published ratio.
    """

    ln_ratios: Floats
    sd: float


@dataclass(frozen=True)
class Mixture:
    """A fitted mixture; arrays have one entry a gear.

    ``centres``: ln(development); ``shares``: of the weighted stretches; ``seconds``: of steady
    riding that fall to the gear; ``log_likelihood``: weighted sum over the stretches.
    """

    centres: Floats
    shares: Floats
    seconds: Floats
    spread: float
    log_likelihood: float


@dataclass(frozen=True)
class Gathered:
    """Gears as the stretches have them, whatever is published; arrays have one entry a gear.

    ``precisions``: of the mean ln(development), from the stretches alone; ``worth``: log likelihood
    that would be lost without the gear.
    """

    ln_developments: Floats
    precisions: Floats
    worth: Floats


def weights(stretches: Stretches) -> Floats:
    """Return how many pieces of evidence each stretch is."""
    w: Floats = stretches.seconds / ONE_PIECE_S
    return w


def settle(
    stretches: Stretches,
    centres: Floats,
    spread: float,
    anchor: Anchor | None = None,
    iterations: int = 30,
) -> Mixture:
    """Fit the mixture from ``centres``, the spread shrinking from ``spread`` to what the data show.

    Beginning wide lets a gear whose published ratio is wrong by a few per cent find its stretches.
    """
    w = weights(stretches)
    shares = np.full(len(centres), 1.0 / len(centres))
    for _ in range(iterations):
        member, log_likelihood = _members(stretches, centres, shares, spread, w)
        centres = _centres(stretches, centres, member, spread, anchor)
        shares = (member.sum(axis=0) + 0.5) / (member.sum() + 0.5 * len(centres))
        spread = max(_spread(stretches, centres, member), 0.75 * spread)
        spread = float(np.clip(spread, SPREAD_LIMITS[0], max(SPREAD_LIMITS[1], 0.75 * spread)))
    member, log_likelihood = _members(stretches, centres, shares, spread, w)
    seconds = (member / np.maximum(w, 1e-9)[:, None] * stretches.seconds[:, None]).sum(axis=0)
    return Mixture(centres, shares, seconds, spread, log_likelihood)


def gathered(stretches: Stretches, mixture: Mixture) -> Gathered:
    """Return the gears of a mixture as far as stretches fall to them, without any anchor."""
    w = weights(stretches)
    shares = np.full(len(mixture.centres), 1.0 / len(mixture.centres))
    member, _ = _members(stretches, mixture.centres, shares, mixture.spread, w)
    ridden = member.sum(axis=0) > LEAST_PIECES
    member = member[:, ridden]
    precision = member / (stretches.sd**2 + mixture.spread**2)[:, None]
    total = precision.sum(axis=0)
    means = (precision * stretches.ln_development[:, None]).sum(axis=0) / total
    others = 1.0 - member / np.maximum(w, 1e-9)[:, None]
    worth = -(w[:, None] * np.log(np.maximum(others, 1e-12))).sum(axis=0)
    return Gathered(means, total, worth)


def _members(
    stretches: Stretches, centres: Floats, shares: Floats, spread: float, w: Floats
) -> tuple[Floats, float]:
    """Return each stretch's weighted membership in each gear, and the log likelihood."""
    sd = np.hypot(stretches.sd, spread)[:, None]
    z = (stretches.ln_development[:, None] - centres) / sd
    density = (1.0 - BACKGROUND_SHARE) * shares * np.exp(-0.5 * z * z) / (np.sqrt(2 * np.pi) * sd)
    total = density.sum(axis=1) + BACKGROUND_SHARE * BACKGROUND_DENSITY
    return w[:, None] * density / total[:, None], float((w * np.log(total)).sum())


def _centres(
    stretches: Stretches, centres: Floats, member: Floats, spread: float, anchor: Anchor | None
) -> Floats:
    precision = member / (stretches.sd**2 + spread**2)[:, None]
    total = precision.sum(axis=0)
    weighted = (precision * stretches.ln_development[:, None]).sum(axis=0)
    if anchor is None:
        return np.where(total > 0, weighted / np.maximum(total, 1e-12), centres)
    seen = total > 1.0
    departure = np.where(seen, weighted / np.maximum(total, 1e-12) - anchor.ln_ratios, 0.0)
    scale = robust_middle(departure[seen], total[seen]) if seen.any() else centres[0]
    if not seen.any():
        scale = float(np.median(centres - anchor.ln_ratios))
    firm = anchor.sd**-2.0
    expected = scale + anchor.ln_ratios
    return np.asarray((weighted + firm * expected) / (total + firm))


def _spread(stretches: Stretches, centres: Floats, member: Floats) -> float:
    """Return the spread beyond the stretches' own errors, by the method of moments."""
    residual2 = (stretches.ln_development[:, None] - centres) ** 2 - stretches.sd[:, None] ** 2
    return float(np.sqrt(max((member * residual2).sum() / max(member.sum(), 1e-9), 0.0)))


def robust_middle(values: Floats, precision: Floats, tolerance: float = 0.003) -> float:
    """Return a location of ``values`` that a minority of wrong ones cannot move far.

    Huber's M-estimate (Huber 1964) by reweighting, from the weighted median, with precisions capped
    so that no single gear dictates; ``tolerance`` is the departure that counts as ordinary.
    """
    weight = 1.0 / (1.0 / np.maximum(precision, 1e-12) + tolerance**2)
    order = np.argsort(values)
    cumulative = np.cumsum(weight[order])
    middle = float(values[order][np.searchsorted(cumulative, cumulative[-1] / 2.0)])
    for _ in range(20):
        pull = weight * np.minimum(1.0, tolerance / np.maximum(np.abs(values - middle), 1e-12))
        middle = float((pull * values).sum() / pull.sum())
    return middle
