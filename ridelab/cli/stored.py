"""``ridelab show`` and ``ridelab query``: what a store holds."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from ridelab.cli.output import emit, tell
from ridelab.errors import StoreError, UsageError, nearest

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.cli.output import Form
    from ridelab.cli.place import Place
    from ridelab.store import Store
    from ridelab.units import UnitSystem


def print_relation(where: tuple[Path, UnitSystem], relation: str, how: Form, limit: int) -> None:
    """Print a relation of a store; ``where``: its file, and the units to show it in.

    Raises:
        UsageError: it has none of that name.
        StoreError: there is no store, or it cannot be read.
    """
    path, units = where
    if relation == "plan":
        print_ride_plan(path, how, units, limit)
        return
    with open_to_read(path) as store:
        _must_exist(store, relation)
        frame, stated = store.relation(relation), _stated_units(store, relation)
    emit(frame, how, units, limit, stated)  # no store is held while a pager is read


def print_columns(where: tuple[Path, UnitSystem], relation: str, how: Form) -> None:
    """Print what the columns of a relation mean, and in which unit the store has them.

    Raises:
        UsageError, StoreError: as of ``print_relation``.
    """
    import polars as pl

    with open_to_read(where[0]) as store:
        _must_exist(store, relation)
        columns = store.columns(relation)
    rows = [(one.name, one.type, one.unit, one.meaning) for one in columns]
    names = ("column", "type", "unit", "meaning")
    emit(pl.DataFrame(rows, schema=dict.fromkeys(names, pl.String()), orient="row"), how)


def _must_exist(store: Store, relation: str) -> None:
    known = store.relations()
    if relation not in known:
        raise UsageError(f"no relation {relation!r} in {store.path}; {nearest(relation, known)}")


def _stated_units(store: Store, relation: str) -> dict[str, str]:
    """Return the units that a user's pipeline states of the columns of a relation of its own."""
    from ridelab.store import own_relations

    if relation in own_relations():
        return {}
    return {one.name: one.unit for one in store.columns(relation) if one.unit}


def print_claims_document(here: Place) -> None:
    """Print the claims of a campaign as a table to publish; the same errors."""
    from ridelab.report.published import claims_document

    with open_to_read(here.store) as store:
        document = claims_document(store, here.campaign.name, here.campaign.units)
    sys.stdout.write(document)


def print_ride_plan(path: Path, how: Form, units: UnitSystem, limit: int) -> None:
    """Print what to ride, in words for a rider; with --json or --csv the relation itself."""
    from ridelab.cli.planned import print_plan

    with open_to_read(path) as store:
        plan, verdicts = store.frame("test_ride_plan"), store.frame("verdicts")
    if how == "table":
        print_plan(plan, verdicts, units)
    else:
        emit(plan, how, units, limit)


def print_answer(where: tuple[Path, UnitSystem], sql: str, how: Form, limit: int) -> None:
    """Print what a query says; the same errors, and UsageError where the SQL is wrong."""
    path, units = where
    with open_to_read(path) as store:
        frame = store.query(sql)
    emit(frame, how, units, limit)


def open_to_read(path: Path, writes_into: Path | None = None) -> Store:
    """Open a store that exists; say so if it is still being written.

    ``writes_into``: the one folder that its ``write`` may make files in.
    """
    from ridelab.store import Store

    if not path.exists():
        raise StoreError(f"{path}: no such store yet; `ridelab run` makes it")
    store = Store.open(path, read_only=True, writes_into=writes_into)
    if store.holder:
        tell(f"{path}: {store.holder} is writing it; this is what is stored so far")
    return store
