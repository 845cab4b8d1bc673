"""Small scenarios that several tests ride."""

from __future__ import annotations

from dataclasses import replace

from ridelab.drivetrain.stages import Drivetrain, from_range, from_teeth
from ridelab.simulate import (
    Piece,
    Rider,
    Scenario,
    Sensors,
    Stepless,
    Vehicle,
    build_course,
    from_drivetrain,
)

DOUBLE = Drivetrain(
    "double", (from_teeth("chain", (24, 38), (36, 30, 26, 22, 19, 17, 15, 13, 11)),)
)
FOURTEEN = Drivetrain(
    "fourteen", (from_teeth("chain", (38,), (15,)), from_range("hub", 14, 5.26, 0.279))
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
