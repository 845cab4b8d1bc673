"""Small rides with a known gear at every second, to be read beside the tests that use them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.telemetry.ride import SAMPLE_SCHEMA, Ride

if TYPE_CHECKING:
    from collections.abc import Sequence

#: A 14-speed hub gear: 526 % in even steps, the middle of the ladder at 1.
EVEN_14 = tuple(5.26 ** (i / 13.0 - 0.5) for i in range(14))
COAST = 0


def ride(
    schedule: Sequence[tuple[int, int]],
    ratios: Sequence[float],
    rollout_m: float = 2.1,
    noise: float = 0.004,
    speed_lag_s: int = 0,
    seed: int = 1,
    name: str = "ride",
) -> Ride:
    """Return a ride at one sample a second, its speed from a wheel sensor.

    ``schedule``: (gear from 1, seconds) in order; ``COAST`` keeps the gear while the crank stands.
    Cadence wanders between 70 and 95 rpm and is recorded in whole rpm; speed is the gear's
    development times the true cadence, with relative ``noise``, recorded ``speed_lag_s`` late.
    """
    rng = np.random.default_rng(seed)
    gears = np.repeat([gear for gear, _ in schedule], [seconds for _, seconds in schedule])
    t = np.arange(len(gears), dtype=float)
    phase = rng.uniform(0.0, 2.0 * np.pi, 3)
    periods = (37.0, 61.0, 113.0)
    waves = sum(np.sin(2 * np.pi * t / p + f) for p, f in zip(periods, phase, strict=True))
    cadence = 82.0 + 4.0 * waves
    coasting = gears == COAST
    held = np.maximum.accumulate(np.where(coasting, 0, np.arange(len(gears))))
    selected = gears[held]
    speed = np.array(ratios)[selected - 1] * rollout_m * cadence / 60.0
    speed[coasting] = speed[held][coasting]
    speed *= np.exp(noise * rng.standard_normal(len(t)))
    speed = np.concatenate([np.full(speed_lag_s, speed[0]), speed])[: len(t)]
    samples = pl.DataFrame(
        {
            "t_s": t,
            "speed_mps": np.round(speed, 3),
            "cadence_rpm": np.where(coasting, 0.0, np.round(cadence)),
            "timer_running": np.full(len(t), True),
        }
    )
    return Ride(
        path=Path(f"{name}.fit"),
        sha256=name,
        format="fit",
        started_at=datetime(2026, 5, 1, 8, tzinfo=UTC),
        samples=samples.select(
            (pl.col(column) if column in samples.columns else pl.lit(None)).cast(kind).alias(column)
            for column, kind in SAMPLE_SCHEMA.items()
        ),
        sensors=("bike_speed", "bike_cadence"),
        speed_source="wheel sensor",
    )


def sweep(gears: Sequence[int], seconds: int = 40, rounds: int = 2) -> list[tuple[int, int]]:
    """Return a schedule that rides each gear in turn, some times over."""
    return [(gear, seconds) for _ in range(rounds) for gear in gears]
