"""Further rides of a vehicle whose ladder is known -> measured beside those that were, or not so.

The new rides alone are decoded, with the ladder that the others were decoded with, and the gears
are estimated from the spells of all. That is what fitting all anew would come to as long as the
ladder stays where it was: it may move by ``SETTLED`` times the noise of a sample, as within a fit.
Whatever else could move it, or add a gear, asks for all rides: another wheel, recorded gears,
steady riding outside the ladder, a gear that is measured for the first time; and so does it once a
tenth of the rides has not been fitted with the others.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears import measured, outcome
from ridelab.gears.concluding import concluded
from ridelab.gears.fitting import SETTLED, fit_beside
from ridelab.gears.kept import kept_rides, without_gears
from ridelab.gears.ladder import Stated
from ridelab.gears.match import STRANGER_TOLD_S, gathered_outside
from ridelab.gears.observations import Observations, observe
from ridelab.gears.placement import offset_of
from ridelab.gears.stretches import pooled, steady_stretches

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.kept import Kept
    from ridelab.gears.ladder import Rungs
    from ridelab.gears.measured import Use
    from ridelab.gears.result import VehicleGears
    from ridelab.gears.spells import Estimate
    from ridelab.gears.stretches import Stretches
    from ridelab.telemetry.ride import Ride

#: All rides are fitted anew once more than this share of them was not.
MOST_UNFITTED = 0.1
#: Scatter of steady stretches around their gear, in ln(development).
SCATTER = 0.004


def may_add(kept: Kept, rides: int) -> bool:
    """Return whether so many more rides may be measured beside those kept."""
    return len(kept.rides) + rides - kept.fitted <= MOST_UNFITTED * kept.fitted


def measure_more(
    vehicle: str,
    rides: Sequence[Ride],
    kept: Kept,
    ladder: Ladder | None,
    stated_rollout_m: float | None,
    rollout_is_measured: bool = False,
) -> VehicleGears | None:
    """Measure further rides of a vehicle beside those kept; None if that takes all of them.

    Parameters are those of ``measure_vehicle``, whose ``rides`` and ``problems`` here are of the
    new rides and the vehicle alone.
    """
    if not may_add(kept, len(rides)) or any(len(ride.gear_changes) for ride in rides):
        return None
    observed = [observe(ride) for ride in rides]
    seen = [one for one in observed if isinstance(one, Observations)]
    if not _fit_in([steady_stretches(one) for one in seen], kept.rungs):
        return None
    fit = fit_beside(seen, kept.rungs, [ride.spells for ride in kept.rides])
    if fit.estimate is None:
        return None
    more = replace(
        kept,
        rides=(*kept.rides, *kept_rides(seen, fit)),
        others=(*kept.others, *without_gears(rides, observed)),
    )
    stated = Stated(ladder, stated_rollout_m, rollout_is_measured)
    if _moved(fit.rungs, more, fit.estimate) or _others_told(kept, more, fit.estimate, stated):
        return None
    results = outcome.of_each(rides, observed, fit.decoded, kept.rungs, ladder)
    notes = outcome.without_observations(rides, observed)
    found = concluded(vehicle, more, fit.estimate, stated, results, notes)
    return replace(found, earlier=kept.known)


def _fit_in(parts: Sequence[Stretches], rungs: Rungs) -> bool:
    """Return whether rides were ridden on this wheel, and on no further gear."""
    gears = rungs.ln_developments
    if any(offset_of(part, gears, SCATTER) != 0.0 for part in parts if len(part)):
        return False
    outside = gathered_outside(pooled(parts), gears, SCATTER)
    return all(seconds < STRANGER_TOLD_S for _, seconds in outside)


def _moved(rungs: Rungs, more: Kept, found: Estimate) -> bool:
    """Return whether the ladder moved from where the kept rides were decoded."""
    away = np.abs(rungs.ln_developments - more.rungs.ln_developments)[found.gears]
    usual = float(np.median([ride.usual_sd for ride in more.rides]))
    return float(away.max()) > SETTLED * usual


def _others_told(kept: Kept, more: Kept, found: Estimate, stated: Stated) -> bool:
    """Return whether other gears are told of than without the new rides."""

    def numbers(use: Use) -> set[int]:
        table = measured.table(kept.rungs, found, use, stated, kept.unridden)
        return set(table.gears["gear"])

    return numbers(kept.use) != numbers(more.use)
