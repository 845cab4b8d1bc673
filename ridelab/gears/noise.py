"""How far readings of ln(development) scatter beside the causes known beforehand, and how long.

An error of the speed itself, as satellites make it, weighs more the slower the ride; an error of
the pulses weighs alike at any speed. Neither is assumed: both are fitted to the ride.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

#: The median absolute deviation of a normal distribution times this is its standard deviation.
MEDIAN_TO_SD = 1.4826
#: Smallest credible noise of ln(development) beside the causes counted elsewhere.
FLOOR = 0.002
#: Readings needed for a group, and the most groups of like speed.
GROUP, MOST_GROUPS = 60, 6
#: Readings over which speed is averaged to know which are alike.
SMOOTHED = 15
#: Neighbouring readings further apart than this do not tell how long an error lasts.
NEIGHBOUR_S = 1.5
LONGEST_MEMORY = 0.9


@dataclass(frozen=True)
class Noise:
    """Noise of ln(development), normal but for its tails.

    Attributes:
        share: standard deviation at any speed.
        speed_mps: standard deviation of the speed itself, which adds ``speed_mps`` over speed.
        timing_s: standard deviation of the time between the readings of speed and cadence, beside
            the lag; adds ``timing_s`` times the slope of their logarithms.
        memory: correlation of two readings one second apart, 0 to ``LONGEST_MEMORY``.
    """

    share: float
    speed_mps: float = 0.0
    timing_s: float = 0.0
    memory: float = 0.0

    def sd(self, speed_mps: Floats, slope_hz: Floats) -> Floats:
        """Return the standard deviation at each speed and slope of ln(speed); nan if not known."""
        with np.errstate(divide="ignore", invalid="ignore"):
            steady = np.hypot(self.share, self.speed_mps / speed_mps)
        return np.asarray(np.hypot(steady, self.timing_s * slope_hz))

    def remembering(self, memory: float) -> Noise:
        """Return the same with another memory."""
        return replace(self, memory=float(np.clip(memory, 0.0, LONGEST_MEMORY)))


def fitted(
    off: Floats,
    known: Floats,
    speed_mps: Floats,
    slope_hz: Floats,
    timing_s: float | None = None,
    least: float = FLOOR,
) -> Noise | None:
    """Return the noise that, with ``known`` causes, makes residuals ``off`` as wide as they are.

    Arrays have one value a reading, in order of time; ``timing_s``: where it is known. The robust
    variance of groups of like speed and slope is explained by a constant, the square of 1 / speed,
    and the square of the slope, none negative (weighted least squares, repeated). None where there
    are too few readings.
    """
    from scipy.optimize import nnls

    if len(off) < GROUP:
        return None
    groups = _alike(speed_mps, slope_hz)
    total = (MEDIAN_TO_SD * _medians(np.abs(off), groups)) ** 2
    slowness = np.array([(1.0 / (speed_mps[g] * speed_mps[g])).mean() for g in groups])
    slope2, causes = _medians(slope_hz**2, groups), _medians(known**2, groups)
    columns = [np.ones(len(groups)), slowness, slope2]
    if timing_s is not None:
        causes = causes + timing_s**2 * columns.pop()
    design = np.stack(columns, axis=1)
    expected = np.full(len(groups), total.mean())
    for _ in range(3):
        weight = 1.0 / np.maximum(expected, least**2)
        found, _ = nnls(design * weight[:, None], np.maximum(total - causes, 0.0) * weight)
        expected = design @ found + causes
    timing = float(np.sqrt(found[2])) if timing_s is None else timing_s
    return Noise(float(np.sqrt(max(found[0], least**2))), float(np.sqrt(found[1])), timing)


def _medians(values: Floats, groups: Sequence[NDArray[np.int64]]) -> Floats:
    """Return the median of each group; for so few values, numpy's own is mostly overhead."""
    found = np.empty(len(groups))
    for k, group in enumerate(groups):
        lower, upper = (len(group) - 1) // 2, len(group) // 2
        within = np.partition(values[group], (lower, upper))
        found[k] = 0.5 * (within[lower] + within[upper])
    return found


def _alike(speed_mps: Floats, slope_hz: Floats) -> list[NDArray[np.int64]]:
    """Return the readings in groups of like speed, each cut in three of like slope."""
    from scipy.ndimage import uniform_filter1d

    # Grouped by the readings themselves, errors of the speed would be sorted out of the groups.
    order = np.argsort(uniform_filter1d(speed_mps, SMOOTHED))
    count = int(np.clip(len(order) // (3 * GROUP), 1, MOST_GROUPS))
    return [
        part
        for group in np.array_split(order, count)
        for part in np.array_split(group[np.argsort(np.abs(slope_hz[group]))], 3)
    ]


def memory(z: Floats, t_s: Floats, neighbours: Flags) -> float | None:
    """Return the correlation of readings a second apart, from standardised residuals ``z``.

    ``neighbours``: a reading and the one before it belong to the same stay in a gear; one value a
    reading. None where there are too few.
    """
    pair = neighbours[1:] & (np.diff(t_s) <= NEIGHBOUR_S)
    if pair.sum() < GROUP:
        return None
    first, second = np.clip(z[:-1][pair], -3.0, 3.0), np.clip(z[1:][pair], -3.0, 3.0)
    both = float(np.sqrt((first**2).mean() * (second**2).mean()))
    return float((first * second).mean() / both) if both > 0 else 0.0
