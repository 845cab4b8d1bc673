"""Small scenarios that several tests ride."""

from __future__ import annotations

from dataclasses import replace

from ridelab.drivetrain.stages import Drivetrain, from_range, from_ratios, from_teeth
from ridelab.simulate import (
    HubMotor,
    Piece,
    Rider,
    Scenario,
    Sensors,
    Stepless,
    Tyre,
    Vehicle,
    Wind,
    build_course,
    from_drivetrain,
)

DOUBLE = Drivetrain(
    "double", (from_teeth("chain", (24, 38), (36, 30, 26, 22, 19, 17, 15, 13, 11)),)
)
FOURTEEN = Drivetrain(
    "fourteen", (from_teeth("chain", (38,), (15,)), from_range("hub", 14, 5.26, 0.279))
)
SIX_BY_FOURTEEN = Drivetrain(
    "six by fourteen",
    (
        from_ratios("gearbox", (1.0, 1.27, 1.61, 2.05, 2.6, 3.3)),
        from_teeth("chain", (32,), (24,)),
        from_range("hub", 14, 5.26, 0.279),
    ),
)
HILLS = (
    Piece(800, junctions_every_m=350),
    Piece(1000, grade=0.06),
    Piece(6000, hills=0.06, junctions_every_m=700),
)
SWEEP = (Piece(300), Piece(12000, sweep=True))


def hub_ride(**changes: object) -> Scenario:
    """A bicycle with a 14-speed hub gear on a hilly road, a wheel sensor aboard."""
    vehicle = Vehicle(from_drivetrain(FOURTEEN), rollout_m=2.1)
    scenario = Scenario(Rider(), vehicle, build_course(HILLS, 4), Sensors(), duration_s=900)
    return replace(scenario, **changes)  # type: ignore[arg-type]


def chain_ride(**changes: object) -> Scenario:
    """A bicycle with two chainrings and nine sprockets on the same road."""
    vehicle = Vehicle(from_drivetrain(DOUBLE), rollout_m=2.15, shifts_standing=False)
    return hub_ride(vehicle=vehicle, **changes)


def stepless_ride(**changes: object) -> Scenario:
    """A heavy bicycle with a stepless hub on the same road."""
    vehicle = Vehicle(Stepless(1.1, 4.2), rollout_m=1.63, mass_kg=42.0, drag_m2=0.7)
    return hub_ride(vehicle=vehicle, **changes)


def motor_ride(**changes: object) -> Scenario:
    """A rider who often lets a motor in the hub do the work, on a bicycle with a 14-speed hub."""
    vehicle = Vehicle(from_drivetrain(FOURTEEN), 2.1, mass_kg=25.0, motor=HubMotor())
    rider = Rider(power_w=90.0, spell_every_s=40.0, spell_s=(3.0, 25.0))
    return hub_ride(**{"vehicle": vehicle, "rider": rider, **changes})


def windy_ride(**changes: object) -> Scenario:
    """Two gears levers, 84 combinations, a tyre of its own moods, a windy day, a doubtful hand."""
    tyre = Tyre(day=0.001, growth=0.0003, grade=0.01)
    vehicle = Vehicle(from_drivetrain(SIX_BY_FOURTEEN), 1.5, mass_kg=25.0, drag_m2=0.4, tyre=tyre)
    return hub_ride(
        **{"vehicle": vehicle, "rider": Rider(hunting=0.2), "wind": Wind(4.0, 1.0), **changes}
    )
