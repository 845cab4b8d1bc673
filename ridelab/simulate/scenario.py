"""What is ridden, by whom, where, and what records it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ridelab.simulate.physics import Resistance
from ridelab.simulate.weather import CALM, Wind

if TYPE_CHECKING:
    from ridelab.simulate.course import Course
    from ridelab.simulate.faults import PulseFault
    from ridelab.simulate.gearing import Gears, Stepless
    from ridelab.simulate.motor import HubMotor

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
        timing: how much they vary: now early, now late; standard deviation, as a share of the band.
        two_at_once: share of shifts that go over two gears though one would do.
        hunting: share of shifts that the rider takes back after some seconds.
        spell_every_s: mean time between short spells of coasting or soft pedalling.
        soft_share: of those spells, how many are soft pedalling.
        spell_s: shortest and longest of them.
        soft_wander: how far the legs stray, within seconds, from following the wheel while they
            pedal softly; standard deviation of ln(cadence). Without it they follow the wheel in a
            constant ratio, which looks like another gear.
        fastest_mps: brakes above this on a descent.
        sweep_s: seconds in each gear where a course asks for a sweep through all gears.
        sweep_plan: gears with the seconds to ride in each, in order, instead of all of them.
    """

    mass_kg: float = 75.0
    cadence_rpm: float = 80.0
    power_w: float = 150.0
    band_rpm: float = 9.0
    timing: float = 0.3
    two_at_once: float = 0.07
    hunting: float = 0.0
    spell_every_s: float = 70.0
    soft_share: float = 0.4
    spell_s: tuple[float, float] = (1.5, 7.0)
    soft_wander: float = 0.0
    fastest_mps: float = 13.5
    sweep_s: float = 40.0
    sweep_plan: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True)
class Tyre:
    """How a tyre's rollout departs from its mean; the figures in brackets are common practice.

    Attributes:
        day: standard deviation of ln(rollout) from one day to the next: pressure, warmth (0.001).
        growth: share by which it is longer at 10 m/s, growing with the square of speed (0.0003).
        grade: share by which it is shorter for each unit of grade, since weight moves to the rear
            wheel on a climb (0.01).
    """

    day: float = 0.0
    growth: float = 0.0
    grade: float = 0.0


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
    tyre: Tyre = Tyre()
    motor: HubMotor | None = None

    def resistance(self, rider: Rider) -> Resistance:
        """Return what resists vehicle and rider together."""
        return Resistance(self.mass_kg + rider.mass_kg, self.rolling, self.drag_m2)


@dataclass(frozen=True)
class Sensors:
    """What records the ride.

    Attributes:
        speed: a sensor at a wheel, or positions from satellites.
        wheel: where that sensor sits. The other wheel has the same rollout, but a tyre of its own,
            which departs from it by its own stray of the day.
        set_rollout_m: the wheel size set in the recording unit; None: the true one.
        cadence_fraction: the unit stores 1/128 rpm instead of whole ones.
        cadence_fault: what is wrong with the cadence sensor; None for a sound one.
        hold_s: how long the last speed and cadence are shown after the pulses stop.
        cadence_hold_s: the same for the cadence, where it differs.
        wheel_lag_s: a wheel sensor's speed is recorded this much later than the cadence; in real
            files 0 to 1.3 s.
        wheel_smoothing_s: time constant of the unit's smoothing of that speed.
        lag_s: satellite speed trails by this much.
        smoothing_s: time constant of the unit's smoothing of satellite speed.
        speed_noise_mps: standard deviation of satellite speed before smoothing, from one second to
            the next.
        speed_drift_mps: the same of its slow error, which lasts for some twenty seconds: signals
            that come by way of a house or a hill.
        position_noise_m: standard deviation of satellite positions, along the road.
        power_meter: power is recorded.
        gear_events: electronic shifting tells the unit of every change.
        dropouts_per_hour: a sensor's radio is lost for some seconds.
        dropout: what the unit records meanwhile, nothing or the last value that it heard.
        auto_pause: the unit stops its timer while the vehicle stands.
        recording: one record a second, or only when something has changed.
    """

    speed: Speedometer = "wheel sensor"
    wheel: Literal["driven", "other"] = "driven"
    set_rollout_m: float | None = None
    cadence_fraction: bool = False
    cadence_fault: PulseFault | None = None
    hold_s: float = 2.5
    cadence_hold_s: float | None = None
    wheel_lag_s: float = 0.0
    wheel_smoothing_s: float = 0.0
    lag_s: float = 2.0
    smoothing_s: float = 1.5
    speed_noise_mps: float = 0.12
    speed_drift_mps: float = 0.0
    position_noise_m: float = 0.6
    power_meter: bool = False
    gear_events: bool = False
    dropouts_per_hour: float = 2.0
    dropout: Literal["nothing", "last value"] = "nothing"
    auto_pause: bool = False
    recording: Literal["every second", "on change"] = "every second"


@dataclass(frozen=True)
class Scenario:
    """One ride to be: it ends after ``duration_s``."""

    rider: Rider
    vehicle: Vehicle
    course: Course
    sensors: Sensors
    duration_s: int = 3600
    wind: Wind = CALM
