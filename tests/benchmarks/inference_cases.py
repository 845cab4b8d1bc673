"""The cases of the inference benchmark: who rode what, on which road, with which sensors.

Every case stands for something that happens to real vehicles, and has several rides on different
days. Days differ in wind and in the rollout of the tyre; riders differ in cadence, power and
habits. The figures are common practice, no source, where ``ridelab.simulate`` names none; delays
and spreads are those seen in real files.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.drivetrain.ladder import published_ladder
from ridelab.drivetrain.stages import Drivetrain, epicyclic, from_range, from_ratios, from_teeth
from ridelab.drivetrain.stages import stepless as stepless_stage
from ridelab.simulate import (
    HubMotor,
    Piece,
    PulseFault,
    Rider,
    Scenario,
    Sensors,
    SimulatedRide,
    Tyre,
    Vehicle,
    Wind,
    build_course,
    from_drivetrain,
    simulate_ride,
)
from ridelab.telemetry.ride import Ride

if TYPE_CHECKING:
    from ridelab.drivetrain.ladder import Ladder

TYRE = Tyre(day=0.001, growth=0.0003, grade=0.01)

HILLS = (
    Piece(1200, junctions_every_m=600),
    Piece(1500, grade=0.07),
    Piece(1500, grade=-0.045),
    Piece(6000, hills=0.07, junctions_every_m=1600),
    Piece(1200, grade=0.10),
    Piece(14000, hills=0.05, junctions_every_m=2000),
)
ROLLING = (Piece(25_000, hills=0.04, junctions_every_m=1600),)
TOWN = (Piece(15_000, hills=0.012, junctions_every_m=400),)
SWEEP = (
    Piece(900, junctions_every_m=500),
    Piece(9000, grade=-0.004, sweep=True),
    Piece(1000, grade=0.08),
    Piece(12_000, hills=0.055, junctions_every_m=1600),
)
ROADS = {"hills": HILLS, "rolling": ROLLING, "town": TOWN, "sweep": SWEEP}

#: How often they shift (2 to 4 times a minute while moving; more often in town), and how much of
#: the way they roll without driving (10 to 20 %), is as in the real files at hand.
PLAIN = Rider(band_rpm=12.0, hunting=0.05, spell_s=(1.5, 12.0), soft_wander=0.05)
QUICK = replace(PLAIN, mass_kg=68.0, cadence_rpm=88.0, power_w=190.0, band_rpm=10.0)
CALM = replace(PLAIN, mass_kg=82.0, cadence_rpm=74.0, power_w=140.0, band_rpm=14.0, hunting=0.08)
EASY = replace(
    PLAIN,
    mass_kg=64.0,
    cadence_rpm=78.0,
    power_w=85.0,
    fastest_mps=7.0,
    spell_every_s=45.0,
    soft_share=0.5,
)
HELPED = replace(
    PLAIN,
    mass_kg=70.0,
    cadence_rpm=70.0,
    power_w=90.0,
    spell_every_s=40.0,
    spell_s=(2.0, 25.0),
    soft_share=0.6,
)

FOURTEEN = Drivetrain(
    "fourteen", (from_teeth("chain", (38,), (15,)), from_range("hub", 14, 5.26, 0.279))
)
EIGHTEEN = Drivetrain(
    "eighteen",
    (from_range("gearbox", 18, 6.0, 0.55), from_teeth("chain", (39,), (20,))),
)
NINE = Drivetrain(
    "nine",
    (
        from_ratios("gearbox", (0.55, 0.68, 0.84, 1.04, 1.28, 1.58, 1.95, 2.41, 2.97)),
        from_teeth("chain", (32,), (24,)),
    ),
)
DOUBLE = Drivetrain(
    "double", (from_teeth("chain", (34, 50), (11, 12, 13, 14, 16, 18, 20, 22, 25, 28, 32)),)
)
TWELVE = Drivetrain(
    "twelve", (from_teeth("chain", (32,), (10, 12, 14, 16, 18, 21, 24, 28, 33, 39, 45, 51)),)
)
SEVEN = Drivetrain(
    "seven",
    (
        from_teeth("chain", (38,), (18,)),
        from_ratios("hub", (0.640, 0.752, 0.858, 1.0, 1.165, 1.346, 1.562)),
    ),
)
THREE = Drivetrain("three", (from_teeth("chain", (44,), (18,)), epicyclic("hub", 20, 60)))
SIX_BY_FOURTEEN = Drivetrain(
    "six by fourteen",
    (
        from_ratios("gearbox", (1.0, 1.27, 1.61, 2.05, 2.6, 3.3)),
        from_teeth("chain", (32,), (24,)),
        from_range("hub", 14, 5.26, 0.279),
    ),
)
STEPLESS = Drivetrain(
    "stepless", (from_teeth("chain", (46,), (20,)), stepless_stage("hub", 0.5, 1.9))
)
#: Gear 9 of the hub as built turns 3 % faster than its data sheet says.
FOURTEEN_AS_BUILT = Drivetrain(
    "fourteen",
    (
        from_teeth("chain", (38,), (15,)),
        from_ratios(
            "hub",
            [
                c.ratio * (1.03 if i == 9 else 1.0)
                for i, c in enumerate(FOURTEEN.stages[1].choices, 1)
            ],
        ),
    ),
)


@dataclass(frozen=True)
class Body:
    """A vehicle but for its gears."""

    rollout_m: float = 2.1
    mass_kg: float = 16.0
    drag_m2: float = 0.5
    rolling: float = 0.006
    shifts_standing: bool = True
    motor: HubMotor | None = None


BICYCLE = Body()
ROAD = Body(2.13, 10.0, 0.38, 0.005, shifts_standing=False)
#: 50-406: the nominal rollout is 1.589 m, loaded 1.6 % less.
TRIKE = Body(1.5635, 20.0, 0.36, 0.007)
CARGO = Body(1.632, 42.0, 0.72, 0.008)


@dataclass(frozen=True)
class Day:
    """One ride to be: the road, the rider, and the wind of the day."""

    road: str
    rider: Rider = PLAIN
    wind: Wind = field(default_factory=lambda: Wind(2.5, 0.7))
    duration_s: int = 2400
    sensors: Sensors | None = None  # as on every other day, unless told


@dataclass(frozen=True)
class Case:
    """A vehicle, what is said of it, and its rides.

    ``truth``: the drivetrain whose gears the truth counts by; ``given``: the method is told it;
    ``built``: what the vehicle really has, where that is another one.
    """

    name: str
    truth: Drivetrain
    body: Body
    sensors: Sensors
    days: tuple[Day, ...]
    given: bool = True
    built: Drivetrain | None = None
    stated_off: float = 0.0
    rollout_is_measured: bool = True
    seed: int = 0

    @property
    def ladder(self) -> Ladder:
        """The published ladder."""
        return published_ladder(self.truth)

    @property
    def stated_rollout_m(self) -> float:
        """What the campaign says of the wheel."""
        return self.body.rollout_m * (1.0 + self.stated_off)

    def scenario(self, day: Day) -> Scenario:
        """Return the scenario of one of the days."""
        body = self.body
        vehicle = Vehicle(
            from_drivetrain(self.truth, self.built),
            body.rollout_m,
            body.mass_kg,
            body.rolling,
            body.drag_m2,
            body.shifts_standing,
            TYRE,
            body.motor,
        )
        course = build_course(ROADS[day.road], self.seed + len(day.road))
        sensors = day.sensors or self.sensors
        return Scenario(day.rider, vehicle, course, sensors, day.duration_s, day.wind)

    def rides(self) -> list[SimulatedRide]:
        """Ride all days."""
        return [
            simulate_ride(self.scenario(day), 1000 * self.seed + number)
            for number, day in enumerate(self.days)
        ]


def as_read(ride: SimulatedRide, name: str) -> Ride:
    """Return what the reader would make of the ride's file."""
    sensors = ride.scenario.sensors
    from_wheel = sensors.speed == "wheel sensor"
    kinds = (
        *(["bike_speed"] if from_wheel else []),
        "bike_cadence",
        *(["bike_power"] if sensors.power_meter else []),
    )
    return Ride(
        path=Path(f"{name}.fit"),
        sha256=name,
        format="fit",
        started_at=datetime(2026, 5, 1, 8, tzinfo=UTC),
        samples=ride.recorded,
        pauses=ride.pauses,
        sensors=kinds,
        speed_source=sensors.speed,
        cadence_resolution_rpm=1 / 128 if sensors.cadence_fraction else 1.0,
    )


