"""How a cadence feels, in one number: what a replay weighs shifts against."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.errors import NotAccepted

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_LEAST_RPM, _MOST_RPM = 20.0, 200.0


@dataclass(frozen=True)
class Band:
    """The cadences that a rider is comfortable with, turns a minute."""

    low_rpm: float
    high_rpm: float

    def __post_init__(self) -> None:
        """Refuse what no legs do.

        Raises:
            NotAccepted: not two cadences in order.
        """
        if not _LEAST_RPM <= self.low_rpm < self.high_rpm <= _MOST_RPM:
            accepted = f"two cadences from {_LEAST_RPM:g} to {_MOST_RPM:g} rpm, the lower one first"
            raise NotAccepted(f"{self.low_rpm:g} to {self.high_rpm:g} rpm", accepted)

    @property
    def log_low(self) -> float:
        """Logarithm of the lower edge."""
        return math.log(self.low_rpm)

    @property
    def log_high(self) -> float:
        """Logarithm of the upper edge."""
        return math.log(self.high_rpm)

    @property
    def log_middle(self) -> float:
        """Logarithm of the middle, which is the geometric mean of the edges."""
        return (self.log_low + self.log_high) / 2

    @property
    def log_half(self) -> float:
        """Half the width, in the logarithm."""
        return (self.log_high - self.log_low) / 2


def asked(log_speed: Floats, log_development: Floats) -> Floats:
    """Return ln(cadence) that each gear asks at each speed; gears are a new last axis.

    cadence = 60 × speed / development. ``log_speed``: ln of metres a minute.
    """
    return np.asarray(log_speed[..., None] - log_development)


def discomfort(log_cadence: Floats, seconds: Floats, band: Band) -> Floats:
    """Return the discomfort of so many seconds at a cadence, one value for each of ``log_cadence``.

    A second in the middle of the band costs nothing, one at an edge 1, one twice as far out 4:
    ((ln cadence - ln middle) / half of the band's width in the logarithm)². Our own choice: a
    square, so that a cadence far out weighs more than a little too much for long.
    """
    cost = (log_cadence - band.log_middle) / band.log_half
    np.multiply(cost, cost, out=cost)
    np.multiply(cost, seconds[..., None], out=cost)
    return np.asarray(cost)
