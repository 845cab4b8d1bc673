"""What may stand in the catalogue of a store: a stranger could have put more there than data.

DuckDB is sealed before it opens a store, so nothing in one can reach beyond it. But a view is a
query that runs when its name is asked for: one under a name of ours would answer for us, and one
under any name could show paths of this machine in what is exported and passed on. A run makes
tables, and the views of sql/views, and nothing else.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.errors import StoreError
from ridelab.store import reads

if TYPE_CHECKING:
    from collections.abc import Collection

    from ridelab.store.database import Database

_STRANGE = """
    select 'the schema ' || schema_name from duckdb_schemas() where not internal
        and schema_name <> 'main' and database_name = current_database()
    union all
    select 'the trigger ' || trigger_name from duckdb_triggers()
    union all
    select 'the type ' || type_name from duckdb_types()
        where not internal and database_name = current_database()
    union all
    select 'the computed column ' || table_name || '.' || column_name from duckdb_columns()
        where not internal and is_generated
    order by all
"""


def must_be_plain(database: Database, tables: Collection[str]) -> None:
    """Refuse a store in which anything is computed that no run has put there.

    ``tables``: the names of ours.

    Raises:
        StoreError: it holds a view, or something else, that no store of ridelab does.
    """
    strange = database.read(_STRANGE).to_series().to_list()
    for name in _views(database).keys() - reads.views().keys():
        where = "in the place of a table" if name in tables else "that ridelab does not make"
        strange.append(f"the view {name} {where}")
    if strange:
        raise StoreError(
            f"{database.path}: holds {min(strange)}, which no run puts into a store; accepted: "
            "tables alone; move the file away, and the next run makes it anew from the ride files"
        )


def has_own_views(database: Database) -> bool:
    """Whether the views of ours are there, and are what this version makes of them."""
    found, own = _views(database), reads.views()
    # text is compared first, as that is quicker; DuckDB may write one query in several ways
    return found.keys() == own.keys() and all(
        found[name] == query or reads.means_the_same(found[name], query)
        for name, query in own.items()
    )


def _views(database: Database) -> dict[str, str]:
    """Return the query of each view; all of its text where that says more than a name and a query.

    Columns of a view can be given other names there.
    """
    rows = database.read("select view_name, sql from duckdb_views() where not internal")
    return {
        name: sql.removeprefix(f"CREATE VIEW {name} AS ").removesuffix(";")
        for name, sql in rows.iter_rows()
    }
