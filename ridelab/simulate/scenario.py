"""What is ridden, by whom, where, and what records it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ridelab.simulate.physics import Resistance

if TYPE_CHECKING:
    from ridelab.simulate.course import Course
    from ridelab.simulate.gearing import Gears, Stepless

Speedometer = Literal["wheel sensor", "satellite"]


@dataclass(frozen=True)
class Rider:
    """A rider's body and habits.

    Attributes:
        mass_kg: of the rider.
        cadence_rpm: preferred.
        power_w: on the level, for a long time; most on a climb is twice that.
        band_rpm: how far the cadence strays from the preferred one before the rider shifts; the
            limits vary from shift to shift.
        spell_every_s: mean time between short spells of coasting or soft pedalling.
        soft_share: of those spells, how many are soft pedalling.
        fastest_mps: brakes above this on a descent.
        sweep_s: seconds in each gear where a course asks for a sweep through all gears.
    """

    mass_kg: float = 75.0
    cadence_rpm: float = 80.0
    power_w: float = 150.0
    band_rpm: float = 9.0
    spell_every_s: float = 70.0
    soft_share: float = 0.4
    fastest_mps: float = 13.5
    sweep_s: float = 40.0


@dataclass(frozen=True)
class Vehicle:
    """A vehicle as it really is, whatever its data sheet says.

    ``rollout_m``: metres for one turn of the driven wheel, loaded. ``shifts_standing``: gears can
    be changed while the crank stands (gearboxes and hubs), unlike a chain on sprockets.
    """

    gearing: Gears | Stepless
    rollout_m: float
    mass_kg: float = 15.0
    rolling: float = 0.006
    drag_m2: float = 0.5
    shifts_standing: bool = True

    def resistance(self, rider: Rider) -> Resistance:
        """Return what resists vehicle and rider together."""
        return Resistance(self.mass_kg + rider.mass_kg, self.rolling, self.drag_m2)


@dataclass(frozen=True)
class Sensors:
    """What records the ride, one record a second.

    Attributes:
        speed: a sensor at the driven wheel, or positions from satellites.
        set_rollout_m: the wheel size set in the recording unit; None: the true one.
        cadence_fraction: the unit stores 1/128 rpm instead of whole ones.
        hold_s: how long the last speed and cadence are shown after the pulses stop.
        lag_s: satellite speed trails by this much.
        smoothing_s: time constant of the unit's smoothing of satellite speed.
        speed_noise_mps: standard deviation of satellite speed before smoothing.
        position_noise_m: standard deviation of satellite positions, along the road.
        power_meter: power is recorded.
        gear_events: electronic shifting tells the unit of every change.
        dropouts_per_hour: a sensor's radio is lost for some seconds.
        auto_pause: the unit stops its timer while the vehicle stands.
    """

    speed: Speedometer = "wheel sensor"
    set_rollout_m: float | None = None
    cadence_fraction: bool = False
    hold_s: float = 2.5
    lag_s: float = 2.0
    smoothing_s: float = 1.5
    speed_noise_mps: float = 0.12
    position_noise_m: float = 0.6
    power_meter: bool = False
    gear_events: bool = False
    dropouts_per_hour: float = 2.0
    auto_pause: bool = False


@dataclass(frozen=True)
class Scenario:
    """One ride to be: it ends after ``duration_s``."""

    rider: Rider
    vehicle: Vehicle
    course: Course
    sensors: Sensors
    duration_s: int = 3600
