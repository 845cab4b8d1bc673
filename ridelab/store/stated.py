"""What the campaign states: vehicles, published gears, claims; written only where it changed."""

from __future__ import annotations

from math import isnan
from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from ridelab.campaign import Campaign, Claim, Vehicle
    from ridelab.drivetrain.ladder import Gear
    from ridelab.store.database import Database

_VEHICLES = pl.Schema(
    {
        "place": pl.Int32(),
        "vehicle": pl.String(),
        "kind": pl.String(),
        "drivetrain": pl.String(),
        "tyre": pl.String(),
        "stated_rollout_m": pl.Float64(),
        "rollout_is_measured": pl.Boolean(),
        "odometer_km": pl.Float64(),
        "nominal_rollout_m": pl.Float64(),
        "loaded_rollout_low_m": pl.Float64(),
        "loaded_rollout_high_m": pl.Float64(),
        "other_tyres": pl.String(),
        "sensor_wheel": pl.String(),
        "set_rollout_m": pl.Float64(),
        "unit_factor": pl.Float64(),
        "comfortable_low_rpm": pl.Float64(),
        "comfortable_high_rpm": pl.Float64(),
        "service_every_km": pl.Float64(),
        "service_every_months": pl.Float64(),
    }
)
_SERVICES = pl.Schema(
    {"vehicle": pl.String(), "serviced_on": pl.Date(), "odometer_km": pl.Float64()}
)
_GEARS = pl.Schema(
    {
        "drivetrain": pl.String(),
        "gear": pl.Int32(),
        "label": pl.String(),
        "ratio": pl.Float64(),
        "step": pl.Float64(),
        "ratio_low": pl.Float64(),
        "ratio_high": pl.Float64(),
    }
)
_COMBINATIONS = pl.Schema(
    {
        "drivetrain": pl.String(),
        "combination": pl.String(),
        "front": pl.String(),
        "gear": pl.Int32(),
        "ratio": pl.Float64(),
    }
)
_SPANS = pl.Schema(
    {"drivetrain": pl.String(), "lowest_ratio": pl.Float64(), "highest_ratio": pl.Float64()}
)
_CLAIMS = pl.Schema(
    {
        "claim": pl.String(),
        "drivetrain": pl.String(),
        "vehicle": pl.String(),
        "quantity": pl.String(),
        "value": pl.Float64(),
        "tolerance": pl.Float64(),
        "source": pl.String(),
        "gear": pl.String(),
        "which": pl.String(),
        "at_cadence_rpm": pl.Float64(),
        "printed": pl.String(),
        "bound": pl.String(),
        "within": pl.Float64(),
    }
)


def vehicles(campaign: Campaign) -> pl.DataFrame:
    """Return the rows of ``stated_vehicles``."""
    rows = [
        (*_vehicle(place, one), *_interval(campaign, one))
        for place, one in enumerate(campaign.vehicles.values(), 1)
    ]
    return pl.DataFrame(rows, schema=_VEHICLES, orient="row")


def services(campaign: Campaign) -> pl.DataFrame:
    """Return the rows of ``stated_services``."""
    rows = [
        (vehicle.name, done.on, done.odometer_km)
        for vehicle in campaign.vehicles.values()
        for done in vehicle.serviced
    ]
    return pl.DataFrame(rows, schema=_SERVICES, orient="row")


def published_gears(campaign: Campaign) -> pl.DataFrame:
    """Return the rows of ``published_gears``: none for stepless drivetrains."""
    rows = [
        (drivetrain, gear.number, gear.label, gear.ratio, gear.step, *_ends(gear))
        for drivetrain in campaign.drivetrains
        for gear in campaign.ladder(drivetrain).gears
    ]
    return pl.DataFrame(rows, schema=_GEARS, orient="row")


def published_combinations(campaign: Campaign) -> pl.DataFrame:
    """Return the rows of ``published_combinations``: none for stepless drivetrains."""
    rows = [
        (drivetrain, setting, _front(setting), gear.number, ratio)
        for drivetrain in campaign.drivetrains
        for gear in campaign.ladder(drivetrain).gears
        for setting, ratio in zip(gear.settings, gear.members, strict=True)
    ]
    return pl.DataFrame(rows, schema=_COMBINATIONS, orient="row")


def published_spans(campaign: Campaign) -> pl.DataFrame:
    """Return the rows of ``published_spans``: of stepless drivetrains, holes left out."""
    rows: list[tuple[str, float, float]] = []
    for drivetrain in campaign.drivetrains:
        ladder = campaign.ladder(drivetrain)
        if ladder.continuous is not None:
            low, high = ladder.continuous
            starts = [low, *(above for _, above in ladder.holes)]
            ends = [*(below for below, _ in ladder.holes), high]
            rows += [(drivetrain, *span) for span in zip(starts, ends, strict=True)]
    return pl.DataFrame(rows, schema=_SPANS, orient="row")


def _front(setting: str) -> str:
    """Return what is shifted first: "gearbox 2" of "gearbox 2 · hub 3", "38" of "38/13"."""
    first, *others = setting.split(" · ")
    return first if others else first.split("/")[0]


def _ends(gear: Gear) -> tuple[float, float]:
    return min(gear.members), max(gear.members)


def claims(campaign: Campaign) -> pl.DataFrame:
    """Return the rows of ``claims``."""
    return pl.DataFrame([_claim(one) for one in campaign.claims], schema=_CLAIMS, orient="row")


def replace(database: Database, table: str, rows: pl.DataFrame) -> bool:
    """Make ``rows`` the content of a table, inside a transaction; return whether it changed."""
    stored = database.read("select * from query_table(?)", [table])
    if rows.equals(stored.select(rows.columns)):
        return False
    database.execute(f"delete from {table}")  # noqa: S608 - a name of our own
    database.insert(table, rows)
    return True


def _vehicle(place: int, vehicle: Vehicle) -> tuple[object, ...]:
    return (
        place,
        vehicle.name,
        vehicle.kind,
        vehicle.drivetrain,
        vehicle.tyre and vehicle.tyre.designation,
        vehicle.stated_rollout_m,
        vehicle.rollout_m is not None,
        vehicle.odometer_km,
        vehicle.tyre and vehicle.tyre.nominal_rollout_m,
        *(vehicle.tyre.loaded_rollout_m if vehicle.tyre else (None, None)),
        ", ".join(tyre.designation for tyre in vehicle.other_tyres) or None,
        vehicle.sensor_wheel and vehicle.sensor_wheel.designation,
        vehicle.set_rollout_m,
        vehicle.unit_factor,
        *(vehicle.comfortable_rpm or (None, None)),
    )


def _interval(campaign: Campaign, vehicle: Vehicle) -> tuple[float | None, float | None]:
    """Return the service interval of its drivetrain, in km and in months."""
    drivetrain = campaign.drivetrains.get(vehicle.drivetrain or "")
    if drivetrain is None or drivetrain.service is None:
        return None, None
    return drivetrain.service.every_km, drivetrain.service.every_months


def _claim(claim: Claim) -> tuple[object, ...]:
    return (
        claim.id,
        claim.drivetrain,
        claim.vehicle,
        claim.quantity,
        None if isnan(claim.value) else claim.value,
        None if isnan(claim.tolerance) else claim.tolerance,
        claim.source,
        None if claim.gear is None else str(claim.gear),
        claim.which,
        claim.at_cadence_rpm,
        claim.printed,
        claim.bound,
        claim.within,
    )
