"""Rides that shall not be stored any more: they go with all that belongs to them, and comes of it.

Nothing inferred may stand that nobody could infer again, so what was measured of their vehicles
goes, too, and the next run measures these anew.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.store import inferred, notes, queries
from ridelab.store.database import quoted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.store.database import Database

_ASKED = "(select unnest($rides))"
#: What was found about vehicles, beside what measuring them fills.
_OF_VEHICLES = ("ladder_health", "service")


def forget(database: Database, rides: Sequence[str]) -> tuple[str, ...]:
    """Take rides away, all in one transaction; return the vehicles to be measured anew."""
    asked = {"rides": list(rides)}
    with database.transaction():
        vehicles = database.read(
            "select distinct vehicle from recorded_rides "  # noqa: S608 - words of our own
            f"where ride in {_ASKED} and vehicle is not null order by all",
            asked,
        )["vehicle"].to_list()
        _forget_files(database, asked)
        queries.outdate(database, f"select ride from recorded_rides where ride in {_ASKED}", asked)  # noqa: S608 - likewise
        for vehicle in vehicles:
            inferred.clear(database, vehicle)
            notes.of_vehicle(database, vehicle, [])
            for table in _OF_VEHICLES:
                database.execute(f"delete from {table} where vehicle = ?", [vehicle])  # noqa: S608 - likewise
        for table in _with_rides(database):
            database.execute(f"delete from {quoted(table)} where ride in {_ASKED}", asked)  # noqa: S608 - quoted
        notes.forget_files(database)
    return tuple(vehicles)


def _forget_files(database: Database, asked: dict[str, list[str]]) -> None:
    """Take away files of these rides, and archives with such members, so that they are read again.

    What was told about a file goes with it.
    """
    database.execute(
        "delete from problems where vehicle is null and path in (select path from recorded_rides "  # noqa: S608 - words of our own
        f"where ride in {_ASKED})",
        asked,
    )
    database.execute(
        "delete from files where path in (select archive from files "  # noqa: S608 - likewise
        f"where sha256 in {_ASKED} and archive is not null)",
        asked,
    )
    database.execute(f"delete from files where sha256 in {_ASKED}", asked)  # noqa: S608 - likewise


def _with_rides(database: Database) -> list[str]:
    """Return the tables that tell of single rides, those of a user's queries among them."""
    found = database.read(
        "select table_name from duckdb_columns() where column_name = 'ride' and not internal and "
        "table_name in (select table_name from duckdb_tables()) order by all"
    )
    return list(found["table_name"])
