"""Torque through the drivetrains of a campaign, for the rider and the motor of each vehicle."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from ridelab.drivetrain.torque import Motor, Rider, cautions, torque_table, worst_cases
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelab.campaign.model import Campaign

_STAGE = "torque"


class Load(NamedTuple):
    """A drivetrain under the rider and the motor of one vehicle; ``table``: its torque table."""

    vehicle: str | None
    rider: Rider
    motor: Motor | None
    table: pl.DataFrame


def loads_on(campaign: Campaign, drivetrain: str, vehicle: str | None = None) -> list[Load]:
    """Return the load that each vehicle puts on a drivetrain of the campaign.

    ``vehicle`` names one alone, whatever drivetrain it has; its motor comes along unless it drives
    a stage that this drivetrain has not. A drivetrain that no vehicle has is under the campaign's
    rider.
    """
    chain = campaign.drivetrains[drivetrain]
    whose = [
        one
        for one in campaign.vehicles.values()
        if (one.name == vehicle if vehicle is not None else one.drivetrain == drivetrain)
    ]
    if not whose:
        return [Load(None, campaign.rider, None, torque_table(chain, campaign.rider))]
    places = {"crank", "wheel", *(stage.name for stage in chain.stages)}
    found = []
    for one in whose:
        motor = one.motor if one.motor is not None and one.motor.drives in places else None
        found.append(Load(one.name, one.rider, motor, torque_table(chain, one.rider, motor)))
    return found


def limited_loads(campaign: Campaign) -> Iterator[Load]:
    """Yield the loads on drivetrains that have a limit stated, one a vehicle."""
    for vehicle in campaign.vehicles.values():
        if vehicle.drivetrain is not None:
            chain = campaign.drivetrains[vehicle.drivetrain]
            if chain.max_input_torque_nm or chain.min_primary_ratio:
                yield from loads_on(campaign, chain.name, vehicle.name)


def torque_rows(campaign: Campaign) -> list[dict[str, str | int | float | None]]:
    """Return one row a vehicle and stage with a stated limit: the highest torque at its input."""
    return [
        {"vehicle": load.vehicle, **row}
        for load in limited_loads(campaign)
        for row in worst_cases(load.table)
        .filter(pl.col("beyond").is_not_null())
        .drop("beyond")
        .to_dicts()
    ]


def torque_problems(campaign: Campaign) -> tuple[Problem, ...]:
    """Return a warning for each stage that a setting in front of it loads beyond its limit.

    ``path`` is the vehicle.
    """
    return tuple(
        Problem(load.vehicle or campaign.name, _STAGE, "warning", caution)
        for load in limited_loads(campaign)
        for caution in cautions(load.table, campaign.units)
    )
