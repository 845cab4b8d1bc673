"""Small rides, files and measurements to put into a store."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from pathlib import Path

import polars as pl

from ridelab.gears.result import (
    COVARIANCE_SCHEMA,
    ENGAGED_SCHEMA,
    LAG_CURVE_SCHEMA,
    MEASURED_SCHEMA,
    STEPS_SCHEMA,
    TEETH_SCHEMA,
    Interval,
    MeasuredRange,
    Precision,
    RideGears,
    VehicleGears,
)
from ridelab.problems import Problem
from ridelab.store import StoredFile
from ridelab.telemetry.ride import GEAR_CHANGE_SCHEMA, PAUSE_SCHEMA, SAMPLE_SCHEMA, Ride


def a_ride(name: str = "ride", samples: int = 4, hour: int = 8) -> Ride:
    """A ride known by its name: nothing known of its last sample, one pause, one gear change."""
    path = Path(f"{name}.fit")
    seconds = [float(second) for second in range(samples)]
    columns: dict[str, list[object]] = {"t_s": list(seconds), "timer_running": [True] * samples}
    for place, column in enumerate(SAMPLE_SCHEMA.names()[1:-1]):
        columns[column] = [*(place + second / 8 for second in seconds[:-1]), None]
    return Ride(
        path=path,
        sha256=hashlib.sha256(name.encode()).hexdigest(),
        format="fit",
        started_at=datetime(2031, 5, 4, hour, 30, 15, 250000, tzinfo=UTC),
        samples=pl.DataFrame(columns, schema=SAMPLE_SCHEMA),
        pauses=pl.DataFrame({"start_s": [1.0], "end_s": [2.0]}, schema=PAUSE_SCHEMA),
        gear_changes=pl.DataFrame([(1.5, 1, None, 4, 17)], schema=GEAR_CHANGE_SCHEMA, orient="row"),
        sensors=("bike_speed", "bike_cadence"),
        speed_source="wheel sensor",
        cadence_resolution_rpm=1 / 128,
        wheel_rollout_m=2.096,
        problems=(Problem(str(path), "read", "note", "odd, but harmless"),),
    )


def a_file(ride: Ride, vehicle: str = "heron", path: str | None = None) -> StoredFile:
    """The file a ride was read from."""
    return StoredFile(path or ride.path.name, 100, 1_900_000_000, ride.sha256, "ride", vehicle)


def measured(vehicle: str, *rides: Ride) -> VehicleGears:
    """Two gears of which every sample names the second."""
    gears = [
        (number, str(number), *_around(ratio), *_around(2 * ratio), None, None, 60.0, 300.0, count)
        for number, ratio, count in ((1, 1.0, len(rides)), (2, 1.5, len(rides)))
    ]
    return VehicleGears(
        vehicle=vehicle,
        rollout=Interval(2.0, 1.99, 2.01),
        gears=pl.DataFrame(gears, schema=MEASURED_SCHEMA, orient="row"),
        range=MeasuredRange(1, 2, Interval(1.5, 1.48, 1.52), None, None),
        steps=pl.DataFrame(
            [(2, 1, 0.5, 0.48, 0.52, 0.48, 0.52, None)], schema=STEPS_SCHEMA, orient="row"
        ),
        teeth=pl.DataFrame(
            [(1, 1, None, 18, 0.001, 1.0, 0.005), (2, 1, None, 12, -0.001, 1.0, 0.005)],
            schema=TEETH_SCHEMA,
            orient="row",
        ),
        covariance=pl.DataFrame(
            [(1, 1, 1e-6), (1, 2, 2e-7), (2, 1, 2e-7), (2, 2, 1e-6)],
            schema=COVARIANCE_SCHEMA,
            orient="row",
        ),
        precision=Precision(20, 0.002, 0.001, 0.02, 0.0, 0.0, 70.0, 90.0),
        stepless=False,
        rides=tuple(_engaged(ride) for ride in rides),
        problems=(Problem(vehicle, "measure", "warning", f"doubtful about {vehicle}"),),
    )


def _around(value: float) -> tuple[float, float, float]:
    return value, 0.99 * value, 1.01 * value


def _engaged(ride: Ride) -> RideGears:
    rows = [(3.0, 2, True, 0.99, None)] * len(ride.samples)
    engaged = pl.DataFrame(rows, schema=ENGAGED_SCHEMA, orient="row")
    lags = [
        ("speed field", 0.5, 1.25),
        ("speed field", 1.5, 2.5),
        ("speed field", 2.5, float("nan")),
    ]
    curve = pl.DataFrame(lags, schema=LAG_CURVE_SCHEMA, orient="row")
    return RideGears(ride.sha256, "speed field", 1.5, 0.006, "inferred", engaged, curve)
