"""What was inferred: replaced vehicle by vehicle, each in one transaction."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

import polars as pl
import polars.selectors as cs

from ridelab.gears.result import (
    COVARIANCE_SCHEMA,
    ENGAGED_SCHEMA,
    LAG_CURVE_SCHEMA,
    MEASURED_SCHEMA,
    STEPS_SCHEMA,
    TEETH_SCHEMA,
)
from ridelab.store import keeping, notes, queries

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from ridelab.gears.kept import Kept
    from ridelab.gears.result import RideGears, VehicleGears
    from ridelab.problems import Problem
    from ridelab.store.database import Database

_OF_A_VEHICLE = (
    "inferred_vehicles",
    "inferences",
    "measured_gears",
    "measured_range",
    "measured_steps",
    "measured_covariance",
    "measured_precision",
    "suggested_teeth",
    "gear_losses",
    "verdicts",
    "test_ride_plan",
    "replays",
    "replay_differences",
    "replayed_gear_use",
    "replayed_vehicles",
    "fitted_ladders",
)
_OF_ITS_RIDES = ("inferred_rides", "engaged_samples", "lag_curves", "shifts", "ride_statistics")


def fingerprints(database: Database) -> dict[str, str]:
    """Return what each measured vehicle was measured from."""
    return dict(database.read("select vehicle, fingerprint from inferences").iter_rows())


def put_vehicle_gears(database: Database, found: VehicleGears, fingerprint: str) -> None:
    """Store a vehicle as measured, instead of all that was inferred about it before.

    What was inferred of rides that were measured earlier stays.
    """
    with database.transaction():
        clear(database, found.vehicle, found.earlier)
        database.insert("inferred_vehicles", _vehicle(found))
        database.insert("measured_gears", _of_vehicle(found, found.gears, MEASURED_SCHEMA))
        database.insert("measured_steps", _of_vehicle(found, found.steps, STEPS_SCHEMA))
        database.insert(
            "measured_covariance", _of_vehicle(found, found.covariance, COVARIANCE_SCHEMA)
        )
        if found.precision is not None:
            row = {"vehicle": found.vehicle} | asdict(found.precision)
            database.insert("measured_precision", pl.DataFrame([row]))
        database.insert("suggested_teeth", _of_vehicle(found, found.teeth, TEETH_SCHEMA))
        if found.range is not None:
            database.insert("measured_range", _range(found))
        if found.rides:
            database.insert("inferred_rides", _rides(found))
            database.insert(
                "engaged_samples", pl.concat([engaged_rows(ride) for ride in found.rides])
            )
            database.insert("lag_curves", pl.concat([_lag_curve(ride) for ride in found.rides]))
        if found.kept is not None:
            _keep(database, found.vehicle, found.kept, found.earlier)
        database.execute("insert into inferences values (?, ?)", [found.vehicle, fingerprint])
        notes.of_vehicle(database, found.vehicle, found.problems, found.earlier)


def _keep(database: Database, vehicle: str, kept: Kept, earlier: Collection[str]) -> None:
    """Store what measuring further rides takes; of ``earlier`` rides it is there already."""
    database.insert("fitted_ladders", keeping.ladder_row(vehicle, kept))
    new = [ride for ride in kept.rides if ride.ride not in earlier]
    database.insert("ride_statistics", keeping.ride_rows(new))


def clear_vehicle(database: Database, vehicle: str, problems: Iterable[Problem] = ()) -> None:
    """Forget what was inferred about a vehicle; ``problems`` say why nothing is known now."""
    with database.transaction():
        clear(database, vehicle)
        notes.of_vehicle(database, vehicle, problems)


def clear(database: Database, vehicle: str, but: Collection[str] = ()) -> None:
    """Take away what was inferred about a vehicle and its rides, inside a transaction.

    ``but``: rides of which it stays.
    """
    own_rides = (
        "select ride from recorded_rides where vehicle = $vehicle "
        "and not list_contains($but::text[], ride)"
    )
    asked = {"vehicle": vehicle, "but": list(but)}
    queries.outdate(database, own_rides, asked)
    # Nor is what this vehicle and others come to together.
    database.execute("delete from pooled_claims")
    for table in _OF_ITS_RIDES:
        database.execute(f"delete from {table} where ride in ({own_rides})", asked)  # noqa: S608 - one of the names above
    for table in _OF_A_VEHICLE:
        database.execute(f"delete from {table} where vehicle = ?", [vehicle])  # noqa: S608 - likewise


def _vehicle(found: VehicleGears) -> pl.DataFrame:
    rollout = found.rollout
    return pl.DataFrame(
        {
            "vehicle": [found.vehicle],
            "effective_rollout_m": [rollout and rollout.value],
            "effective_rollout_low_m": [rollout and rollout.low],
            "effective_rollout_high_m": [rollout and rollout.high],
            "stepless": [found.stepless],
            "placement_probability": [found.placement_probability],
            "unexplained_share": [found.unexplained_share],
            "count_probability": [found.count_probability],
        }
    ).with_columns(cs.float().fill_nan(None))


def _of_vehicle(found: VehicleGears, rows: pl.DataFrame, schema: pl.Schema) -> pl.DataFrame:
    return rows.select(pl.lit(found.vehicle).alias("vehicle"), *(pl.col(name) for name in schema))


def _range(found: VehicleGears) -> pl.DataFrame:
    measured = found.range
    assert measured is not None  # noqa: S101 - the caller looked
    return pl.DataFrame(
        {
            "vehicle": [found.vehicle],
            "low_gear": [measured.low_gear],
            "high_gear": [measured.high_gear],
            "range": [measured.range.value],
            "range_low": [measured.range.low],
            "range_high": [measured.range.high],
            "published_range": [measured.published_range],
            "complete": [measured.complete],
        }
    )


def _rides(found: VehicleGears) -> pl.DataFrame:
    rows = [
        {
            "ride": one.ride,
            "channel": one.channel,
            "speed_lag_s": one.lag_s,
            "spread": one.spread,
            "gear_source": one.gear_source,
            "other_share": one.other_share,
            "recorded_agreement": one.recorded_agreement,
            "recorded_lag_s": one.recorded_lag_s,
        }
        for one in found.rides
    ]
    words = dict.fromkeys(("ride", "channel", "gear_source"), pl.String())
    return pl.DataFrame(rows, schema_overrides=words).cast(
        {cs.numeric() | cs.by_dtype(pl.Null): pl.Float64()}
    )


def engaged_rows(ride: RideGears) -> pl.DataFrame:
    """Return the rows of ``engaged_samples`` of a ride."""
    samples = ride.engaged.select(ENGAGED_SCHEMA.names()).with_row_index("n")
    return samples.with_columns(pl.lit(ride.ride).alias("ride"))


def _lag_curve(ride: RideGears) -> pl.DataFrame:
    curve = ride.lag_curve.select(LAG_CURVE_SCHEMA.names()).filter(pl.col("sharpness").is_finite())
    return curve.with_columns(pl.lit(ride.ride).alias("ride"))
