"""Many rides in a store, cheaply: a few simulated ones, each copied with noise of its own."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.simulate import Rider, Sensors, simulate_ride
from tests.report.fabricated import FabricatedStore, published, vehicle
from tests.simulate.rides import DOUBLE, FOURTEEN, chain_ride, hub_ride

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Rides that are simulated, and how long each is.
SIMULATED, SECONDS = 12, 3600
_BEGIN = datetime(2031, 4, 1, 8, tzinfo=UTC)


def made_store(rides: int, seed: int = 11) -> FabricatedStore:
    """A store in memory with two vehicles and so many rides of an hour, gears as they truly were.

    A copy differs from its original by its cadences, powers and altitudes, so that no two rides
    have the same answer, and by the day it was ridden.
    """
    store = FabricatedStore()
    for name, drivetrain in (("heron", FOURTEEN), ("otter", DOUBLE)):
        vehicle(store, name, name)
        ratios = sorted({round(choice, 4) for choice in _ratios(drivetrain)})
        published(store, name, ratios)
    originals = [_original(number) for number in range(min(SIMULATED, rides))]
    for batch in _batches(rides):
        for table, frame in _copies(originals, batch, seed).items():
            store.add_frame(table, frame)
    return store


def _ratios(drivetrain: object) -> list[float]:
    from ridelab.drivetrain.ladder import published_ladder

    return [gear.ratio for gear in published_ladder(drivetrain).gears]  # type: ignore[arg-type]


def _original(number: int) -> pl.DataFrame:
    """One ride as recorded beside its true gears."""
    scenario = (hub_ride, chain_ride)[number % 2]
    sensors = Sensors(power_meter=True, dropouts_per_hour=2.0)
    rider = Rider(hunting=0.1, cadence_rpm=70.0 + 2.0 * number)
    made = simulate_ride(scenario(rider=rider, sensors=sensors, duration_s=SECONDS), number)
    told = made.recorded.with_columns(made.truth["gear"], made.truth["coupled"])
    return told.with_columns(gear_probability=pl.lit(0.99))


def _batches(rides: int) -> Iterator[range]:
    for begin in range(0, rides, 100):
        yield range(begin, min(begin + 100, rides))


def _copies(originals: list[pl.DataFrame], batch: range, seed: int) -> dict[str, pl.DataFrame]:
    samples, rides = [], []
    for number in batch:
        rng, made = np.random.default_rng([seed, number]), originals[number % len(originals)]
        turns, watts = rng.integers(-1, 2, len(made)), rng.integers(-5, 6, len(made))
        ride = f"{number:064x}"
        samples.append(
            made.with_columns(
                pl.when(pl.col("cadence_rpm") > 5).then(pl.col("cadence_rpm") + turns).otherwise(0),
                pl.when(pl.col("power_w") > 5).then(pl.col("power_w") + watts).otherwise(0),
                pl.col("altitude_m") * (1.0 + 0.1 * rng.random()),
                ride=pl.lit(ride),
            ).with_row_index("n")
        )
        rides.append((ride, ("heron", "otter")[number % 2], _BEGIN + timedelta(hours=9 * number)))
    told = pl.concat(samples)
    recorded = ("ride", "n", *_RECORDED)
    return {
        "recorded_samples": told.select(recorded),
        "engaged_samples": told.select("ride", "n", "gear", "coupled", "gear_probability"),
        "recorded_rides": pl.DataFrame([_facts(*row) for row in rides]),
        "inferred_rides": pl.DataFrame(
            [{"ride": row[0], "channel": "speed field", "gear_source": "inferred"} for row in rides]
        ),
    }


_RECORDED = (
    "t_s", "speed_mps", "cadence_rpm", "power_w", "altitude_m", "distance_m", "timer_running",
)  # fmt: skip


def _facts(ride: str, name: str, started_at: datetime) -> dict[str, object]:
    return {
        "ride": ride,
        "vehicle": name,
        "path": f"{ride}.fit",
        "sha256": ride,
        "format": "fit",
        "started_at": started_at,
        "duration_s": SECONDS - 1.0,
        "samples": SECONDS,
        "speed_source": "wheel sensor",
        "sensors": "bike_speed",
        "cadence_resolution_rpm": 1.0,
        "reader": "made",
        "barometer": True,
    }
