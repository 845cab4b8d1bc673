"""The layout of a store: tables and views, one SQL file each, and the steps from older ones."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from ridelab.errors import StoreBusy, StoreError
from ridelab.resources import data_dir
from ridelab.store import catalogue

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

    from ridelab.store.database import Database

#: The number of the layout; from the first release on, another one takes a step of sql/migrations.
VERSION = 9
_COLUMNS = (
    "select table_name, column_name, data_type from duckdb_columns() "
    "where not internal and table_name in (select table_name from duckdb_tables())"
)


def prepare(database: Database) -> None:
    """Lay out an empty file; bring an existing store up to date, in one transaction.

    Raises:
        StoreError: as ``check``, but for older views; or its tables are others than its version
            says.
    """
    tables, views = _statements("schema"), _statements("views")
    fingerprint = hashlib.sha256(f"{tables}\n{views}".encode()).hexdigest()
    if not _tables(database):
        catalogue.must_be_plain(database, _file_names("schema"))
        with database.transaction():
            database.execute(tables)
            database.execute(views)
            database.execute("insert into schema_version values (?, ?)", [VERSION, fingerprint])
        return
    steps = _steps(database, _version(database))
    catalogue.must_be_plain(database, _file_names("schema"))
    known = database.read("select views from schema_version").item()
    if not steps and known == fingerprint and catalogue.has_own_views(database):
        return
    with database.transaction():
        _drop_views(database)
        for step in steps:
            database.execute(step.read_text("utf-8"))
        _add_missing_tables(database)
        _must_be_laid_out(database, tables)
        database.execute(views)
        database.execute("update schema_version set version = ?, views = ?", [VERSION, fingerprint])


def check(database: Database) -> None:
    """Refuse what is not a store of this layout.

    Raises:
        StoreBusy: a run is about to lay it out.
        StoreError: nothing is in it yet, a DuckDB file of something else, a store of another
            version, or one with views that are not as this version makes them.
    """
    found = _version(database)
    if _steps(database, found):
        raise StoreError(
            f"{database.path}: laid out by an older ridelab (layout {found}, this one knows "
            f"{VERSION}); `ridelab run` brings it up to date, and keeps what is in it"
        )
    catalogue.must_be_plain(database, _file_names("schema"))
    if not catalogue.has_own_views(database):
        raise StoreError(
            f"{database.path}: its views are not those of this ridelab; `ridelab run` makes them "
            "anew, and keeps what is in the store"
        )


def own_relations() -> frozenset[str]:
    """Return the names of the tables and views that every store has."""
    return frozenset((*_file_names("schema"), *_file_names("views")))


def _version(database: Database) -> int:
    """Return the number of a store's layout, 0 where it tells none; the errors of ``check``."""
    tables = _tables(database)
    if database.holder and not tables:
        told = f"{database.path}: {database.holder} has only begun, and stored nothing yet"
        raise StoreBusy(told, database.holder)
    if not tables:
        raise StoreError(f"{database.path}: nothing is stored in it yet; `ridelab run` does that")
    if "schema_version" not in tables:
        raise StoreError(
            f"{database.path}: a DuckDB file, but no store of ridelab; accepted: another path"
        )
    found = database.read("select try_cast(version as integer) from schema_version").to_series()
    return int(found[0] or 0) if len(found) == 1 else 0


def _steps(database: Database, found: int) -> list[Traversable]:
    """Return the steps from a layout to this one; none where it is this one.

    Raises:
        StoreError: a newer layout, or one that no steps lead from.
    """
    files = {file.name: file for file in data_dir("sql").joinpath("migrations").iterdir()}
    names = [f"{number:04}.sql" for number in range(found + 1, VERSION + 1)]
    if found > VERSION or not all(name in files for name in names):
        whose = "a newer" if found > VERSION else "an older"
        raise StoreError(
            f"{database.path}: laid out by {whose} ridelab (layout {found}, this one "
            f"knows {VERSION}); move the file away, and the next run makes it anew from the ride "
            "files"
        )
    return [files[name] for name in names]


def _drop_views(database: Database) -> None:
    views = database.read("select view_name from duckdb_views() where not internal")
    for name in set(views["view_name"]).intersection(own_relations()):
        database.execute(f"drop view {name}")


def _add_missing_tables(database: Database) -> None:
    """Make the tables that are not there; nothing was ever filled into them."""
    known = set(_tables(database))
    for name in _file_names("schema"):
        if name not in known:
            database.execute(_statement("schema", name))


def _must_be_laid_out(database: Database, tables: str) -> None:
    """Refuse a store whose tables have other columns than those of its version."""
    import duckdb

    with duckdb.connect() as empty:
        empty.execute(tables)
        needed = set(empty.execute(_COLUMNS).fetchall())
    own = {table for table, _, _ in needed}
    found = {row for row in database.read(_COLUMNS).rows() if row[0] in own}
    if odd := sorted(needed ^ found):
        table, column, kind = odd[0]
        have = "lacks" if odd[0] in needed else "has"
        raise StoreError(
            f"{database.path}: its table {table} {have} a column {column} of type {kind}, as no "
            f"store of layout {VERSION} does; move the file away, and the next run makes it anew "
            "from the ride files"
        )


def _tables(database: Database) -> list[str]:
    found = database.read("select table_name from duckdb_tables() where not internal")
    return list(found["table_name"])


def _statements(folder: str) -> str:
    """Return the SQL of a folder, files in the order of their names."""
    return "\n".join(_statement(folder, name) for name in _file_names(folder))


def _statement(folder: str, name: str) -> str:
    return data_dir("sql").joinpath(folder, f"{name}.sql").read_text("utf-8")


def _file_names(folder: str) -> list[str]:
    files = (file.name for file in data_dir("sql").joinpath(folder).iterdir())
    return sorted(name.removesuffix(".sql") for name in files if name.endswith(".sql"))
