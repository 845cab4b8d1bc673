"""All rides of one vehicle -> its ladder as measured, and the engaged gear of every sample."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears import measured, outcome
from ridelab.gears.align import ride_shifts
from ridelab.gears.decode import Decoded, Habits, decode
from ridelab.gears.discover import discover
from ridelab.gears.ladder import LEAST_S, NoLadder, Rungs, Stated, counted
from ridelab.gears.match import match
from ridelab.gears.observations import MEDIAN_TO_SD, Observations, observe
from ridelab.gears.result import VehicleGears
from ridelab.gears.spells import Estimate, Spells, estimate, joined, spells_of
from ridelab.gears.stepless import ridden_range, stepless_grid
from ridelab.gears.stretches import pooled, steady_stretches
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.observations import Floats
    from ridelab.gears.result import RideGears
    from ridelab.gears.stretches import Stretches
    from ridelab.telemetry.ride import Ride

#: Changes whenever the same rides would be measured differently.
VERSION = "7"
#: Decoding and measuring are repeated until they agree, at most this often.
MOST_PASSES = 3
#: They agree if no gear, ride or noise moves by more than this share of the noise of a sample.
SETTLED = 0.15
#: Gears closer than this many standard deviations of a sample may be taken for each other; one of
#: them must make the rides e^NEEDED times likelier to be called ridden.
CLOSE, NEEDED = 3.0, 8.0
#: How a hand turns a stepless hub: often, and by little.
STEPLESS_HABITS = Habits(shift_hz=1.0, reach=0.05)


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
    stated = Stated(ladder, stated_rollout_m, rollout_is_measured)
    observed = [observe(ride) for ride in rides]
    problems = [
        Problem(str(ride.path), "measure", "warning", one)
        for ride, one in zip(rides, observed, strict=True)
        if isinstance(one, str)
    ]
    seen = [one for one in observed if isinstance(one, Observations)]
    stretches = [steady_stretches(one) for one in seen]
    shifts = ride_shifts(stretches)
    shifted = [part.shifted(by) for part, by in zip(stretches, shifts, strict=True)]
    placed = _place(seen, pooled(shifted), stated)
    if isinstance(placed, NoLadder):
        result = _without_gears(vehicle, rides, observed, placed, stated)
        if not stated.stepless:
            problems.append(Problem(vehicle, "measure", "warning", placed.reason))
    else:
        result = _with_gears(vehicle, rides, observed, _fit(seen, placed, shifts), stated)
        problems += outcome.other_wheels(rides, observed, shifts)
        problems += [Problem(vehicle, "measure", "warning", doubt) for doubt in placed.doubts]
    return replace(result, problems=(*problems, *result.problems))


def _place(seen: Sequence[Observations], stretches: Stretches, stated: Stated) -> Rungs | NoLadder:
    if not seen:
        return NoLadder("no ride of this vehicle names a gear")
    if stated.stepless:
        return NoLadder("published as stepless", continuous=True)
    if stated.ladder is not None:
        return match(stretches, stated.ladder, stated)
    pedalled_s = sum(float(one.seconds[np.isfinite(one.ln_development)].sum()) for one in seen)
    return discover(stretches, pedalled_s)


@dataclass(frozen=True)
class _Fit:
    """A ladder in use and what it makes of the rides that have observations, in their order.

    ``offsets`` and ``noise`` have one entry a ride: what it was decoded with.
    """

    rungs: Rungs
    decoded: tuple[Decoded, ...]
    estimate: Estimate | None
    offsets: Floats
    noise: Floats


def _fit(seen: Sequence[Observations], rungs: Rungs, shifts: Floats) -> _Fit:
    """Decode with the ladder and measure it from what was decoded, until both agree.

    ``shifts``: of each ride, to begin with.
    """
    noise = np.array([one.noise for one in seen])
    offsets = shifts
    for _ in range(MOST_PASSES):
        decoded = _decoded(seen, rungs, offsets, noise)
        fewer = _ridden_long_enough(seen, decoded, rungs)
        if fewer.count < rungs.count:
            return _fit(seen, fewer, shifts)
        heard = np.array([_noise(one, made) for one, made in zip(seen, decoded, strict=True)])
        found = estimate(_spells(seen, decoded, heard), len(seen))
        if found is None:
            return _Fit(rungs, decoded, None, offsets, noise)
        used = _Fit(rungs, decoded, found, offsets, noise)
        moved = _moved(rungs, found)
        far = np.abs(moved.ln_developments - rungs.ln_developments)[found.gears].max()
        far = max(far, np.abs(found.ride_offsets - offsets).max(), np.abs(heard - noise).max())
        rungs, offsets = moved, found.ride_offsets
        if far <= SETTLED * float(np.median(heard)):
            break
        noise = heard
    return replace(used, rungs=rungs)


def _named_by_noise(seen: Sequence[Observations], fit: _Fit) -> list[int]:
    """Return the gears, by index, that the rides do not need: the samples fit as well without.

    Only gears closer to a neighbour than ``CLOSE`` times the noise are doubted, the least ridden
    first; noise can take samples of the one for the other.
    """
    ladder = fit.rungs.ln_developments
    if fit.rungs.count < 2 or fit.estimate is None:
        return []
    seconds = np.zeros(fit.rungs.count)
    for one, made in zip(seen, fit.decoded, strict=True):
        seconds += measured.seconds_in_gear(one, made, fit.rungs.count)
    gaps = np.diff(ladder)
    nearest = np.minimum(np.append(gaps, np.inf), np.append(np.inf, gaps))
    close = nearest < CLOSE * float(np.median(fit.noise))
    doubted = [int(gear) for gear in np.argsort(seconds) if close[gear] and seconds[gear] > 0]
    kept = np.ones(fit.rungs.count, dtype=bool)
    likelihood = sum(made.log_likelihood for made in fit.decoded)
    for gear in doubted:
        kept[gear] = False
        fewer = replace(fit.rungs, ln_developments=_joined(ladder, seconds, gear)[kept])
        without = sum(made.log_likelihood for made in _decoded(seen, fewer, fit.offsets, fit.noise))
        if kept.any() and likelihood - without < NEEDED:
            likelihood = max(likelihood, without)
        else:
            kept[gear] = True
    return [int(gear) for gear in np.flatnonzero(~kept)]


def _joined(ladder: Floats, seconds: Floats, gear: int) -> Floats:
    """Return the ladder with a gear's nearest neighbour where both together would be measured."""
    apart = np.abs(ladder - ladder[gear])
    apart[gear] = np.inf
    other = int(apart.argmin())
    joined = ladder.copy()
    both = seconds[gear] + seconds[other]
    joined[other] = (seconds[gear] * ladder[gear] + seconds[other] * ladder[other]) / both
    return joined


