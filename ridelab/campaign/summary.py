"""What was understood of a campaign, as plain rows for ``ridelab check``."""

from __future__ import annotations

import re
from collections import Counter
from math import isnan
from typing import TYPE_CHECKING

from ridelab.campaign.rides import FoundRides, find_rides
from ridelab.campaign.torques import torque_rows
from ridelab.units import format_quantity, half_last_digit

if TYPE_CHECKING:
    from ridelab.campaign.loggers import Logger
    from ridelab.campaign.model import Campaign, Claim, Vehicle
    from ridelab.drivetrain.wheel import Tyre
    from ridelab.units import Measure, UnitSystem

#: What a bare number of a claim is shown as, and the unit that it stands for.
_SI: dict[str, tuple[Measure, str]] = {
    "range": ("range", ""),
    "step": ("step", ""),
    "speed": ("speed", "m/s"),
    "development": ("development", "m"),
    "rollout": ("rollout", "m"),
    "evenness": ("step", ""),
    "cadence change": ("cadence", "rpm"),
    "efficiency": ("step", ""),
}
_MOST_NAMES = 1
_BARE = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?", re.ASCII)
Row = dict[str, str | int | float | None]


def describe(campaign: Campaign, found: FoundRides | None = None) -> dict[str, list[Row]]:
    """Return rows under "vehicles", "wheels", "drivetrains", "torque", "loggers" and "claims".

    Units stand in the keys.

    ``found`` saves looking for the ride files again; no ride is read.
    """
    files = Counter(name for name, _ in (found or find_rides(campaign)).files)
    return {
        "vehicles": [_vehicle(vehicle, files) for vehicle in campaign.vehicles.values()],
        "wheels": [row for vehicle in campaign.vehicles.values() for row in _wheels(vehicle)],
        "drivetrains": [_drivetrain(campaign, name) for name in campaign.drivetrains],
        "torque": torque_rows(campaign),
        "loggers": [_logger(campaign, logger) for logger in campaign.loggers.values()],
        "claims": [_claim(campaign, claim) for claim in campaign.claims],
    }


def _vehicle(vehicle: Vehicle, files: Counter[str | None]) -> Row:
    return {
        "vehicle": vehicle.name,
        "kind": vehicle.kind,
        "drivetrain": vehicle.drivetrain,
        "odometer_km": vehicle.odometer_km,
        "ride_files": files[vehicle.name],
    }


def _wheels(vehicle: Vehicle) -> list[Row]:
    """Return the driven wheel and the others, as far as anything is said of them."""
    rows = []
    if vehicle.tyre or vehicle.rollout_m:
        rows.append(_wheel(vehicle, vehicle.tyre, "driven"))
    rows += [_wheel(vehicle, tyre, "other") for tyre in vehicle.other_tyres]
    return rows


def _wheel(vehicle: Vehicle, tyre: Tyre | None, which: str) -> Row:
    loaded_m = tyre.loaded_rollout_m if tyre else (None, None)
    is_counted = vehicle.sensor_wheel is not None and tyre == vehicle.sensor_wheel
    return {
        "vehicle": vehicle.name,
        "wheel": f"{which}, sensor" if is_counted else which,
        "tyre": tyre.designation if tyre else None,
        "also": ", ".join(tyre.names[:_MOST_NAMES]) or None if tyre else None,
        "nominal_rollout_m": tyre.nominal_rollout_m if tyre else None,
        "loaded_rollout_low_m": loaded_m[0],
        "loaded_rollout_high_m": loaded_m[1],
        "measured_rollout_m": vehicle.rollout_m if which == "driven" else None,
    }


def _drivetrain(campaign: Campaign, name: str) -> Row:
    ladder = campaign.ladder(name)
    lowest, highest = ladder.ends
    return {
        "drivetrain": name,
        "description": campaign.drivetrains[name].description,
        "stages": " → ".join(stage.name for stage in campaign.drivetrains[name].stages),
        "combinations": None if ladder.stepless else sum(len(g.members) for g in ladder.gears),
        "gears": None if ladder.stepless else len(ladder.gears),
        "lowest_ratio": lowest,
        "highest_ratio": highest,
        "range": ladder.range,
    }


def _logger(campaign: Campaign, logger: Logger) -> Row:
    vehicles = [v.name for v in campaign.vehicles.values() if v.logger == logger.name]
    return {
        "logger": logger.name,
        "time": f"{logger.time.column} ({logger.time.form})",
        "columns": ", ".join(f"{one.quantity}: {one.column}" for one in logger.channels),
        "delimiter": "tab" if logger.delimiter == "\t" else logger.delimiter,
        "decimal": logger.decimal,
        "named_by": ", ".join(vehicles) or None,
    }


def _claimed(claim: Claim, units: UnitSystem) -> str:
    """Return the value as printed; a bare number also with its unit: "25 m/s = 90 km/h"."""
    bound = "" if claim.bound == "about" else f"{claim.bound} "
    printed = claim.printed.removeprefix(bound)
    if not _BARE.fullmatch(printed) or claim.quantity not in _SI:
        return claim.printed
    measure, si = _SI[claim.quantity]
    last_digit = 2 * float(half_last_digit(printed))
    shown = format_quantity(claim.value, measure, units, last_digit)
    stated = f"{printed} {si}".rstrip()
    return bound + (stated if shown == stated else f"{stated} = {shown}")


def _claim(campaign: Campaign, claim: Claim) -> Row:
    vehicles = [v.name for v in campaign.vehicles.values() if v.drivetrain == claim.drivetrain]
    return {
        "claim": claim.id,
        "drivetrain": claim.drivetrain,
        "quantity": claim.quantity,
        "gear": str(claim.gear) if claim.gear is not None else claim.which,
        "at_cadence_rpm": claim.at_cadence_rpm,
        "claimed": _claimed(claim, campaign.units),
        "value": None if isnan(claim.value) else claim.value,
        "tolerance": None if isnan(claim.tolerance) else claim.tolerance,
        "source": claim.source or None,
        "vehicles": len(vehicles),
    }
