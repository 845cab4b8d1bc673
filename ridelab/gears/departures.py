"""Gears as gathered and a published ladder -> where it may sit, any gear departing from its sheet.

A ladder taken to be built exactly as published would rather slide by a whole gear, wheel and all,
than own that one gear is another: every stretch in that gear would count against its place. Here it
is the gear that departs, once, however long it was ridden.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.placement import (
    FACTORS,
    LEAST_PROBABILITY,
    Placement,
    doubt_of_factors,
    half_a_step,
    normalised,
    scale_prior,
    stretched,
)

if TYPE_CHECKING:
    from ridelab.gears.ladder import Stated
    from ridelab.gears.mixture import Gathered
    from ridelab.gears.observations import Floats

#: Gears are built as published, within the last digit of a data sheet and what a tyre or a sensor
#: is off by in one gear and not in the next,
AS_PUBLISHED = 0.003
#: but for a few, that are another sprocket, or misprinted (common practice, no source).
ANOTHER_SHARE, ANOTHER_SD = 0.05, 0.03
#: What it costs, in logarithms of a probability, that riding gathers where nobody published a gear,
#: however long: soft pedalling can hold still, and a gear may be missing from a data sheet.
STRANGER_COST = 15.0
#: What gathers above the top gear may be soft pedalling up to this share of all worth.
SOFT_SHARE = 0.005


@dataclass(frozen=True)
class Published:
    """What is published, in logarithms: ``ratios`` of gears, ``combinations`` of all, in order."""

    ratios: Floats
    combinations: Floats


def places(
    found: Gathered, published: Published, stated: Stated, scatter: float
) -> list[Placement]:
    """Return where a published ladder may sit, the most probable first.

    Places within half a usual step of each other are the same one; those that keep less than
    ``LEAST_PROBABILITY`` are left out. Soft pedalling gathers above the top gear, the more the
    longer the rides, and so speaks for a slide: a place nearer to the stated wheel that would be
    kept if it did not is kept, for decoding to tell. ``log_prior`` of each is that of its rollout
    and of the departures that it takes.
    """
    scales, prior = scale_prior(stated)
    departing, likelihood, above = _weighed(found, published, scales)
    log_prior = departing + prior - doubt_of_factors()
    posterior = normalised(likelihood + prior - doubt_of_factors())
    stated_first = np.where(prior > prior[_at_most(posterior)[1]], 1.0, 0.0)
    if_soft = stated_first * normalised(likelihood + above + prior - doubt_of_factors())
    half_step = half_a_step(published.ratios)
    made: list[Placement] = []
    while len(made) < len(published.ratios):
        left = np.maximum(posterior, if_soft)
        factor_at, at = _at_most(left if made else posterior)
        near = np.abs(scales - scales[at]) <= half_step
        if made and left[:, near].sum() < LEAST_PROBABILITY:
            break
        factor, scale = float(FACTORS[factor_at]), float(scales[at])
        developments = scale + stretched(published.ratios, factor)
        before, probability = float(log_prior[factor_at, at]), float(posterior[:, near].sum())
        made.append(
            Placement(developments, factor, scatter, float(np.exp(scale)), before, probability)
        )
        posterior, if_soft = np.where(near, 0.0, posterior), np.where(near, 0.0, if_soft)
    return sorted(made, key=lambda one: -one.probability)


def _at_most(values: Floats) -> tuple[int, int]:
    """Return row and column of the largest value."""
    row, column = np.unravel_index(int(values.argmax()), values.shape)
    return int(row), int(column)


def _weighed(
    found: Gathered, published: Published, scales: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return the log evidence of the departures, of all stretches, and of those above the ladder.

    Each (factors, scales). A gear as gathered is the nearest published one, departing, or one that
    nobody published, or none: then its worth is lost. The first knows of departures only, for
    decoding tells what else there is; the last is what soft pedalling above the top gear has lost.
    """
    departing = np.empty((len(FACTORS), len(scales)))
    likelihood, above = np.empty_like(departing), np.empty_like(departing)
    for number, factor in enumerate(FACTORS):
        middle = float(published.ratios.mean())
        ladder = middle + factor * (published.combinations - middle)
        at = found.ln_developments - scales[:, None]
        off = _off(at, ladder)
        gears = log_evidence(off, found.precisions)
        departs = gears > np.maximum(-STRANGER_COST, -found.worth)
        departing[number] = np.where(departs, gears, 0.0).sum(axis=1)
        each = np.maximum(np.maximum(gears, -STRANGER_COST), -found.worth)
        likelihood[number] = each.sum(axis=1)
        beyond = (at > ladder[-1]) & ~departs
        is_soft = (found.worth * beyond).sum(axis=1) < SOFT_SHARE * found.worth.sum()
        above[number] = np.where(is_soft, -(each * beyond).sum(axis=1), 0.0)
    return departing, likelihood, above


def _off(at: Floats, ladder: Floats) -> Floats:
    """Return how far each is from the nearest gear; infinite half a step beyond the ends."""
    edges = 0.5 * (ladder[1:] + ladder[:-1])
    off = np.asarray(at - ladder[np.searchsorted(edges, at)])
    if len(ladder) > 1:
        low, high = 1.5 * ladder[0] - 0.5 * ladder[1], 1.5 * ladder[-1] - 0.5 * ladder[-2]
        off[(at < low) | (at > high)] = np.inf
    return off


def log_evidence(off: Floats, precision: Floats) -> Floats:
    """Return the log marginal likelihood of gears this far off, over that of each at its mean.

    The departure is integrated out: N(0, ``AS_PUBLISHED``), or N(0, ``ANOTHER_SD``) for a share of
    the gears. One gear far off costs some six, however well it is known.
    """
    density = np.zeros(off.shape)
    for share, sd in ((1.0 - ANOTHER_SHARE, AS_PUBLISHED), (ANOTHER_SHARE, ANOTHER_SD)):
        variance = sd**2 + 1.0 / precision
        density += share / np.sqrt(variance * precision) * np.exp(-0.5 * off**2 / variance)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(density))
