"""Noise that lasts for a while, and the smoothing that recording units do."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def correlated(count: int, memory: float, spread: float, rng: np.random.Generator) -> Floats:
    """Gaussian noise of standard deviation ``spread`` that forgets itself over ``memory`` values.

    An autoregressive process of first order, correlation exp(-n / memory) between values n apart,
    in its steady state from the first value on.
    """
    from scipy.signal import lfilter  # slow to import

    keep = math.exp(-1.0 / memory)
    pushes = rng.normal(0.0, spread, count)
    pushes[1:] *= math.sqrt(1.0 - keep**2)
    return np.asarray(lfilter([1.0], [1.0, -keep], pushes), np.float64)


def smoothed(values: Floats, memory: float) -> Floats:
    """Exponential smoothing with a time constant of ``memory`` values, from zero."""
    from scipy.signal import lfilter  # slow to import

    keep = math.exp(-1.0 / memory)
    return np.asarray(lfilter([1.0 - keep], [1.0, -keep], values), np.float64)


def strayed(spread: float, rng: np.random.Generator) -> float:
    """A factor near 1 with this standard deviation of its logarithm; without one nothing drawn."""
    return math.exp(float(rng.normal(0.0, spread))) if spread > 0.0 else 1.0
