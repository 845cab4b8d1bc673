"""The relations ``runs`` and ``run_stages``: what was done to a store, when, and what it took."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import ridelab

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from ridelab.store.database import Database


def begin(database: Database, started_at: datetime, pipeline: str, workers: int) -> int:
    """Write the row of a run that begins; return its number."""
    number = int(database.read("select coalesce(max(run), 0) + 1 from runs").item())
    database.execute(
        "insert into runs (run, started_at, version, pipeline, workers) values (?, ?, ?, ?, ?)",
        [number, started_at, ridelab.__version__, pipeline, workers],
    )
    return number


def end(
    database: Database, run: int, facts: Mapping[str, Any], stages: Mapping[str, float]
) -> None:
    """Complete the row of a run; ``facts`` by column, ``stages`` in order, with their seconds."""
    columns = ", ".join(f"{column} = ?" for column in facts)
    with database.transaction():
        database.execute(f"update runs set {columns} where run = ?", [*facts.values(), run])  # noqa: S608 - names of our own
        for place, (stage, seconds) in enumerate(stages.items(), 1):
            row = [run, place, stage, seconds]
            database.execute("insert into run_stages values (?, ?, ?, ?)", row)
