"""All rides of one vehicle -> its ladder as measured, and the engaged gear of every sample."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears import measured, outcome
from ridelab.gears.agreement import compared
from ridelab.gears.align import ride_shifts
from ridelab.gears.by_record import stated_by_record
from ridelab.gears.concluding import concluded
from ridelab.gears.decode import Habits, decode
from ridelab.gears.discover import discover
from ridelab.gears.fitting import fit_ladder
from ridelab.gears.kept import kept, without_gears
from ridelab.gears.ladder import NoLadder, Stated
from ridelab.gears.match import match
from ridelab.gears.needed import named_by_noise
from ridelab.gears.observations import Observations, observe
from ridelab.gears.result import VehicleGears
from ridelab.gears.slide import fit_most_probable
from ridelab.gears.stepless import ridden_range, stepless_grid
from ridelab.gears.stretches import pooled, steady_stretches
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.fitting import Fit
    from ridelab.gears.result import RideGears
    from ridelab.telemetry.ride import Ride

#: Changes whenever the same rides would be measured differently.
VERSION = "13"
#: How a hand turns a stepless hub: often, and by little.
STEPLESS_HABITS = Habits(
    shift_hz=1.0,
    reach=0.05,
    shifting=tuple(tuple(float(to == mode and mode != 3) for to in range(5)) for mode in range(5)),
)


def measure_vehicle(
    vehicle: str,
    rides: Sequence[Ride],
    ladder: Ladder | None,
    stated_rollout_m: float | None,
    rollout_is_measured: bool = False,
) -> VehicleGears:
    """Measure one vehicle over all its rides.

    ``ladder``: as published, or None to find the gears from the rides alone; ``stated_rollout_m``:
    metres per wheel turn, nominal unless ``rollout_is_measured``, or None if nobody stated it.
    Never raises for what a ride lacks: that becomes a problem of the result.
    """
    observed = [observe(ride) for ride in rides]
    problems = outcome.without_observations(rides, observed)
    seen = [one for one in observed if isinstance(one, Observations)]
    wheel_is_set = any(one.bias_mps == 0.0 for one in seen)
    stated = Stated(ladder, stated_rollout_m, rollout_is_measured, wheel_is_set)
    fit = _fitted(seen, stated_by_record(stated, rides, observed))
    if isinstance(fit, NoLadder):
        result = _without_gears(vehicle, rides, observed, fit, stated)
        if not stated.stepless:
            problems.append(Problem(vehicle, "measure", "warning", fit.reason))
    else:
        result = _with_gears(vehicle, rides, observed, fit, stated)
    return replace(result, problems=(*problems, *result.problems))


def _fitted(seen: Sequence[Observations], stated: Stated) -> Fit | NoLadder:
    """Return the ladder that the rides were decoded with, or why there is none."""
    if not seen:
        return NoLadder("no ride of this vehicle names a gear")
    if stated.stepless:
        return NoLadder("published as stepless", continuous=True)
    stretches = [steady_stretches(one) for one in seen]
    if stated.ladder is not None:
        matched = match(stretches, stated.ladder, stated)
        return matched if isinstance(matched, NoLadder) else fit_most_probable(seen, matched)
    shifts = ride_shifts(stretches)
    shifted = [part.shifted(by) for part, by in zip(stretches, shifts, strict=True)]
    pedalled_s = sum(float(one.seconds[np.isfinite(one.ln_development)].sum()) for one in seen)
    found = discover(pooled(shifted), pedalled_s)
    if isinstance(found, NoLadder):
        return found
    fit = fit_ladder(seen, found, shifts)
    kept = replace(fit.rungs, count_probabilities=found.count_probabilities)
    return replace(fit, rungs=kept)


def _with_gears(
    vehicle: str,
    rides: Sequence[Ride],
    observed: Sequence[Observations | str],
    fit: Fit,
    stated: Stated,
) -> VehicleGears:
    seen = [one for one in observed if isinstance(one, Observations)]
    results = outcome.of_each(rides, observed, fit.decoded, fit.rungs, stated.ladder)
    results, notes = compared(rides, results, stated.ladder)
    notes += outcome.other_wheels(rides, observed, fit.shifts)
    of_all = kept(seen, fit, named_by_noise(seen, fit), without_gears(rides, observed))
    return concluded(vehicle, of_all, fit.estimate, stated, results, notes)


def _without_gears(
    vehicle: str,
    rides: Sequence[Ride],
    observed: Sequence[Observations | str],
    why: NoLadder,
    stated: Stated,
) -> VehicleGears:
    """Return a vehicle without a ladder: stepless, with the range as ridden, or simply unknown."""
    seen = [one for one in observed if isinstance(one, Observations)]
    grid = stepless_grid(seen, stated) if why.continuous else None
    decoded = (
        [decode(one, grid, habits=STEPLESS_HABITS) for one in seen] if grid is not None else []
    )
    made = iter(decoded)
    results: list[RideGears] = [
        outcome.nothing_named(ride)
        if isinstance(one, str)
        else outcome.nothing_named(ride, one, next(made, None))
        for ride, one in zip(rides, observed, strict=True)
    ]
    return VehicleGears(
        vehicle=vehicle,
        rollout=None,
        gears=measured.EMPTY,
        range=ridden_range(seen, decoded, stated) if decoded else None,
        stepless=why.continuous,
        rides=tuple(results),
    )
