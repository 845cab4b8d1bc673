"""How far readings of ln(development) scatter beside the causes known beforehand, and how long.

An error of the speed itself, as satellites make it, weighs more the slower the ride; an error of
the pulses weighs alike at any speed. Neither is assumed: both are fitted to the ride.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

#: The median absolute deviation of a normal distribution times this is its standard deviation.
MEDIAN_TO_SD = 1.4826
#: Smallest credible noise of ln(development) beside the causes counted elsewhere.
FLOOR = 0.002
#: Readings needed for each group of like speed, and the most groups.
GROUP, MOST_GROUPS = 60, 8
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
        memory: correlation of two readings one second apart, 0 to ``LONGEST_MEMORY``.
    """

    share: float
    speed_mps: float = 0.0
    memory: float = 0.0

    def sd(self, speed_mps: Floats) -> Floats:
        """Return the standard deviation at each speed; nan where the speed is not known."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.hypot(self.share, self.speed_mps / speed_mps))

    def remembering(self, memory: float) -> Noise:
        """Return the same with another memory."""
        return replace(self, memory=float(np.clip(memory, 0.0, LONGEST_MEMORY)))


def fitted(off: Floats, known: Floats, speed_mps: Floats, least: float = FLOOR) -> Noise | None:
    """Return the noise that, with ``known`` causes, makes residuals ``off`` as wide as they are.

    All one value a reading, in order of time. The robust variance of each group of like speed is
    explained by a constant and by the square of 1 / speed, neither negative (weighted least
    squares, twice). None where there are too few readings.
    """
    from scipy.ndimage import uniform_filter1d
    from scipy.optimize import nnls

    if len(off) < GROUP:
        return None
    count = min(len(off) // GROUP, MOST_GROUPS)
    # Grouped by the readings themselves, errors of the speed would be sorted out of the groups.
    groups = np.array_split(np.argsort(uniform_filter1d(speed_mps, SMOOTHED)), count)
    total = np.array([(MEDIAN_TO_SD * np.median(np.abs(off[g]))) ** 2 for g in groups])
    causes = np.array([np.median(known[g] ** 2) for g in groups])
    slowness = np.array([np.mean(speed_mps[g] ** -2.0) for g in groups])
    design = np.stack([np.ones(count), slowness], axis=1)
    expected = np.full(count, total.mean())
    for _ in range(2):
        weight = 1.0 / np.maximum(expected, least**2)
        found, _ = nnls(design * weight[:, None], np.maximum(total - causes, 0.0) * weight)
        expected = design @ found + causes
    return Noise(float(np.sqrt(max(found[0], least**2))), float(np.sqrt(found[1])))


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
