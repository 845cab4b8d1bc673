"""What a rider feels, and what a hand does to the drivetrain because of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

Legs = Literal["drive", "soft", "coast"]

#: Cadence this far above the preferred one cannot be kept up.
SPINNING_RPM = 25.0
#: Speed that a rider has in mind while standing, to choose the gear to start in.
START_MPS = 2.6
#: A rider acts on where the cadence will be shortly.
_AHEAD_S = 1.2


@dataclass
class Moment:
    """What a rider feels: all that shifting is decided by.

    ``driven_rpm``: how fast the wheel would turn the crank; ``gaining_mps2``: acceleration.
    """

    t_s: float = 0.0
    speed_mps: float = 0.0
    cadence_rpm: float = 0.0
    driven_rpm: float = 0.0
    gaining_mps2: float = 0.0
    coupled: bool = False
    legs: Legs = "drive"

    def coming_rpm(self) -> float:
        """Cadence as it will be shortly."""
        if self.speed_mps <= 0:
            return self.driven_rpm
        return self.driven_rpm * (1.0 + _AHEAD_S * self.gaining_mps2 / self.speed_mps)


@dataclass(frozen=True)
class Shift:
    """A change of gear at the moment when the new one takes the load; both gears as published."""

    t_s: float
    from_gear: int
    to_gear: int
    to_setting: int


class Hand(Protocol):
    """Works the drivetrain; ``ratio`` is engaged, ``gear`` its published number, 0 where stepless.

    ``at``: index of the setting, 0 where stepless. ``open``: a shift is under way and nothing is
    driven.
    """

    ratio: float
    gear: int
    at: int
    open: bool
    shifts: list[Shift]

    def act(self, now: Moment) -> None:
        """Shift, begin to, or leave it."""

    def sweep(self, now: Moment) -> None:
        """Ride through all gears from here on."""

    def crank_rpm(self, now: Moment) -> float | None:
        """Cadence on its way through a shift that is under way; None without one."""

    def needs_crank(self, now: Moment) -> bool:
        """A shift is wanted that the drivetrain makes only while the crank turns."""

    @property
    def sweeping(self) -> bool:
        """A sweep is going on."""

    @property
    def at_top(self) -> bool:
        """There is no higher gear."""
