"""What a lake has at the end of a run: all rides of the store, and the relations that are small."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import polars as pl

from ridelab.errors import RemoteError
from ridelab.pipeline.lake_parcels import ENGAGED, OF_A_RIDE

if TYPE_CHECKING:
    from ridelab.pipeline.lake import Lake
    from ridelab.store import Store

#: Written whole; the last one says up to which run the lake is complete.
WHOLE = (
    "rides", "vehicles", "published_gears", "measured_gears", "measured_range", "measured_steps",
    "claims", "verdicts", "runs",
)  # fmt: skip


def complete(lake: Lake, store: Store) -> None:
    """Write what the lake has not got: rides of before it was used, and what is small.

    If runs over this store have been without it, or the last one did not get as far as here, any
    ride in it may be one of before, so all are written.

    Raises:
        RemoteError: it cannot be read or written.
    """
    this = int(store.frame("select coalesce(max(run), 0) from runs").item())
    follows = _last_run(lake) == this - 1
    for relation in (ENGAGED, *OF_A_RIDE):
        there = lake.rides(relation) if follows else set()
        for (ride,) in store.frame(f"select distinct ride from {relation}").iter_rows():  # noqa: S608 - a name of ours
            if ride not in there:
                rows = store.frame(f"select * from {relation} where ride = ?", [ride])  # noqa: S608 - likewise
                rows = rows.sort("n") if "n" in rows.columns else rows
                lake.put_rows({(relation, ride): rows})
    lake.sweep()
    *others, last = WHOLE
    lake.put_rows({(relation, None): store.frame(relation) for relation in others})
    lake.put_rows({(last, None): store.frame(last)})


def _last_run(lake: Lake) -> int:
    """Return the last run that the lake is complete with, 0 for a new one."""
    try:
        [content] = lake.get(["relation=runs/all.parquet"])
    except RemoteError as error:
        if isinstance(error.__cause__, FileNotFoundError):
            return 0
        raise
    return int(pl.read_parquet(io.BytesIO(content))["run"].max() or 0)  # type: ignore[arg-type]