WHEEL = Sensors(wheel_lag_s=0.6)
#: A sensor at the wheel that is not driven, and one at the crank that finds its turns by
#: acceleration: together they spread ln(development) by 1.1 to 1.6 %, as three real files do.
OTHER_WHEEL = Sensors(
    wheel="other", wheel_lag_s=1.0, wheel_smoothing_s=0.7, cadence_fault=PulseFault(0.006, 0.0)
)
SATELLITE = Sensors(
    speed="satellite", lag_s=3.0, smoothing_s=1.5, speed_noise_mps=0.1, speed_drift_mps=0.07
)

_NORTH, _WEST, _SOUTH = Wind(2.0, 0.3), Wind(4.0, 1.6), Wind(3.0, 3.4)
#: A test ride through all gears, then two rides as people ride.
TESTED = (
    Day("sweep", CALM, _NORTH, 2700),
    Day("hills", QUICK, _WEST),
    Day("rolling", PLAIN, _SOUTH),
)
RIDDEN = (Day("hills", CALM, _NORTH), Day("rolling", QUICK, _WEST), Day("town", PLAIN, _SOUTH))
_SKIES = (
    replace(SATELLITE, lag_s=4.0, smoothing_s=2.0),
    SATELLITE,
    replace(SATELLITE, lag_s=1.5, smoothing_s=1.0, position_noise_m=0.8),
)
UNDER_SKIES = tuple(replace(day, sensors=sky) for day, sky in zip(TESTED, _SKIES, strict=True))
_FAULTY = replace(
    WHEEL, cadence_fault=PulseFault(), cadence_hold_s=4.0, dropouts_per_hour=10.0,
    dropout="last value",
)  # fmt: skip


