"""A store in memory whose rides are given second by second, and usage queries run on it."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.resources import data_dir
from tests.report.fabricated import FabricatedStore, measured, published, vehicle

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

#: Ratios of the vehicle "heron": even steps of a quarter, so that sums can be done by hand.
FIVE = (1.0, 1.25, 1.5625, 1.953125, 2.44140625)
#: In the order that pipelines run them.
QUERIES = ("shifts", "ridden_gears", "ridden_cadences")


def a_store(
    ratios: Sequence[float] = FIVE, *, measures: Sequence[int] = (), stepless: bool = False
) -> FabricatedStore:
    """A store with the vehicle "heron", its ladder published; ``measures``: gears measured."""
    store = FabricatedStore()
    vehicle(store, "heron", "five", stepless=stepless)
    if not stepless:
        published(store, "five", ratios)
    measured(store, "heron", {gear: ratios[gear - 1] for gear in measures}, ratios)
    return store


def add_ride(
    store: FabricatedStore,
    name: str,
    seconds: Sequence[Mapping[str, Any]],
    started_at: datetime = datetime(2031, 4, 2, 7, 30, tzinfo=UTC),
    of: str | None = "heron",
) -> None:
    """Add a ride of one sample a second; what a second does not say is driven at 5 m/s, 80 rpm.

    Keys: gear, coupled, cadence_rpm, power_w, speed_mps, development_m of the samples, and grade
    and climb_m of the moments.
    """
    usual = {"gear": None, "coupled": True, "cadence_rpm": 80.0, "power_w": None, "speed_mps": 5.0}
    usual |= {"development_m": None, "grade": None, "climb_m": None}
    rows = [
        {"ride": name, "n": n, "t_s": float(n), **usual, **second}
        for n, second in enumerate(seconds)
    ]
    told = pl.DataFrame(rows, infer_schema_length=None).with_columns(
        seconds=pl.lit(1.0), metres=pl.col("speed_mps"), gear_probability=pl.lit(0.99)
    )
    facts = {"path": f"{name}.fit", "sha256": name, "format": "fit", "started_at": started_at}
    facts |= {"duration_s": float(len(rows)), "samples": len(rows), "speed_source": "wheel sensor"}
    facts |= {"sensors": "bike_speed", "cadence_resolution_rpm": 1.0, "reader": "invented"}
    store.add("recorded_rides", {"ride": name, "vehicle": of, **facts})
    store.add("inferred_rides", {"ride": name, "channel": "speed field", "gear_source": "inferred"})
    for table, columns in (
        ("recorded_samples", ("t_s", "cadence_rpm", "power_w", "speed_mps")),
        ("engaged_samples", ("gear", "coupled", "development_m", "gear_probability")),
        ("moments", ("seconds", "metres", "grade", "climb_m")),
    ):
        known = [name for name in columns if told[name].dtype != pl.Null]
        store.add_frame(table, told.select("ride", "n", *known))


def computed(store: FabricatedStore) -> FabricatedStore:
    """Fill what the query stages fill."""
    store.lay()
    for name in QUERIES:
        query = data_dir("sql").joinpath("analysis", f"{name}.sql").read_text("utf-8").strip()
        store.run(f"delete from {name}")  # noqa: S608 - one of the names above
        store.run(f"insert into {name} by name ({query})")
    return store
