"""Relations filled by a query: those of sql/analysis, and a user's own."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import polars as pl

from ridelab.errors import StoreError, nearest
from ridelab.store import laying, schema
from ridelab.store.database import literal, quoted

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from ridelab.store.database import Database, Params

#: Rides that a query over samples as recorded is asked for at once: 300 MB of two-hour rides.
AT_ONCE = 100
_WORD = re.compile(r"\w+")


def fingerprint(database: Database, relation: str) -> str | None:
    """Return what a relation was filled from, None if no query filled it yet."""
    found = database.read("select fingerprint from derivations where relation = ?", [relation])
    return found["fingerprint"][0] if len(found) else None


def ride_fingerprints(database: Database, relation: str) -> dict[str, str]:
    """Return what the rows of each ride were filled from; empty where it was filled as a whole."""
    rows = database.read(
        "select ride, fingerprint from derived_rides where relation = ?", [relation]
    )
    return dict(rows.iter_rows())


def note(database: Database, name: str, filled_from: str) -> None:
    """Remember what was made from what; whatever changes a ride forgets it."""
    with database.transaction():
        _note(database, name, filled_from, {})


def fill(database: Database, relation: str, query: str, filled_from: str) -> None:
    """Make the result of a query the content of a relation.

    A relation of the schema keeps its columns; any other is made anew with those of the query.

    Raises:
        StoreError: the query fails, is not one SELECT, or has other columns than the relation.
    """
    bare = _bare(database, query)
    with database.transaction():
        _lay(database, bare)
        _fill_whole(database, relation, bare)
        _note(database, relation, filled_from, {})


def fill_rides(
    database: Database, relation: str, query: str, filled_from: str, rides: Mapping[str, str]
) -> None:
    """Bring the rows of each ride up to date by a query whose result has a column ``ride``.

    ``rides``: all that are stored, each with the fingerprint of what its rows follow from. The
    query is run over those only whose fingerprint is another than before, and must make the same
    of a ride whichever others there are.

    Raises:
        StoreError: as of ``fill``, or a row that belongs to none of the rides.
    """
    bare, known = _bare(database, query), ride_fingerprints(database, relation)
    changed = [ride for ride, state in rides.items() if known.get(ride) != state]
    with database.transaction():
        _lay(database, bare)
        if known and len(changed) < len(rides):
            _forget(database, relation, [*changed, *(known.keys() - rides.keys())])
            _fill_parts(database, relation, bare, changed)
        elif len(rides) > _at_once(bare) and relation in schema.own_relations():
            _refill(database, relation, f"select * from (\n{bare}\n) limit 0")  # noqa: S608 - one query, by is_query
            _fill_parts(database, relation, bare, changed)
        else:
            _fill_whole(database, relation, bare)
            _must_be_of_rides(database, relation)
        _note(database, relation, filled_from, rides)


def describe(database: Database, relation: str, meanings: Mapping[str, str]) -> None:
    """Comment on the columns of a relation that a user's query made, inside a transaction.

    Raises:
        StoreError: it has no such column.
    """
    rows = database.read(
        "select column_name, comment from duckdb_columns() where not internal and table_name = ?",
        [relation],
    )
    told: dict[str, str | None] = dict(rows.iter_rows())
    for name in meanings.keys() - told.keys():
        raise StoreError(
            f"describes a column {name!r} that {relation} has not; {nearest(name, told)}"
        )
    wanted = {name: meanings.get(name, _undescribed(relation)) for name in told}
    for name, comment in wanted.items():
        if told[name] != comment:
            column = f"{quoted(relation)}.{quoted(name)}"
            database.execute(f"comment on column {column} is {literal(comment)}")


def outdate(database: Database, rides: str, params: Params) -> None:
    """Forget what queries made of some rides, for what it was made from is about to change.

    ``rides``: a query of their names. Relations filled as a whole keep their rows until a stage
    fills them again.
    """
    laying.forget(database, rides, params)
    database.execute("delete from derivations")
    if database.read("from derived_rides limit 1").is_empty():
        return
    for relation in database.read("select distinct relation from derived_rides")["relation"]:
        database.execute(f"delete from {quoted(relation)} where ride in ({rides})", params)  # noqa: S608 - quoted; a query of our own
    database.execute(f"delete from derived_rides where ride in ({rides})", params)  # noqa: S608 - a query of our own


def _bare(database: Database, query: str) -> str:
    if not database.is_query(query):
        raise StoreError("not one query; accepted: a single SELECT")
    return query.strip().rstrip(";")


def _lay(database: Database, query: str) -> None:
    """Bring the samples up to date that a query reads."""
    if _reads_laid(query):
        laying.lay(database)


def _reads_laid(query: str) -> bool:
    return laying.SAMPLES in _WORD.findall(query.lower())


def _fill_whole(database: Database, relation: str, query: str) -> None:
    if relation in schema.own_relations():
        _refill(database, relation, query)
    else:
        _remake(database, relation, query)


def _at_once(query: str) -> float:
    """Return how many rides a query is asked for at once.

    All, where it reads samples as they are laid; those as recorded it has to join and to sort,
    which takes gigabytes for all at once.
    """
    return math.inf if _reads_laid(query) else AT_ONCE


def _fill_parts(database: Database, relation: str, query: str, rides: Sequence[str]) -> None:
    """Add the rows of some rides, which must have none yet."""
    size = int(min(_at_once(query), max(len(rides), 1)))
    for begin in range(0, len(rides), size):
        part = _restricted(database, relation, query, rides[begin : begin + size])
        database.execute(f"insert into {quoted(relation)} by name (\n{part}\n)")


def _note(database: Database, relation: str, filled_from: str, rides: Mapping[str, str]) -> None:
    for table in ("derivations", "derived_rides"):
        database.execute(f"delete from {table} where relation = ?", [relation])  # noqa: S608 - one of two names
    database.execute("insert into derivations values (?, ?)", [relation, filled_from])
    if rides:
        told = {"ride": list(rides), "fingerprint": list(rides.values())}
        database.insert(
            "derived_rides", pl.DataFrame(told).with_columns(pl.lit(relation).alias("relation"))
        )


def _forget(database: Database, relation: str, rides: Collection[str]) -> None:
    database.execute(
        f"delete from {quoted(relation)} where ride in (select unnest($rides))",  # noqa: S608 - quoted
        {"rides": list(rides)},
    )


def _restricted(database: Database, relation: str, query: str, rides: Collection[str]) -> str:
    """Return a query under which relations that have a column ``ride`` hold no other rides.

    Constants, not a join: DuckDB takes them down to the scan, and skips the rows of other rides.
    """
    only = f"ride in ({', '.join(map(literal, rides))})"
    with_rides = database.read(
        "select distinct table_name from duckdb_columns() where column_name = 'ride' "
        "and not internal and table_name <> ? order by table_name",
        [relation],
    )["table_name"]
    words = set(_WORD.findall(query))
    limits = {name: only for name in with_rides if name in words}
    if _reads_laid(query):
        laid = database.read(f"select number from numbered_rides where {only} order by number")  # noqa: S608 - literals
        limits[laying.SAMPLES] = f"number in ({', '.join(map(str, laid['number'])) or 'null'})"
    parts = ",\n".join(
        f"{quoted(name)} as not materialized (select * from main.{quoted(name)} where {limit})"  # noqa: S608 - quoted
        for name, limit in limits.items()
    )
    return f"{parts and 'with ' + parts}\nselect * from (\n{query}\n) where {only}"


def _must_be_of_rides(database: Database, relation: str) -> None:
    name = quoted(relation)
    if "ride" not in database.read(f"select * from {name} limit 0").columns:  # noqa: S608 - quoted
        raise StoreError("per_ride, but no column ride; accepted: a result with a column ride")
    strange = database.read(
        f"select count(*) from {name} where ride is null "  # noqa: S608 - quoted
        "or ride not in (select ride from recorded_rides)"
    ).item()
    if strange:
        raise StoreError(
            f"per_ride, but {strange} of its rows belong to no stored ride; accepted: rows whose "
            "column ride names one of recorded_rides"
        )


def _refill(database: Database, relation: str, query: str) -> None:
    needed = set(database.read("select * from query_table(?) limit 0", [relation]).columns)
    made = set(database.read(f"select * from (\n{query}\n) limit 0").columns)  # noqa: S608 - one query, by is_query
    if made != needed:
        raise StoreError(
            f"columns that differ from those of {relation}: {', '.join(sorted(made ^ needed))}; "
            f"accepted: {', '.join(sorted(needed))}"
        )
    name = quoted(relation)
    database.execute(f"delete from {name}")  # noqa: S608 - quoted
    database.execute(f"insert into {name} by name (\n{query}\n)")


def _remake(database: Database, relation: str, query: str) -> None:
    name = quoted(relation)
    database.execute(f"create or replace table {name} as (\n{query}\n)")
    database.execute(f"comment on table {name} is 'result of a query stage'")
    describe(database, relation, {})


def _undescribed(relation: str) -> str:
    return f"as the query {relation} makes it; its unit is what its name says"
