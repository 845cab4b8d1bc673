"""What a campaign is, once checked: vehicles, drivetrains, claims."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from ridelab.drivetrain.ladder import MERGE_WITHIN, published_ladder
from ridelab.errors import UsageError, nearest
from ridelab.units import UnitSystem as Units

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.campaign.loggers import Logger
    from ridelab.drivetrain.ladder import Ladder
    from ridelab.drivetrain.stages import Drivetrain
    from ridelab.drivetrain.wheel import Tyre

__all__ = ["Campaign", "Claim", "ClaimQuantity", "Kind", "Units", "Vehicle"]

Kind = Literal["bicycle", "trike", "tandem", "cargo", "velomobile"]
ClaimQuantity = Literal["range", "gears", "ratio", "step", "speed", "development"]


@dataclass(frozen=True)
class Vehicle:
    """What was ridden: one driven wheel, at most one drivetrain, and where its ride files are."""

    name: str
    kind: Kind
    rides: tuple[str, ...]
    tyre: Tyre | None = None
    rollout_m: float | None = None  # measured, loaded
    drivetrain: str | None = None
    odometer_km: float | None = None
    logger: str | None = None  # the one that wrote its CSV files; None: told by their headers

    @property
    def stated_rollout_m(self) -> float | None:
        """Measured rollout if given, else the tyre's nominal one, else None."""
        if self.rollout_m is not None:
            return self.rollout_m
        return self.tyre.nominal_rollout_m if self.tyre else None


@dataclass(frozen=True)
class Claim:
    """One published statement that rides can test; ``value`` in SI, a range as a factor.

    ``tolerance`` is relative to the value: ``abs(measured / value - 1) <= tolerance``.
    """

    id: str
    drivetrain: str
    quantity: ClaimQuantity
    value: float
    tolerance: float
    printed: str  # the value as the campaign prints it
    source: str = ""
    gear: int | Literal["lowest", "highest"] | None = None
    which: Literal["mean", "largest", "smallest"] | None = None
    at_cadence_rpm: float | None = None


@dataclass(frozen=True)
class Campaign:
    """One test effort.

    ``root`` is the folder that globs are relative to, ``file`` what it was read from, if anything.
    """

    name: str
    root: Path
    units: Units = "metric"
    vehicles: dict[str, Vehicle] = field(default_factory=dict)
    drivetrains: dict[str, Drivetrain] = field(default_factory=dict)
    claims: tuple[Claim, ...] = ()
    merge_within: float = MERGE_WITHIN
    loggers: dict[str, Logger] = field(default_factory=dict)
    file: Path | None = None

    def loggers_of(self, vehicle: str) -> tuple[Logger, ...]:
        """Return the loggers that may have written a vehicle's CSV files: its own, else all."""
        own = self.vehicles[vehicle].logger
        return tuple(self.loggers.values()) if own is None else (self.loggers[own],)

    def ladder(self, drivetrain: str) -> Ladder:
        """Return the published ladder of a drivetrain, close combinations merged as set here.

        Raises:
            UsageError: the campaign defines no such drivetrain.
        """
        if drivetrain not in self.drivetrains:
            raise UsageError(
                f"no drivetrain {drivetrain!r}; {nearest(drivetrain, self.drivetrains)}"
            )
        return published_ladder(self.drivetrains[drivetrain], self.merge_within)