def _decoded(
    seen: Sequence[Observations],
    rungs: Rungs,
    offsets: Floats,
    noise: Floats,
) -> tuple[Decoded, ...]:
    return tuple(
        decode(one, rungs.ln_developments + offset, own)
        for one, offset, own in zip(seen, offsets, noise, strict=True)
    )


def _spells(seen: Sequence[Observations], decoded: Sequence[Decoded], noise: Floats) -> Spells:
    return joined(
        [
            spells_of(one, made, one.total_sigma(own), number)
            for number, (one, made, own) in enumerate(zip(seen, decoded, noise, strict=True))
        ]
    )


def _ridden_long_enough(
    seen: Sequence[Observations], decoded: Sequence[Decoded], rungs: Rungs
) -> Rungs:
    """Return the ladder without found gears engaged too briefly; published gears stay, all of them.

    At least one gear stays.
    """
    if rungs.ln_ratios is not None:
        return rungs
    seconds = np.zeros(rungs.count)
    for one, made in zip(seen, decoded, strict=True):
        seconds += measured.seconds_in_gear(one, made, rungs.count)
    kept = seconds >= min(LEAST_S, seconds.max())
    return counted(rungs.ln_developments[kept])


def _noise(seen: Observations, decoded: Decoded) -> float:
    """Return the noise that makes the residuals within gears as wide as they are."""
    inside = decoded.coupled & np.isfinite(decoded.residual) & (decoded.gear_probability > 0.9)
    if inside.sum() < 30:
        return seen.noise
    total = MEDIAN_TO_SD * float(np.median(np.abs(decoded.residual[inside])))
    explained = float(np.median(seen.sigma[inside]))
    return float(np.sqrt(max(total**2 - explained**2, 0.25 * seen.noise**2)))


def _moved(rungs: Rungs, found: Estimate) -> Rungs:
    """Return the ladder with the measured gears where they were measured, the others with them."""
    shift = found.ln_developments - rungs.ln_developments[found.gears]
    moved = rungs.ln_developments + float(np.median(shift))
    moved[found.gears] = found.ln_developments
    return replace(rungs, ln_developments=np.maximum.accumulate(moved))


def _with_gears(
    vehicle: str,
    rides: Sequence[Ride],
    observed: Sequence[Observations | str],
    fit: _Fit,
    stated: Stated,
) -> VehicleGears:
    seen = [one for one in observed if isinstance(one, Observations)]
    unridden = _named_by_noise(seen, fit)
    table = measured.table(fit.rungs, fit.estimate, seen, fit.decoded, stated, unridden)
    made = iter(fit.decoded)
    results = [
        outcome.nothing_named(ride)
        if isinstance(one, str)
        else outcome.gears_named(ride, one, next(made), fit.rungs)
        for ride, one in zip(rides, observed, strict=True)
    ]
    notes = outcome.agreement(rides, results) + outcome.wrong_wheel(vehicle, table.rollout, stated)
    return VehicleGears(
        vehicle=vehicle,
        rollout=table.rollout,
        gears=table.gears,
        range=table.range,
        stepless=False,
        rides=tuple(results),
        problems=tuple(notes),
        placement_probability=fit.rungs.placement_probability,
        unexplained_share=fit.rungs.unexplained_share,
    )


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
