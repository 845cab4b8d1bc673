"""Where a recording's clock was set while riding went on.

A step of the time is a jump of the clock only where the metres travelled say so: forward, if they
are ridden at speed and too few to have stopped and started in; backward, if they go on instead of
falling back. Without that evidence a long step stays a gap, and a backward one is left to be
sorted. Steps that cancel each other (some records by a clock of their own) are jumps, too; those of
a record that was merely written late or early are none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats: TypeAlias = NDArray[np.float64]
    Flags: TypeAlias = NDArray[np.bool_]

#: A forward step is looked at from this many seconds and this many usual intervals on.
MIN_FORWARD_S = 10.0
MIN_FORWARD_STEPS = 5.0
#: Riding went on only where speeds on either side are at least this.
RIDING_MPS = 3.0
#: The hardest braking (half of g, about what tips an upright bicycle over) and the hardest start
#: that a rider is taken to manage (common practice, no source).
BRAKING_MPS2, STARTING_MPS2 = 5.0, 1.5
#: Steps on either side from which these speeds are taken.
REACH = 3
#: Steps of more than this many usual intervals are not ordinary, unless one in twenty is as long.
ORDINARY_STEPS = 3.0
#: An ordinary step has at least this share of the metres of a usual interval.
LEAST_STEP = 0.3
#: Two steps, one back and one ahead, that undo each other: a step ahead counts from this many usual
#: intervals on, and so does the sum, which for one record by a clock of its own is two intervals.
PAIR_STEPS = 1.5
#: Metres by which two positions of one spot may differ.
BLUR_M = 10.0
#: A clock that is set more often is no clock: its records are only sorted.
MOST_JUMPS = 100


class Jump(NamedTuple):
    """The clock was set between a row and the row before it."""

    row: int
    size_s: float  # what the step of the time has too much; negative where set back
    unset: bool  # one of the two times is of a clock that had not been set at all


class _Steps(NamedTuple):
    """Steps from each instant (rows of one time) to the next; step k leads to instant k + 1."""

    rows: NDArray[np.intp]  # first row of each instant
    t_s: Floats  # of each instant
    dt_s: Floats
    metres: Floats
    broken: Flags
    usual_s: float
    longest_s: float  # of an ordinary step

    def speeds_mps(self, steps: slice) -> Floats:
        """Speeds of the ordinary ones among some steps."""
        dt_s, metres = self.dt_s[steps], self.metres[steps]
        ordinary = (dt_s > 0) & (dt_s <= self.longest_s) & np.isfinite(metres)
        return metres[ordinary] / dt_s[ordinary]

    def speeds_around_mps(self, k: int) -> tuple[Floats, Floats]:
        """Speeds shortly before and shortly after step k."""
        before = self.speeds_mps(slice(max(k - REACH, 0), k))
        return before, self.speeds_mps(slice(k + 1, k + 1 + REACH))

    def true_s(self, k: int) -> float:
        """Usual intervals that step k took, by its metres and the speeds around it."""
        around = np.concatenate(self.speeds_around_mps(k))
        pace_mps = float(around.mean()) if len(around) else 0.0
        if pace_mps < RIDING_MPS:
            return self.usual_s
        return self.usual_s * max(round(float(self.metres[k]) / pace_mps / self.usual_s), 1)

    def goes_on(self, k: int) -> bool:
        """Whether step k may be one of riding on: not back, and no further than that."""
        around = np.concatenate(self.speeds_around_mps(k))
        furthest = 2 * self.longest_s * max([RIDING_MPS, *around]) + BLUR_M
        return bool(not self.broken[k] and 0 <= self.metres[k] <= furthest)

    def rides_on(self, k: int) -> bool:
        """Whether riding went on at speed through step k: too few metres to stop and start in."""
        before, after = self.speeds_around_mps(k)
        if not (len(before) and len(after) and not self.broken[k]):
            return False
        slowest_before, slowest_after = before.min(), after.min()
        if min(slowest_before, slowest_after) < RIDING_MPS:
            return False
        stop_and_go = slowest_before**2 / (2 * BRAKING_MPS2) + slowest_after**2 / (
            2 * STARTING_MPS2
        )
        least = LEAST_STEP * self.usual_s * min(slowest_before, slowest_after)
        return bool(least <= self.metres[k] <= stop_and_go)


def usual_interval_s(t_s: Floats) -> float | None:
    """Median of the steps ahead; None where time stands still."""
    steps = np.diff(t_s)
    steps = steps[steps > 0]
    return float(np.median(steps)) if len(steps) else None


def find_jumps(
    t_s: Floats,
    travelled_m: Callable[[], Floats],
    broken: Callable[[], Flags],
    set_from_s: float = -np.inf,
) -> list[Jump]:
    """Jumps of the clock in file order; ``clock.settled`` tells what is passed."""
    usual_s = usual_interval_s(t_s)
    dt_s = np.diff(t_s)
    if usual_s is None:
        return []
    least_s = max(MIN_FORWARD_S, MIN_FORWARD_STEPS * usual_s)
    odd = (dt_s < 0) | (dt_s >= least_s) | ((t_s[1:] < set_from_s) != (t_s[:-1] < set_from_s))
    if not odd.any():
        return []
    steps = _steps(t_s, travelled_m(), broken(), usual_s)
    unset = (steps.t_s[1:] < set_from_s) != (steps.t_s[:-1] < set_from_s)
    if max(unset.sum(), (steps.dt_s < 0).sum()) > MOST_JUMPS:
        return []
    true_s = dict.fromkeys(_numbers(unset), usual_s)
    for k in _numbers((steps.dt_s < 0) & ~unset):
        true_s |= _set_back(steps, k)
    for k in _numbers((steps.dt_s >= least_s) & ~unset):
        if k not in true_s and steps.rides_on(k) and steps.true_s(k) <= steps.dt_s[k] - least_s / 2:
            true_s[k] = steps.true_s(k)
    return [
        Jump(int(steps.rows[k + 1]), float(steps.dt_s[k]) - true_s[k], bool(unset[k]))
        for k in sorted(true_s)
    ]


def _numbers(where: Flags) -> list[int]:
    return [int(k) for k in np.flatnonzero(where)]


def _steps(t_s: Floats, travelled_m: Floats, broken: Flags, usual_s: float) -> _Steps:
    rows = np.flatnonzero(np.diff(t_s, prepend=np.nan) != 0)
    known = np.maximum.accumulate(np.where(np.isfinite(travelled_m), np.arange(len(t_s)), -1))
    last_rows = np.append(rows[1:], len(t_s)) - 1
    # Known in some row of the instant; what was known before would show no metres where there are.
    so_far_m = np.where(known[last_rows] >= rows, travelled_m[known[last_rows]], np.nan)
    dt_s = np.diff(t_s[rows])
    often_s = float(np.quantile(dt_s[dt_s > 0], 0.95))
    longest_s = max(ORDINARY_STEPS * usual_s, min(often_s, MIN_FORWARD_S))
    return _Steps(rows, t_s[rows], dt_s, np.diff(so_far_m), broken[rows[1:]], usual_s, longest_s)


def _set_back(steps: _Steps, k: int) -> dict[int, float]:
    """True seconds of the steps that the backward step k shows to be jumps; none for records late.

    The backward step may undo a step ahead, or be undone by one. The two then leave room for the
    records between, or else these were written out of order.
    """
    for other in (_undone_by(steps, k), _undoes(steps, k)):
        if other is None or not PAIR_STEPS * steps.usual_s <= steps.dt_s[other]:
            continue
        both_s = float(steps.dt_s[k] + steps.dt_s[other])
        if both_s < PAIR_STEPS * steps.usual_s:
            return {}
        if both_s <= steps.usual_s + steps.longest_s and steps.goes_on(k) and steps.goes_on(other):
            return {k: steps.usual_s, other: both_s - steps.usual_s}
    return {k: steps.true_s(k)} if steps.goes_on(k) else {}


def _undone_by(steps: _Steps, k: int) -> int | None:
    """The step after k that leads beyond the time from which k stepped back."""
    beyond = steps.t_s[k + 1 :] > steps.t_s[k]
    return k + int(beyond.argmax()) if beyond.any() else None


def _undoes(steps: _Steps, k: int) -> int | None:
    """The step before k that led beyond the time to which k steps back."""
    below = steps.t_s[:k] < steps.t_s[k + 1]
    return k - 1 - int(below[::-1].argmax()) if below.any() else None
