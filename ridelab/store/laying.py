"""Samples as analyses read them: laid down side by side before a query, forgotten when outdated."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from ridelab.resources import data_dir

if TYPE_CHECKING:
    from ridelab.store.database import Database, Params

#: The table that analyses read.
SAMPLES = "ridden_samples"
#: Rides that are joined at once: bounds the memory, some 150 MB of two-hour rides.
AT_ONCE = 250


def lay(database: Database) -> None:
    """Lay down the samples of all rides that are new or changed; within a transaction."""
    laid = _highest(database)
    database.execute(f"insert into numbered_rides by name ({query('numbered_rides')})")
    last = _highest(database)
    while laid < last:
        database.execute(
            f"insert into {SAMPLES} by name ({query(SAMPLES)})",
            {"laid": laid, "at_once": AT_ONCE},
        )
        laid += AT_ONCE


def forget(database: Database, rides: str, params: Params) -> None:
    """Take away the samples of some rides, for something of them is about to change.

    ``rides``: a query of their names.
    """
    numbers = f"select number from numbered_rides where ride in ({rides})"  # noqa: S608 - a query of our own
    database.execute(f"delete from {SAMPLES} where number in ({numbers})", params)  # noqa: S608 - likewise
    database.execute(f"delete from numbered_rides where ride in ({rides})", params)  # noqa: S608 - likewise


@cache
def query(name: str) -> str:
    """Return the query of sql/laying that adds to a table."""
    return data_dir("sql").joinpath("laying", f"{name}.sql").read_text("utf-8")


def _highest(database: Database) -> int:
    return int(database.read("select coalesce(max(number), 0) from numbered_rides").item())
