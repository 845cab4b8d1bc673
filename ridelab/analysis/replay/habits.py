"""A rider's habits, and what they do on another ladder with no knowledge of the road ahead.

Such a rider lets the cadence stray from the usual one by so much upwards and so much downwards, and
then shifts to the gear that brings it nearest to the usual one. How far it strays before a shift is
what the rider's own shifts show, in the middle; how strict they are with it, one factor on both, is
what makes the replay on the ridden ladder shift as often as the rider did.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.analysis.replay.gearing import Gearing
    from ridelab.analysis.replay.road import Batch, Road

    Floats = NDArray[np.float64]
    Places = NDArray[np.int64]

#: A vehicle that stands starts at about this speed: what a gear asks then is what one shifts by.
START_MPS = 2.5
#: Who gets faster by more than this a second, in the logarithm, does not shift down, and who gets
#: slower not up; but for a cadence that is off by this much more than they usually bear.
STEADY, FAR_OFF = 0.01, 0.25
#: Changes in one direction less than this apart are one shift, as in the relation ``shifts``.
SWEEP_S = 3.0
#: Fewer shifts than this, in either direction, tell no habit.
LEAST_SHIFTS = 10
#: How many moments before the middle of a shift the old gear may have driven last.
_LOOK_BACK = 5
#: Between these the factor is looked for, halving so often.
_FACTORS, _HALVINGS = (0.25, 4.0), 9
#: Nobody shifts before the cadence strays by this share.
_LEAST_STRAY = 0.02


@dataclass(frozen=True)
class Sweeps:
    """Shifts of one ride: their middles, the gears before, and whether they went up."""

    t_s: Floats
    from_gear: Places
    upward: NDArray[np.bool_]


@dataclass(frozen=True)
class Habits:
    """How one rider shifts.

    ``log_usual``: ln of the cadence, turns a minute, that half of the driven time stays below;
    ``up``, ``down``: how far ln(cadence) goes above and below it before a shift.
    """

    log_usual: float
    up: float
    down: float

    def times(self, factor: float) -> Habits:
        """Return the habits of somebody who lets the cadence stray so many times as far."""
        return replace(self, up=self.up * factor, down=self.down * factor)


def learn(ridden: Sequence[Road], shifts: Sequence[Sweeps]) -> Habits | None:
    """Return the habits of a rider; None where the rides show too few shifts to tell.

    ``shifts``: of each ride, those made while the crank drove.
    """
    before = [_cadence_before(*pair) for pair in zip(ridden, shifts, strict=True)]
    cadences = np.concatenate([*before, np.zeros(0)])
    upward = np.concatenate([*(one.upward for one in shifts), np.zeros(0, dtype=np.bool_)])
    known = np.isfinite(cadences)
    ups, downs = (cadences[known & (upward == way)] for way in (True, False))
    if min(len(ups), len(downs)) < LEAST_SHIFTS:
        return None
    usual = _usual(ridden)
    up, down = (float(np.median(one)) for one in (ups, downs))
    return Habits(usual, max(up - usual, _LEAST_STRAY), max(usual - down, _LEAST_STRAY))


def _usual(ridden: Sequence[Road]) -> float:
    """Return ln of the cadence that half of the driven time stays below."""
    cadence = np.log(np.concatenate([road.cadence_rpm[road.driven] for road in ridden]))
    seconds = np.concatenate([road.seconds[road.driven] for road in ridden])
    order = np.argsort(cadence)
    half = np.searchsorted(np.cumsum(seconds[order]), seconds.sum() / 2)
    return float(cadence[order][half])


def _cadence_before(road: Road, sweeps: Sweeps) -> Floats:
    """Return ln of the cadence just before each shift, nan where the crank did not drive."""
    out = np.full(len(sweeps.t_s), np.nan)
    last = np.searchsorted(road.t_s, sweeps.t_s, side="right")
    for place, (end, gear) in enumerate(zip(last, sweeps.from_gear, strict=True)):
        begin = max(0, end - _LOOK_BACK)
        inside = np.flatnonzero(road.driven[begin:end] & (road.gear[begin:end] == gear))
        if len(inside):
            out[place] = np.log(road.cadence_rpm[begin + inside[-1]])
    return out


def by_habit(
    rides: Batch, gearing: Gearing, habits: Habits, begins_m: Floats
) -> tuple[Places, Floats]:
    """Return the places of the gears, moments × rides, and how often each ride is shifted.

    ``begins_m``: the development that each ride begins with.
    """
    log_own = gearing.log_development
    edges = (log_own[1:] + log_own[:-1]) / 2
    speed = np.exp(rides.log_speed) / 60.0
    felt = np.where(rides.driven_s > 0, speed, np.maximum(speed, START_MPS))
    wanted = np.log(60.0 * felt) - habits.log_usual
    above, below = _limits(rides, habits, standing=gearing.shifts_standing)
    best = np.searchsorted(edges, wanted)
    now = np.abs(np.log(begins_m)[:, None] - log_own).argmin(axis=1)
    places = np.empty(wanted.shape, dtype=np.int64)
    for t in range(len(wanted)):
        stray = wanted[t] - log_own[now]
        shifts = (stray > above[t]) | (stray < below[t])
        if shifts.any():
            now = np.where(shifts, best[t], now)
        places[t] = now
    return places, _sweeps(places, rides)


def strictness(
    rides: Sequence[Batch], gearing: Gearing, habits: Habits, begins_m: Sequence[Floats], made: int
) -> Habits:
    """Return the habits, made more or less strict, that shift as often as the rider did: ``made``.

    The wider the limits, the fewer shifts, so halving finds it.
    """
    least, most = _FACTORS
    for _ in range(_HALVINGS):
        factor = (least * most) ** 0.5
        tried = habits.times(factor)
        found = sum(
            float(by_habit(batch, gearing, tried, begins)[1].sum())
            for batch, begins in zip(rides, begins_m, strict=True)
        )
        least, most = (factor, most) if found > made else (least, factor)
    return habits.times((least * most) ** 0.5)


def _limits(rides: Batch, habits: Habits, *, standing: bool) -> tuple[Floats, Floats]:
    """Return how far above and below the usual one ln(cadence) may go at each moment."""
    may = rides.may_shift(standing=standing)
    patient = np.where(rides.trend < -STEADY, FAR_OFF, 0.0)
    hasty = np.where(rides.trend > STEADY, FAR_OFF, 0.0)
    above = np.where(may, habits.up + patient, np.inf)
    below = np.where(may, -(habits.down + hasty), -np.inf)
    return above, below


def _sweeps(places: Places, rides: Batch) -> Floats:
    """Return how many shifts each ride has, changes in one direction close together as one."""
    clock = np.cumsum(rides.seconds, axis=0)
    out = np.zeros(places.shape[1])
    for ride, moves in enumerate(np.diff(places, axis=0).T):
        at = np.flatnonzero(moves)
        signs, times = np.sign(moves[at]), clock[at, ride]
        merged = (np.diff(signs) == 0) & (np.diff(times) < SWEEP_S)
        out[ride] = len(at) - merged.sum()
    return out
