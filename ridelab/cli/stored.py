"""``ridelab show`` and ``ridelab query``: what a store holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.errors import StoreError, UsageError, nearest

if TYPE_CHECKING:
    from pathlib import Path

    import polars as pl

    from ridelab.store import Store


def frame_of(path: Path, relation: str) -> pl.DataFrame:
    """Return a relation of the store.

    Raises:
        UsageError: it has none of that name.
        StoreError: there is no store, or it cannot be read.
    """
    with open_to_read(path) as store:
        known = store.relations()
        if relation not in known:
            raise UsageError(f"no relation {relation!r} in {path}; {nearest(relation, known)}")
        return store.frame(relation)


def answer_of(path: Path, sql: str) -> pl.DataFrame:
    """Return what a query says; the same errors, and UsageError where the SQL is wrong."""
    with open_to_read(path) as store:
        return store.query(sql)


def open_to_read(path: Path) -> Store:
    """Open a store that exists."""
    from ridelab.store import Store

    if not path.exists():
        raise StoreError(f"{path}: no such store yet; `ridelab run` makes it")
    return Store.open(path, read_only=True)
