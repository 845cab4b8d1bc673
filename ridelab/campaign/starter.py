"""Campaigns to start from: a commented file, and the one of a rider who has no file at all."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.campaign.model import Campaign, Vehicle
from ridelab.drivetrain.wheel import Tyre
from ridelab.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

#: The file that ``ridelab new`` writes. Every vehicle and number in it is invented.
STARTER = """\
# A ridelab campaign: which vehicles were ridden, where their ride files are, and what the makers of
# their drivetrains publish. Every vehicle and number here is invented; put yours in their place.
# `ridelab check` tells whether this file is right, `ridelab run fleet` reads the rides.

[campaign]
name = "My test rides"
units = "metric"                # or "imperial"; for display only
# merge_within = "1.5 %"        # combinations closer than this share one gear
# rides = ["inbox/*.fit"]       # rides whose vehicle their recording unit or their date tells

# One table a vehicle; the name after the dot is yours to choose.
[vehicles.heron]
kind = "trike"                  # bicycle, trike, tandem, cargo or velomobile
tyre = "50-406"                 # ISO 5775 designation on the side of the tyre of the DRIVEN wheel
# rollout_m = 1.563             # better: measured, metres for one turn of that wheel, rider aboard
drivetrain = "nine"             # leave it out, and the ladder is inferred from the rides alone
rides = ["rides/heron/*.fit"]   # relative to this file; ** looks into all folders below; .zip too
# odometer_km = 412.0           # before the first ride
# serviced = [{ on = 2026-03-01, odometer_km = 400 }]   # what was done, with the reading if known
# devices = ["3941870215"]      # recording units that are on it alone, by serial number
# other_tyres = ["40-349"]      # wheels that are not driven
# sensor_wheel = "40-349"       # if the speed sensor sits on one of them
# comfortable_rpm = [55, 95]    # cadences that suit the rider; told from the rides if silent
# rider_kg = 85                 # with crank_mm = 170, for the torque through the drivetrain
# motor = { torque_nm = 85 }    # at the cranks; drives = "wheel" for one in the wheel

# One table a drivetrain: its stages in order, from the crank to the driven wheel.
[drivetrains.nine]
description = "9-speed gearbox at the cranks, one chain to the rear wheel"
stages = [
  { name = "gearbox", ratios = [0.55, 0.68, 0.84, 1.04, 1.28, 1.58, 1.95, 2.41, 2.97] },
  { name = "chain", driver = [32], driven = [24] },
]
# service = { every_km = 10000, every_months = 12 }
# max_input_torque_nm = { gearbox = 250 }    # and min_primary_ratio, for a stage behind others
#
# Other stages:
#   { name = "chain", driver = [22, 36], driven = [34, 30, 26, 22, 19, 17, 15, 13, 11] }
#   { name = "hub", speeds = 14, range = "526 %" }       # evenly spaced; lowest = 0.279 fixes it
#   { name = "hub", epicyclic = { sun = 20, ring = 60 } }   # three speeds; README has others
#   { name = "hub", continuous = [0.5, 1.9] }               # stepless

# One table a time that a recording unit was on a vehicle, for rides that no vehicle's globs name.
# [[mounted]]
# vehicle = "heron"
# from = 2026-03-01             # dates are whole days, in UTC unless zone says otherwise
# until = 2026-03-14
# device = "3941870215"         # leave it out for any unit

# One table a kind of CSV file, if a data logger or a test bench writes your rides: which column
# holds what. A file is read by the logger whose columns are all in its header.
# [loggers.bench]
# time = { column = "t", format = "seconds" }   # "milliseconds", "iso", "unix seconds" or a pattern
# starts_at = "bench-%Y%m%d-%H%M%S"             # how the file's name tells when seconds began
# columns.speed = { column = "v", unit = "km/h", source = "wheel" }
# columns.cadence = { column = "n" }            # turns a minute
# columns.power = { column = "p" }              # at the crank, in watts
# columns.wheel_power = { column = "q" }        # at the driven wheel: with both, losses are told

# One table a published statement. quantity is range, gears, overlap, ratio, step, evenness, cadence
# change, speed, development or rollout; efficiency, where two power meters ride along; noise,
# durability and weight are kept, too, but rides cannot test them. ratio, development and speed
# need gear = "lowest", "highest" or a number; step and cadence change take a gear, or which =
# "mean", "largest", "smallest" or "every"; speed and cadence change need at_cadence_rpm.
# at_least or at_most may stand in place of value.
[[claims]]
drivetrain = "nine"
quantity = "range"
value = "540 %"
tolerance = "2 %"               # without it: half a unit of the last digit printed
source = "maker's data sheet"
"""

_RIDER_VEHICLE = "my cycle"


def write_starter(folder: str | Path) -> Path:
    """Write ``STARTER`` as campaign.toml into a folder, made if need be, and return its path.

    Raises:
        UsageError: there is a campaign.toml already, or the folder cannot be written.
    """
    path = Path(folder) / "campaign.toml"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file:
            file.write(STARTER)
    except FileExistsError:
        there = path if path.exists() else folder
        raise UsageError(
            f"{there} exists already and is left as it is; name another folder"
        ) from None
    except OSError as error:
        raise UsageError(f"{path} cannot be written: {error.strerror}") from error
    return path


def single_vehicle(rides: Sequence[str], tyre: str | None, root: Path) -> Campaign:
    """Return the campaign of a rider without a campaign file: one bicycle, its drivetrain unknown.

    ``rides`` are globs relative to ``root``; ``tyre`` is an ISO 5775 designation.

    Raises:
        UsageError: no glob at all, or a tyre designation that cannot be read.
    """
    if not rides or "" in rides:
        raise UsageError("no ride files named; accepted: one glob or more, such as 'rides/*.fit'")
    vehicle = Vehicle(
        name=_RIDER_VEHICLE,
        kind="bicycle",
        rides=tuple(rides),
        tyre=None if tyre is None else Tyre.parse(tyre),
    )
    return Campaign(name="my rides", root=root.resolve(), vehicles={vehicle.name: vehicle})
