"""Steady stretches and a published ladder -> where its gears are: one scale, small departures."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.ladder import NoLadder, Rungs
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
    from ridelab.gears.ladder import Stated
    from ridelab.gears.observations import Floats
    from ridelab.gears.stretches import Stretches

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
#: Stretches further than this from every gear, in ln(development), belong to none.
ASTRAY = 0.012
#: That many seconds of them at one place are a gear of the published ladder if an unridden one is
#: this near and no other lies between;
STRANGER_S = 20.0
FURTHEST_DEPARTURE = 0.10
#: that many are told of if not. Soft pedalling, too, can hold still above a gear for a while.
STRANGER_TOLD_S = 60.0


def match(stretches: Stretches, published: Ladder, stated: Stated) -> Rungs | NoLadder:
    """Place a published ladder on the stretches.

    One scale is found first, then a small departure of each gear from its published ratio. Steady
    riding far from every gear moves an unridden neighbour there, or is told of in ``doubts``.
    """
    if len(stretches) == 0:
        return NoLadder("no steady pedalling: the published ladder cannot be placed")
    ln_ratios = np.log(np.array(published.ratios))
    scales, log_posterior = _scale_posterior(stretches, ln_ratios, stated)
    best = float(scales[np.argmax(log_posterior)])
    doubts = _slide(scales, log_posterior, best, ln_ratios)
    start = float(np.clip(np.diff(ln_ratios).min(initial=0.1) / 4.0, 0.004, 0.03))
    anchor = Anchor(ln_ratios, DEPARTURE_SD)
    mixture = settle(stretches, best + ln_ratios, start, anchor)
    centres = mixture.centres.copy()
    for place, seconds in _strangers(stretches, mixture):
        gear = _unridden_neighbour(place, centres, mixture)
        if gear is not None:
            centres[gear] = place
        elif seconds >= STRANGER_TOLD_S:
            doubts.append(
                f"{seconds:.0f} s of steady pedalling at a development of {np.exp(place):.2f} m "
                "fit no gear of the published ladder"
            )
    return Rungs(np.sort(centres), ln_ratios, tuple(doubts))


def _strangers(stretches: Stretches, mixture: Mixture) -> list[tuple[float, float]]:
    """Return where stretches gather that belong to no gear: ln(development), and seconds there.

    Only a narrow gathering counts: drifting development is no gear.
    """
    from ridelab.gears.discover import gatherings

    off = np.abs(stretches.ln_development[:, None] - mixture.centres).min(axis=1)
    astray = off > np.maximum(ASTRAY, 4.0 * np.hypot(stretches.sd, mixture.spread))
    found = gatherings(stretches.where(astray)) if astray.any() else None
    if found is None:
        return []
    pairs = zip(found.centres, found.seconds, strict=True)
    return [(float(c), float(s)) for c, s in pairs if s >= STRANGER_S]


def _unridden_neighbour(place: float, centres: Floats, mixture: Mixture) -> int | None:
    """Return the nearest gear that nobody else rode and that keeps its order there, if any."""
    near = np.argsort(np.abs(centres - place))
    for gear in near[:2]:
        others = np.delete(centres, gear)
        keeps_order = int(np.searchsorted(others, place)) == gear
        unridden = mixture.seconds[gear] < 0.25 * STRANGER_S
        if keeps_order and unridden and abs(centres[gear] - place) < FURTHEST_DEPARTURE:
            return int(gear)
    return None


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


def _slide(scales: Floats, log_posterior: Floats, best: float, ln_ratios: Floats) -> list[str]:
    """Say which other placement keeps ``WORTH_SAYING`` of the posterior or more, if any does.

    Placements within half the smallest step of the best are the same placement.
    """
    if len(ln_ratios) < 2:
        return []
    posterior = np.exp(log_posterior - log_posterior.max())
    elsewhere = np.abs(scales - best) > 0.5 * np.diff(ln_ratios).min()
    share = float(posterior[elsewhere].sum() / posterior.sum())
    if share < WORTH_SAYING:
        return []
    other = float(scales[elsewhere][np.argmax(log_posterior[elsewhere])])
    doubt = (
        f"the whole ladder may sit elsewhere: a rollout of {np.exp(other):.3f} m instead of "
        f"{np.exp(best):.3f} m fits the rides too (probability {share:.0%}); "
        "measure the rollout, or ride more of the gears"
    )
    return [doubt]
