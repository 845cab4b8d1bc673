"""Places where a published ladder may sit -> the one that the rides, second by second, speak for.

With even steps a ladder can slide by a whole gear. Steady stretches alone may not tell; decoding
the rides under each place often does, since no development lies below that of the lowest gear.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.fitting import decode_all, fit_ladder
from ridelab.gears.mixture import robust_middle

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.fitting import Fit
    from ridelab.gears.ladder import Rungs
    from ridelab.gears.match import Matched
    from ridelab.gears.observations import Observations

#: A placement less probable than this is told of as doubtful.
SURE_PLACEMENT = 0.95
#: What seconds say counts this much: their errors last longer than the decoding takes them to.
TEMPER = 0.2
#: Other places are told of from this probability on.
TOLD = 0.01


def fit_most_probable(seen: Sequence[Observations], matched: Matched) -> Fit:
    """Fit the ladder in each place where it may sit, and return the most probable fit.

    Its ladder says how probable it is, and doubts it where another place remains possible.
    """
    fits = [fit_ladder(seen, ladder, matched.shifts) for ladder in matched.ladders]
    if len(fits) == 1:
        return fits[0]
    log_posterior = np.array(
        [fit.rungs.log_prior + TEMPER * _log_likelihood(seen, fit) for fit in fits]
    )
    posterior = np.exp(log_posterior - log_posterior.max())
    posterior /= posterior.sum()
    best = int(posterior.argmax())
    others = [k for k in np.argsort(-posterior) if k != best and posterior[k] >= TOLD]
    doubts = list(fits[best].rungs.doubts)
    if posterior[best] < SURE_PLACEMENT:
        rollouts = ", ".join(f"{_rollout_m(fits[k].rungs):.3f} m" for k in others[:3])
        doubts.insert(
            0,
            "the whole ladder may sit one gear or more higher or lower: rollouts of "
            f"{rollouts} fit the rides too (probability of this placement "
            f"{posterior[best]:.0%}); measure the rollout, or ride more of the gears",
        )
    rungs = replace(
        fits[best].rungs, placement_probability=float(posterior[best]), doubts=tuple(doubts)
    )
    return replace(fits[best], rungs=rungs)


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
