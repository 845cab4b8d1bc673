"""Relations filled by a query: those of sql/analysis, and a user's own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.errors import StoreError
from ridelab.store import schema
from ridelab.store.database import literal, quoted

if TYPE_CHECKING:
    from ridelab.store.database import Database


def fingerprint(database: Database, relation: str) -> str | None:
    """Return what a relation was filled from, None if no query filled it yet."""
    found = database.read("select fingerprint from derivations where relation = ?", [relation])
    return found["fingerprint"][0] if len(found) else None


def fill(database: Database, relation: str, query: str, filled_from: str) -> None:
    """Make the result of a query the content of a relation.

    A relation of the schema keeps its columns; any other is made anew with those of the query.

    Raises:
        StoreError: the query fails, is not one SELECT, or has other columns than the relation.
    """
    if not database.is_query(query):
        raise StoreError("not one query; accepted: a single SELECT")
    bare = query.strip().rstrip(";")
    with database.transaction():
        if relation in schema.own_relations():
            _refill(database, relation, bare)
        else:
            _remake(database, relation, bare)
        database.execute("delete from derivations where relation = ?", [relation])
        database.execute("insert into derivations values (?, ?)", [relation, filled_from])


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
    for column in database.read(f"select * from {name} limit 0").columns:  # noqa: S608 - quoted
        comment = f"as the query {relation} makes it [as its name says]"
        database.execute(f"comment on column {name}.{quoted(column)} is {literal(comment)}")
