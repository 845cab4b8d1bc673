"""Places where a published ladder may sit -> the one that the rides, second by second, speak for.

With even steps a ladder can slide by a whole gear. Steady stretches alone may not tell; decoding
the rides under each place often does, since no development lies below that of the lowest gear.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.departures import STRANGER_COST
from ridelab.gears.fitting import decode_all, fit_ladder, spread
from ridelab.gears.mixture import robust_middle
from ridelab.gears.placement import normalised

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.fitting import Fit
    from ridelab.gears.ladder import Rungs
    from ridelab.gears.match import Matched
    from ridelab.gears.observations import Floats, Observations

#: A placement less probable than this is told of as doubtful.
SURE_PLACEMENT = 0.95
#: What seconds say counts this much: their errors last longer than the decoding takes them to.
TEMPER = 0.2
#: All that decoding says counts as so long at most, seconds: what the model has wrong of a rider or
#: a drivetrain does not average out over more rides.
COUNTED_S = 3600.0
#: Other places are told of from this probability on.
TOLD = 0.01
#: So many rides are decoded in every place, and twice as many, up to the most, as long as none is
#: this probable.
RIDES, MOST_RIDES, SETTLED = 4, 16, 0.999


def fit_most_probable(seen: Sequence[Observations], matched: Matched) -> Fit:
    """Fit the ladder in each place where it may sit, and return the most probable fit.

    Its ladder says how probable it is, and doubts it where another place remains possible. Where a
    few rides settle the place, the others are decoded in that alone.
    """
    places = matched.ladders
    if len(places) == 1:
        return fit_ladder(seen, places[0], matched.shifts)
    few = RIDES
    while True:
        chosen = spread(len(seen), few)
        some, shifts = [seen[ride] for ride in chosen], matched.shifts[chosen]
        fits = [fit_ladder(some, one, shifts) for one in places]
        posterior = _posterior(some, fits)
        best = int(posterior.argmax())
        if len(some) == len(seen) or few >= MOST_RIDES or posterior[best] > SETTLED:
            break
        few *= 2
    told = replace(
        places[best],
        placement_probability=float(posterior[best]),
        doubts=(*_doubts(fits, posterior, best), *places[best].doubts),
    )
    if len(some) < len(seen):
        return fit_ladder(seen, told, matched.shifts, fits[best])
    rungs = replace(
        fits[best].rungs, placement_probability=told.placement_probability, doubts=told.doubts
    )
    return replace(fits[best], rungs=rungs)


def _posterior(seen: Sequence[Observations], fits: Sequence[Fit]) -> Floats:
    """Return the probability of each place."""
    ridden_s = sum(float(one.seconds.sum()) for one in seen)
    counted = TEMPER * min(1.0, COUNTED_S / max(ridden_s, 1.0))
    return normalised(
        np.array([_log_prior(fit.rungs) + counted * _log_likelihood(seen, fit) for fit in fits])
    )


def _log_prior(rungs: Rungs) -> float:
    """Return that of the place, its departures, and the gears that nobody published."""
    strangers = 0 if rungs.ln_ratios is None else int(np.isnan(rungs.ln_ratios).sum())
    return rungs.log_prior - STRANGER_COST * strangers


def _doubts(fits: Sequence[Fit], posterior: Floats, best: int) -> list[str]:
    """Say where else the ladder may sit, if that is none too sure."""
    if posterior[best] >= SURE_PLACEMENT:
        return []
    others = [k for k in np.argsort(-posterior) if k != best and posterior[k] >= TOLD]
    rollouts = ", ".join(f"{_rollout_m(fits[k].rungs):.3f} m" for k in others[:3])
    said = (
        "the whole ladder may sit one gear or more higher or lower: rollouts of "
        f"{rollouts} fit the rides too (probability of this placement "
        f"{posterior[best]:.0%}); measure the rollout, or ride more of the gears"
    )
    return [said]


def _log_likelihood(seen: Sequence[Observations], fit: Fit) -> float:
    """Return that of cadence and speed alone: what tells of drive was learnt under each fit."""
    decoded = decode_all(seen, fit.rungs, fit.offsets, fit.noise)
    return float(sum(made.log_likelihood for made in decoded))


def _rollout_m(rungs: Rungs) -> float:
    """Return the rollout that puts a published ladder where it is."""
    if rungs.ln_ratios is None:
        return float("nan")
    off = (rungs.ln_developments - rungs.ln_ratios)[np.isfinite(rungs.ln_ratios)]
    return float(np.exp(robust_middle(off, np.ones(len(off)))))
