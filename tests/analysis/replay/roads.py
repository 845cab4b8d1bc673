"""Small roads for replays, and simulated rides as a replay sees them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.analysis.replay.road import Road

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.simulate import SimulatedRide


def road(
    speeds_mps: Sequence[float],
    ride: str = "a",
    cadence_rpm: float = 80.0,
    driven: Sequence[bool] | None = None,
    power_w: float = float("nan"),
) -> Road:
    """A ride of one moment a second; the crank drives and turns unless told otherwise."""
    speed = np.array(speeds_mps, dtype=np.float64)
    drives = np.ones(len(speed), dtype=np.bool_) if driven is None else np.array(driven)
    return Road(
        ride=ride,
        t_s=np.arange(len(speed), dtype=np.float64),
        seconds=np.ones(len(speed)),
        metres=speed,
        speed_mps=speed,
        driven=drives,
        turning=drives,
        cadence_rpm=np.where(drives, cadence_rpm, np.nan),
        gear=np.zeros(len(speed), dtype=np.int64),
        grade=np.zeros(len(speed)),
        power_w=np.full(len(speed), power_w),
    )


def moments(made: SimulatedRide, ride: str) -> pl.DataFrame:
    """A simulated ride with its true gears, in the columns of sql/replay/ridden_moments.sql."""
    recorded, truth = made.recorded, made.truth
    seconds = np.diff(recorded["t_s"].to_numpy(), append=recorded["t_s"][-1] + 1.0).clip(0, 10)
    return recorded.select(
        pl.lit(ride).alias("ride"),
        "t_s",
        pl.Series("seconds", seconds),
        (pl.col("speed_mps").fill_null(0.0) * pl.Series("seconds", seconds)).alias("metres"),
        "speed_mps",
        "cadence_rpm",
        (60.0 * pl.col("speed_mps") / pl.col("cadence_rpm")).alias("development_m"),
        truth["gear"],
        truth["coupled"],
        pl.lit(0.0).alias("grade"),
        "power_w",
    )