@cache
def all_cases() -> dict[str, Case]:
    """Every case by its name."""
    cases = [
        Case("14-speed hub, wheel sensor", FOURTEEN, BICYCLE, WHEEL, TESTED),
        Case("14-speed hub, satellite", FOURTEEN, BICYCLE, SATELLITE, UNDER_SKIES),
        Case("18-speed gearbox, trike, wheel sensor", EIGHTEEN, TRIKE, OTHER_WHEEL, TESTED,
             stated_off=0.016, rollout_is_measured=False),
        Case("18-speed gearbox, trike, satellite", EIGHTEEN, TRIKE, SATELLITE, UNDER_SKIES,
             stated_off=0.016, rollout_is_measured=False),
        Case("9-speed gearbox, power, 1/128 rpm", NINE, BICYCLE,
             replace(WHEEL, power_meter=True, cadence_fraction=True), RIDDEN),
        Case("2 × 11, wheel sensor", DOUBLE, ROAD, OTHER_WHEEL, TESTED),
        Case("2 × 11, satellite", DOUBLE, ROAD, SATELLITE, UNDER_SKIES),
        Case("6-speed gearbox, 14-speed hub", SIX_BY_FOURTEEN, TRIKE, WHEEL, TESTED),
        Case("stepless, wheel sensor", STEPLESS, CARGO, WHEEL, TESTED),
        Case("stepless, not given, satellite", STEPLESS, CARGO, SATELLITE, UNDER_SKIES,
             given=False),
        Case("few gears ridden", FOURTEEN, BICYCLE, WHEEL,
             tuple(Day("town", EASY, wind, 1800) for wind in (_NORTH, _WEST, _SOUTH))),
        Case("rollout 3 % wrong", FOURTEEN, BICYCLE, replace(WHEEL, set_rollout_m=2.1 * 1.03),
             RIDDEN),
        Case("hub motor", SEVEN, replace(CARGO, motor=HubMotor()), WHEEL,
             tuple(Day(road, HELPED, _NORTH) for road in ("town", "rolling", "hills"))),
        Case("bad cadence sensor", NINE, BICYCLE, _FAULTY, TESTED),
        Case("published wrong in one gear", FOURTEEN, BICYCLE, WHEEL, TESTED,
             built=FOURTEEN_AS_BUILT),
        Case("not given: 12 sprockets, wheel sensor", TWELVE, ROAD, OTHER_WHEEL, TESTED,
             given=False),
        Case("not given: 14-speed hub, satellite", FOURTEEN, BICYCLE, SATELLITE, UNDER_SKIES,
             given=False),
        Case("recorded on change", FOURTEEN, BICYCLE, replace(WHEEL, recording="on change"),
             TESTED),
    ]  # fmt: skip
    return {case.name: replace(case, seed=number) for number, case in enumerate(cases, 1)}


def is_satellite(case: Case) -> bool:
    """Whether the case counts among those with satellite speed."""
    return case.sensors.speed == "satellite"
