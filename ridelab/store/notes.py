"""The relation ``problems``: each row is told once, and goes when it is no longer true."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.objects import stored_form
from ridelab.problems import NO_GEAR, Problem
from ridelab.store.text import storable

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from ridelab.store.database import Database

_SCHEMA = pl.Schema(
    {
        "path": pl.String(),
        "stage": pl.String(),
        "severity": pl.String(),
        "message": pl.String(),
        "vehicle": pl.String(),
    }
)


def of_files(database: Database, told: Mapping[str, Iterable[Problem]]) -> None:
    """Replace what was told about reading files, by their stored path, which all rows get."""
    _delete(database, "stage = 'read'", told)
    rows = [
        (path, "read", one.severity, one.message, None)
        for path, problems in told.items()
        for one in problems
    ]
    _add(database, rows)


def of_refusals(database: Database, told: Mapping[str, str]) -> None:
    """Tell why files are set aside; what was told of rides read from them before stays."""
    _delete(database, "stage = 'read' and severity = 'error'", told)
    _add(database, [(path, "read", "error", message, None) for path, message in told.items()])


def forget_files(database: Database) -> None:
    """Drop refusals of files that are not set aside now, and all about files without a ride."""
    database.execute(
        "delete from problems where stage = 'read' and severity = 'error' and path not in "
        "(select path from files where status = 'set aside')"
    )
    database.execute(
        "delete from problems where stage = 'read' and path not in "
        "(select path from files union all select path from recorded_rides)"
    )


def of_vehicle(
    database: Database,
    vehicle: str,
    problems: Iterable[Problem],
    but: Collection[str] = (),
) -> None:
    """Replace what was told about measuring one vehicle; ``but``: not that of these rides.

    That a ride lacks what gears are named from is told once: by reading, if it saw that.
    """
    database.execute(
        "delete from problems where vehicle = $vehicle and path not in (select path "
        "from recorded_rides where list_contains($but::text[], ride))",
        {"vehicle": vehicle, "but": list(but)},
    )
    told = database.read(
        "select path from problems where stage = 'read' and ends_with(message, ?)", [NO_GEAR]
    )
    paths = set(told["path"])
    rows = [
        (stored_form(one.path), one.stage, one.severity, one.message, vehicle)
        for one in problems
        if not (one.message.endswith(NO_GEAR) and storable(stored_form(one.path)) in paths)
    ]
    _add(database, rows)


def of_stage(database: Database, stage: str, problems: Iterable[Problem]) -> None:
    """Replace what one stage told about the campaign as a whole; the same again is no change."""
    rows = _frame([(one.path, stage, one.severity, one.message, None) for one in problems])
    told = database.read(
        "select path, stage, severity, message, vehicle from problems where stage = ?", [stage]
    )
    if not rows.equals(told):
        database.execute("delete from problems where stage = ?", [stage])
        database.insert("problems", rows)


def of_reading(database: Database) -> dict[str, list[Problem]]:
    """Return what was told about reading each file, by path."""
    told: dict[str, list[Problem]] = {}
    rows = database.read("select path, stage, severity, message from problems where stage = 'read'")
    for row in rows.iter_rows():
        told.setdefault(row[0], []).append(Problem(*row))
    return told


def _delete(database: Database, which: str, paths: Iterable[str]) -> None:
    database.execute(
        f"delete from problems where {which} and path in (select unnest(?))",  # noqa: S608 - words of our own
        [list(paths)],
    )


def _add(database: Database, rows: Sequence[tuple[str | None, ...]]) -> None:
    if rows:
        database.insert("problems", _frame(rows))


def _frame(rows: Sequence[tuple[str | None, ...]]) -> pl.DataFrame:
    """Return the rows, each path, stage and message once."""
    clean = [tuple(value and storable(value) for value in row) for row in rows]
    return pl.DataFrame(clean, schema=_SCHEMA, orient="row").unique(
        ["path", "stage", "message"], keep="first", maintain_order=True
    )
