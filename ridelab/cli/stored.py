"""``ridelab show`` and ``ridelab query``: what a store holds."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from ridelab.cli.output import emit
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
        known = store.relations()
        if relation not in known:
            raise UsageError(f"no relation {relation!r} in {path}; {nearest(relation, known)}")
        frame = store.frame(relation)
    emit(frame, how, units, limit)  # no store is held while a pager is read


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


def open_to_read(path: Path) -> Store:
    """Open a store that exists."""
    from ridelab.store import Store

    if not path.exists():
        raise StoreError(f"{path}: no such store yet; `ridelab run` makes it")
    return Store.open(path, read_only=True)
