"""Counts of pulses -> turns a second, from the times of the pulses.

Between two pulses a wheel has made a known part of a turn in a known time: that is its mean speed
there. Differences from row to row would say as little as 0 or 1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ridelab.telemetry.notes import counted

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.telemetry.notes import Notes

    Floats = NDArray[np.float64]

#: After so long without a pulse it stands: at one pulse a turn, below 20 turns a minute.
STANDS_AFTER_S = 3.0


class Turning(NamedTuple):
    """One value a row, nan where unknown.

    Attributes:
        rate: turns a second, the mean between the pulses before and after the row.
        turns: turns since the first row.
        interval_s: time between pulses, the middle one; nan where there are fewer than two.
        resolution: smallest difference of rates that the times of the rows can show, relative.
    """

    rate: Floats
    turns: Floats
    interval_s: float
    resolution: float


def turning(t_s: Floats, turns: Floats, what: str, notes: Notes) -> Turning:
    """Rates from a running count in ``turns`` (parts of a turn), nan in rows without one.

    A count that falls back, as one does when the logger starts anew, is counted on from there.
    """
    known = np.flatnonzero(np.isfinite(turns))
    rate = np.full(len(t_s), np.nan)
    total = np.full(len(t_s), np.nan)
    if not len(known):
        return Turning(rate, total, np.nan, 0.0)
    t = t_s[known]
    steps = np.diff(turns[known], prepend=turns[known[0]])
    fell = steps < 0
    if fell.any():
        first = t[fell.argmax()]
        notes.warn(
            f"the count of {what} falls back {counted(int(fell.sum()), 'time')}, first after "
            f"{first - t_s[0]:.4g} s: counted on from there"
        )
    steps[fell] = 0.0
    total[known] = np.cumsum(steps)
    rate[known] = _rates(t, steps, fell)
    pulses = t[steps > 0]
    between = np.diff(pulses)
    if not len(between):
        return Turning(rate, total, np.nan, 0.0)
    interval_s = float(np.median(between))
    return Turning(rate, total, interval_s, _resolution(t, interval_s))


def _rates(t: Floats, steps: Floats, fell: NDArray[np.bool_]) -> Floats:
    """Return turns a second for each row: its pulse interval's; zero where it stands."""
    rates = np.full(len(t), np.nan)
    # the row of a pulse ends one interval; after a fall an interval begins that no pulse did
    ends = np.flatnonzero((steps > 0) | fell)
    if len(ends):
        starts = np.concatenate([[-1], ends[:-1]])
        lasted = t[ends] - np.where(starts >= 0, t[starts], np.nan)
        of_interval = np.where(
            fell[ends], np.nan, steps[ends] / np.where(lasted > 0, lasted, np.nan)
        )
        # slower than this it is not told from standing
        of_interval[(lasted > STANDS_AFTER_S) & (of_interval * STANDS_AFTER_S < 1)] = 0.0
        interval = np.searchsorted(ends, np.arange(len(t)))
        inside = interval < len(ends)
        rates[inside] = of_interval[interval[inside]]
    silent = t - (t[ends[-1]] if len(ends) else t[0])
    rates[np.isnan(rates) & (silent > STANDS_AFTER_S)] = 0.0
    return rates


def _resolution(t: Floats, interval_s: float) -> float:
    """Return the relative uncertainty of a rate as a step: both pulses are late by up to a row.

    A rounding step q stands for a standard deviation of q / sqrt(12); two ends make it sqrt(2) as
    large.
    """
    row_s = float(np.median(np.diff(t))) if len(t) > 1 else 0.0
    return float(np.sqrt(2.0) * row_s / interval_s)
