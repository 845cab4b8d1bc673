"""What a campaign is, once checked: vehicles, drivetrains, claims."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from typing import TYPE_CHECKING, Literal

from ridelab.campaign.power import Meters
from ridelab.drivetrain.ladder import MERGE_WITHIN, published_ladder
from ridelab.drivetrain.torque import Motor, Rider
from ridelab.errors import UsageError, nearest
from ridelab.units import UnitSystem as Units

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.campaign.loggers import Logger
    from ridelab.campaign.mounting import Mounted
    from ridelab.campaign.service import Serviced
    from ridelab.drivetrain.ladder import Ladder
    from ridelab.drivetrain.stages import Drivetrain
    from ridelab.drivetrain.wheel import Tyre

__all__ = [
    "BY_TWO_METERS",
    "COUNTS",
    "UNTESTABLE",
    "Bound",
    "Campaign",
    "Claim",
    "ClaimQuantity",
    "Kind",
    "Units",
    "Vehicle",
    "Which",
]

Kind = Literal["bicycle", "trike", "tandem", "cargo", "velomobile"]
ClaimQuantity = Literal[
    "range", "gears", "overlap", "ratio", "step", "evenness", "cadence change", "speed",
    "development", "rollout", "efficiency", "noise", "durability", "weight",
]  # fmt: skip
Which = Literal["mean", "largest", "smallest", "every"]
#: How a claimed number is meant: as the value itself, or as the least or the most there is.
Bound = Literal["about", "at least", "at most"]

#: Quantities that come in whole numbers.
COUNTS: tuple[ClaimQuantity, ...] = ("gears", "overlap")
#: Quantities that speed and cadence do not show, and why not; ``Claim.value`` is NaN for them,
#: but for those ``BY_TWO_METERS``.
UNTESTABLE: dict[ClaimQuantity, str] = {
    "efficiency": (
        "speed and cadence show how far a turn of the crank carries, not what power is lost on the "
        "way; neither a step nor a range says anything of efficiency; power recorded at the crank "
        "and at the driven wheel side by side would"
    ),
    "noise": "a ride file holds no sound",
    "durability": "wear takes years, and a ride file holds hours",
    "weight": "a ride shows rider, load and vehicle as one mass",
}
#: Of these, what rides show nevertheless where power was recorded at the crank and at the wheel.
BY_TWO_METERS: frozenset[ClaimQuantity] = frozenset({"efficiency"})


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
    other_tyres: tuple[Tyre, ...] = ()  # of its wheels that are not driven
    sensor_wheel: Tyre | None = None  # whose turns the speed sensor counts; None: not stated
    set_rollout_m: float | None = None  # what the recording unit is set to
    rider: Rider = field(default_factory=Rider)
    motor: Motor | None = None
    meters: Meters = field(default_factory=Meters)
    comfortable_rpm: tuple[float, float] | None = None  # None: told from the rides
    replay_onto: tuple[str, ...] = ()  # drivetrains that its rides are to be replayed on
    devices: tuple[str, ...] = ()  # serial numbers of recording units that are on it alone
    serviced: tuple[Serviced, ...] = ()  # by day

    @property
    def stated_rollout_m(self) -> float | None:
        """Measured rollout if given, else the tyre's nominal one, else None."""
        if self.rollout_m is not None:
            return self.rollout_m
        return self.tyre.nominal_rollout_m if self.tyre else None

    @property
    def counted_rollout_m(self) -> float | None:
        """Rollout of the wheel under the speed sensor: the driven one, unless stated otherwise."""
        if self.sensor_wheel in (None, self.tyre):
            return self.stated_rollout_m
        return self.sensor_wheel.nominal_rollout_m if self.sensor_wheel else None

    @property
    def counted_is_measured(self) -> bool:
        """Whether ``counted_rollout_m`` was measured."""
        return self.rollout_m is not None and self.sensor_wheel in (None, self.tyre)

    @property
    def unit_factor(self) -> float | None:
        """Recorded over true development, as the unit is set; None where that is not stated."""
        if self.set_rollout_m is None or self.counted_rollout_m is None:
            return None
        return self.set_rollout_m / self.counted_rollout_m


@dataclass(frozen=True)
class Claim:
    """One published statement about a drivetrain.

    Attributes:
        value: in SI, a range or a step as a factor or fraction, a cadence change in turns a minute;
            of evenness (1 + largest step) / (1 + smallest step) - 1; of overlap the number of
            combinations that only repeat a gear. NaN for what is ``UNTESTABLE`` even by two meters.
        tolerance: relative to the value; stated, else half a unit of the last digit printed.
        printed: the value as the campaign prints it, "at least" or "at most" in front.
        gear: the gear of a ratio, development, speed or efficiency, None for the efficiency of all;
            the upper gear of one step or of the cadence change at it.
        which: of several steps, or of the cadence changes at them; None beside ``gear``.
        at_cadence_rpm: of a speed, the cadence it is claimed at; of a cadence change, the cadence
            in the higher gear of the two. Taken as exact.
        bound: whether ``value`` is what is claimed, or only its least or its most.
        within: combinations closer than this count as one gear, relative, for gears and overlap;
            None for the campaign's own ``merge_within``.
        vehicle: the only vehicle it speaks of; None for all that have the drivetrain.
    """

    id: str
    drivetrain: str
    quantity: ClaimQuantity
    value: float
    tolerance: float
    printed: str
    source: str = ""
    gear: int | Literal["lowest", "highest"] | None = None
    which: Which | None = None
    at_cadence_rpm: float | None = None
    bound: Bound = "about"
    within: float | None = None
    vehicle: str | None = None

    @property
    def limits(self) -> tuple[float, float]:
        """The least and the most that the quantity may be for the claim to hold; may be infinite.

        ``value * (1 ± tolerance)``, a count at least by half a one, on the side or sides that
        ``bound`` claims. NaN for what is ``UNTESTABLE``.
        """
        margin = self.tolerance * self.value
        if self.quantity in COUNTS:
            margin = max(margin, 0.5)
        low = -inf if self.bound == "at most" else self.value - margin
        high = inf if self.bound == "at least" else self.value + margin
        return low, high


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
    rider: Rider = field(default_factory=Rider)  # for drivetrains that no vehicle has
    rides: tuple[str, ...] = ()  # globs of rides whose vehicle their unit or their date tells
    mounted: tuple[Mounted, ...] = ()

    def loggers_of(self, vehicle: str) -> tuple[Logger, ...]:
        """Return the loggers that may have written a vehicle's CSV files: its own, else all."""
        own = self.vehicles[vehicle].logger
        return tuple(self.loggers.values()) if own is None else (self.loggers[own],)

    def tells_loss(self, vehicle: str) -> bool:
        """Return whether a vehicle's files may hold the power at the crank and at the wheel."""
        if self.vehicles[vehicle].meters.wheel_field is not None:
            return True
        return any(logger.has_both_powers for logger in self.loggers_of(vehicle))

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
