"""Channels of different rates -> one time base, by means over windows; nothing is filled in.

What is computed from samples needs speed and cadence side by side, one to ten times a second. So
the slower of the two sets the pace:

- Where it comes up to ten times a second, each of its values is a sample, at its own time, and of
  every other channel the mean is taken over the time that is nearest to that sample, half its usual
  interval to either side. A file with every channel in every row, up to ten rows a second, comes
  out as it went in.
- Where it comes faster, or is a rate of pulses, samples are means over windows of a quarter second,
  or of the time between two pulses where that is longer.
- Where it is silent, the others still get windows of that length.

A channel without a value in a window is null there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

#: Rows that come more often are averaged, over windows of at least this.
FASTEST_S = 0.1
WINDOW_S = 0.25
#: No window is longer, however slow a channel is.
LONGEST_WINDOW_S = 2.0
#: Values further apart than this many of their usual intervals do not follow each other.
FOLLOWS = 1.5


@dataclass(frozen=True)
class Pace:
    """What sets the pace: the rows it has a value in, and the usual time between two of them.

    ``counts``: its values are rates between pulses, so that its rows say nothing of its pace.
    """

    known: NDArray[np.bool_]
    interval_s: float
    counts: bool = False


def pace(t_s: Floats, values: Floats, pulse_interval_s: float | None = None) -> Pace | None:
    """Return the pace of one channel, None where it has fewer than two values."""
    known = np.isfinite(values)
    if known.sum() < 2:
        return None
    row_s = float(np.median(np.diff(t_s[known])))
    if pulse_interval_s is None:
        return Pace(known, row_s)
    return Pace(known, float(np.fmax(row_s, pulse_interval_s)), counts=True)


def averaged(
    t_s: Floats, channels: Mapping[str, Floats], slowest: Pace
) -> tuple[Floats, dict[str, Floats]]:
    """Return times and channels on one time base; ``t_s`` is strictly increasing."""
    interval_s = min(slowest.interval_s, LONGEST_WINDOW_S)
    if slowest.counts or interval_s < FASTEST_S:
        window = np.floor((t_s - t_s[0]) / max(interval_s, WINDOW_S)).astype(np.int64)
        starts = _starts(window)
        times = _means(t_s, starts)
    else:
        starts, times = _around(t_s, slowest.known, interval_s)
    return times, {name: _means(values, starts) for name, values in channels.items()}


def _around(t_s: Floats, known: NDArray[np.bool_], interval_s: float) -> tuple[Ints, Floats]:
    """Return where the windows around the known values begin, and those between; their times."""
    at = t_s[known]
    half = interval_s / 2
    follows = np.diff(at) <= FOLLOWS * interval_s
    middles = (at[1:] + at[:-1]) / 2
    begins = np.append(at[0] - half, np.where(follows, middles, at[1:] - half))
    ends = np.append(np.where(follows, middles, at[:-1] + half), at[-1] + half)
    place = np.searchsorted(begins, t_s, side="right") - 1
    outside = (place < 0) | (t_s > ends[place])
    # windows between are counted from the end of the one before, or from the first row
    since = np.where(place < 0, t_s[0], ends[place])
    between = np.where(outside, 1 + np.floor((t_s - since) / interval_s), 0).astype(np.int64)
    starts = np.flatnonzero((np.diff(place, prepend=-2) != 0) | (np.diff(between, prepend=-1) != 0))
    times = _means(t_s, starts)
    inside = between[starts] == 0
    times[inside] = at[place[starts[inside]]]
    return starts, times


def _starts(window: Ints) -> Ints:
    return np.flatnonzero(np.diff(window, prepend=-1) != 0)


def _means(values: Floats, starts: Ints) -> Floats:
    """Return the mean of the known values of each window, nan where there is none."""
    known = np.isfinite(values)
    sums = np.add.reduceat(np.where(known, values, 0.0), starts)
    counts = np.add.reduceat(known.astype(np.float64), starts)
    means: Floats = np.divide(sums, counts, out=np.full(len(starts), np.nan), where=counts > 0)
    return means
