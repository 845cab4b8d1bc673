"""A campaign of many two-hour rides as files: a few simulated, each copied with its own noise."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.simulate import Rider, Sensors, simulate_ride
from tests.simulate.rides import chain_ride, hub_ride

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.simulate import SimulatedRide

SECONDS, VEHICLES, SIMULATED = 7200, 20, 8
_BEGIN = datetime(2031, 4, 1, 8, tzinfo=UTC)
_DRIVETRAINS = """
[drivetrains.hub]
stages = [
  { name = "chain", driver = [38], driven = [15] },
  { name = "hub", speeds = 14, range = "526 %", lowest = 0.279 },
]
service = { every_km = 5000, every_months = 12 }

[drivetrains.double]
stages = [
  { name = "chain", driver = [24, 38], driven = [36, 30, 26, 22, 19, 17, 15, 13, 11] },
]
"""
_VEHICLE = """
[vehicles.{name}]
kind = "bicycle"
drivetrain = "{drivetrain}"
rollout_m = {rollout}
rides = ["rides/{name}/*.fit"]
comfortable_rpm = [60, 90]
"""
_CLAIMS = """
[[claims]]
id = "hub-range"
drivetrain = "hub"
quantity = "range"
value = "526 %"
tolerance = "1 %"
"""


def write_campaign(folder: Path, rides: int, seconds: int = SECONDS, first: int = 0) -> Path:
    """Write rides ``first`` to ``rides`` and the campaign that names them; return its file.

    A copy differs from its original by its cadences and by the day it was ridden.
    """
    originals = [_original(number, seconds) for number in range(min(SIMULATED, rides))]
    for number in range(first, rides):
        name = _name(number % VEHICLES)
        path = folder / "rides" / name / f"{number:05}.fit"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(_copy(originals[_which(number, len(originals))], number))
    campaign = folder / "campaign.toml"
    campaign.write_text(_text(min(rides, VEHICLES)), "utf-8")
    return campaign


def _text(vehicles: int) -> str:
    parts = ['[campaign]\nname = "invented rides for a benchmark"\n', _DRIVETRAINS]
    for number in range(vehicles):
        drivetrain, rollout = (("hub", 2.1), ("double", 2.15))[number % 2]
        parts.append(_VEHICLE.format(name=_name(number), drivetrain=drivetrain, rollout=rollout))
    return "".join([*parts, _CLAIMS])


def _name(vehicle: int) -> str:
    return f"vehicle-{vehicle + 1:02}"


def _which(number: int, originals: int) -> int:
    """Return an original of the vehicle's kind: even ones are hubs."""
    kind = number % VEHICLES % 2
    return (2 * (number // VEHICLES) + kind) % originals if originals > 1 else 0


def _original(number: int, seconds: int) -> SimulatedRide:
    scenario = (hub_ride, chain_ride)[number % 2]
    sensors = Sensors(power_meter=number % 4 < 2, dropouts_per_hour=2.0)
    rider = Rider(hunting=0.1, cadence_rpm=70.0 + 2.0 * number)
    return simulate_ride(scenario(rider=rider, sensors=sensors, duration_s=seconds), number)


def _copy(made: SimulatedRide, number: int) -> bytes:
    rng = np.random.default_rng([11, number])
    turns = rng.integers(-1, 2, len(made.recorded))
    told = made.recorded.with_columns(
        pl.when(pl.col("cadence_rpm") > 5).then(pl.col("cadence_rpm") + turns).otherwise(0)
    )
    return replace(made, recorded=told).fit_content(_BEGIN + timedelta(hours=9 * number))
