"""The layout of a store: its tables and views, from one SQL file each."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from ridelab.errors import StoreBusy, StoreError
from ridelab.resources import data_dir

if TYPE_CHECKING:
    from ridelab.store.database import Database

#: Changes whenever a file of sql/schema does.
VERSION = 9


def prepare(database: Database) -> None:
    """Lay out an empty file; bring the views of an existing store up to date.

    Raises:
        StoreError: as ``check``.
    """
    views = _statements("views")
    fingerprint = hashlib.sha256(views.encode()).hexdigest()
    if not _tables(database):
        with database.transaction():
            database.execute(_statements("schema"))
            database.execute(views)
            database.execute("insert into schema_version values (?, ?)", [VERSION, fingerprint])
        return
    check(database)
    if database.read("select views from schema_version").item() == fingerprint:
        return
    with database.transaction():
        for name in _file_names("views"):
            database.execute(f"drop view if exists {name}")
        database.execute(views)
        database.execute("update schema_version set views = ?", [fingerprint])


def check(database: Database) -> None:
    """Refuse what is not a store of this layout.

    Raises:
        StoreBusy: a run is about to lay it out.
        StoreError: a DuckDB file of something else, or a store of another version.
    """
    tables = _tables(database)
    if database.holder and not tables:
        told = f"{database.path}: {database.holder} has only begun, and stored nothing yet"
        raise StoreBusy(told, database.holder)
    if "schema_version" not in tables:
        raise StoreError(
            f"{database.path}: a DuckDB file, but no store of ridelab; accepted: another path"
        )
    found = database.read("select version from schema_version")["version"].to_list()
    if found != [VERSION]:
        whose = "a newer" if found and found[0] > VERSION else "an older"
        raise StoreError(
            f"{database.path}: laid out by {whose} ridelab (layout {found and found[0]}, this one "
            f"knows {VERSION}); move the file away, and the next run makes it anew from the ride "
            "files"
        )


def own_relations() -> frozenset[str]:
    """Return the names of the tables and views that every store has."""
    return frozenset((*_file_names("schema"), *_file_names("views")))


def _tables(database: Database) -> list[str]:
    found = database.read("select table_name from duckdb_tables() where not internal")
    return list(found["table_name"])


def _statements(folder: str) -> str:
    """Return the SQL of a folder, files in the order of their names."""
    return "\n".join(
        data_dir("sql").joinpath(folder, f"{name}.sql").read_text("utf-8")
        for name in _file_names(folder)
    )


def _file_names(folder: str) -> list[str]:
    files = (file.name for file in data_dir("sql").joinpath(folder).iterdir())
    return sorted(name.removesuffix(".sql") for name in files if name.endswith(".sql"))
