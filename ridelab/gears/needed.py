"""Gears so close that noise may take one for the other -> those that the rides can do without."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.decode import student
from ridelab.gears.fitting import decode_all, seconds_in_gears, typical
from ridelab.gears.measured import seconds_in_gear

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.fitting import Fit
    from ridelab.gears.ladder import Rungs
    from ridelab.gears.observations import Floats, Observations

#: Gears closer than this many standard deviations of a sample may be taken for each other; one of
#: them must make the rides e^NEEDED times likelier to be called ridden, and no further ride is
#: asked once they are e^SURELY times likelier.
CLOSE, NEEDED, SURELY = 3.0, 8.0, 50.0
#: So many rides are asked before it is taken to be not needed, those that engaged it for longest.
ASKED = 12
#: Highest density of a development that no gear explains, and what it costs to engage a gear once.
LIKELIEST_SOFT, EACH_TIME = 8.0, 12.0


def named_by_noise(seen: Sequence[Observations], fit: Fit) -> list[int]:
    """Return the gears, by index, that the rides do not need: the samples fit as well without.

    Only gears closer to one that was ridden for longer than ``CLOSE`` times the noise are doubted,
    the least ridden first; noise can take samples of the one for the other.
    """
    ladder = fit.rungs.ln_developments
    if fit.rungs.count < 2 or fit.estimate is None:
        return []
    seconds = seconds_in_gears(seen, fit.decoded, fit.rungs)
    apart = np.abs(ladder[:, None] - ladder)
    apart[seconds[:, None] >= seconds] = np.inf
    close = apart.min(axis=1) < CLOSE * float(np.median(typical(seen, fit.noise)))
    doubted = [int(gear) for gear in np.argsort(seconds) if close[gear] and seconds[gear] > 0]
    kept = np.ones(fit.rungs.count, dtype=bool)
    likelihoods = np.array([made.log_likelihood for made in fit.decoded])
    for gear in doubted:
        joined = replace(fit.rungs, ln_developments=_joined(ladder, seconds, gear))
        if _surely_needed(seen, fit, gear, joined):
            continue
        kept[gear] = False
        without = _without(seen, fit, gear, joined.only(kept), likelihoods) if kept.any() else None
        if without is None:
            kept[gear] = True
        else:
            likelihoods = without
    return [int(gear) for gear in np.flatnonzero(~kept)]


def _without(
    seen: Sequence[Observations], fit: Fit, gear: int, fewer: Rungs, likelihoods: Floats
) -> Floats | None:
    """Return the log likelihood of each ride without a gear; None where that is needed.

    Rides that never engaged it are as likely without, and not decoded anew; nor are the others once
    those that engaged it for longest are clearly likelier without.
    """
    engaged = np.array(
        [
            seconds_in_gear(one, made, fit.rungs.count)[gear]
            for one, made in zip(seen, fit.decoded, strict=True)
        ]
    )
    found, worth = likelihoods.copy(), 0.0
    for asked, ride in enumerate(np.argsort(-engaged, kind="stable")):
        if engaged[ride] <= 0.0 or (asked >= ASKED and worth < -NEEDED):
            break
        [made] = decode_all(
            [seen[ride]],
            fewer,
            fit.offsets[[ride]],
            [fit.noise[ride]],
            [fit.driven[ride]],
        )
        found[ride] = made.log_likelihood
        worth += likelihoods[ride] - found[ride]
        if worth > SURELY:
            return None
    return found if worth < NEEDED else None


def _surely_needed(seen: Sequence[Observations], fit: Fit, gear: int, joined: Rungs) -> bool:
    """Return whether a gear's own samples settle that it is needed, without decoding anew.

    Each is held against the nearest of the other gears, or soft pedalling at its likeliest. All
    else that speaks for the gear is left out, and each time that it was engaged is counted against
    it.
    """
    others = np.delete(joined.ln_developments, gear)
    if joined.members is not None:
        others = (others + np.delete(joined.members, gear, axis=1)).ravel()
    worth, times = 0.0, 0
    for one, made, offset, noise in zip(seen, fit.decoded, fit.offsets, fit.noise, strict=True):
        own = made.coupled & (made.gear == gear) & np.isfinite(made.residual)
        times += int((np.diff(own.astype(np.int8), prepend=0) > 0).sum())
        sigma = one.total_sigma(noise)[own]
        nearest = np.abs(one.ln_development[own, None] - offset - others).min(axis=1)
        inside = student(made.residual[own] / sigma) / sigma
        outside = np.maximum(student(nearest / sigma) / sigma, LIKELIEST_SOFT)
        worth += float(np.log(inside / outside).sum())
    return worth > NEEDED + EACH_TIME * times


def _joined(ladder: Floats, seconds: Floats, gear: int) -> Floats:
    """Return the ladder with the nearest gear ridden for longer where both would be measured."""
    apart = np.where(seconds > seconds[gear], np.abs(ladder - ladder[gear]), np.inf)
    other = int(apart.argmin())
    joined = ladder.copy()
    both = seconds[gear] + seconds[other]
    joined[other] = (seconds[gear] * ladder[gear] + seconds[other] * ladder[other]) / both
    return joined
