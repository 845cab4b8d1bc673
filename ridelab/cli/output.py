"""A frame to stdout: as a table for people, as JSON or CSV for programs."""

from __future__ import annotations

import json
import math
import shutil
import sys
from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal

from ridelab.cli import events
from ridelab.cli.columns import shown
from ridelab.cli.text import NO_BREAK, layout, printable, wrapped
from ridelab.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import polars as pl

    from ridelab.cli.text import Column
    from ridelab.problems import Problem
    from ridelab.units import UnitSystem

Form = Literal["table", "json", "csv"]
_NARROWEST, _PIPED = 40, 80
_INDENT = "  "


def form(*, as_json: bool, as_csv: bool) -> Form:
    """Return the form asked for.

    Raises:
        UsageError: both were.
    """
    if as_json and as_csv:
        raise UsageError("--json and --csv together; accepted: one of them")
    return "json" if as_json else "csv" if as_csv else "table"


def emit(
    frame: pl.DataFrame,
    how: Form,
    units: UnitSystem = "metric",
    limit: int = 0,
    stated: Mapping[str, str] | None = None,
) -> None:
    """Print a frame; programs get every row in SI units, people the first ``limit`` (0: all).

    ``stated``: units of columns that no rule of ours knows.
    """
    if how == "json":
        print_json(frame)
    elif how == "csv":
        sys.stdout.write(_flat(_of_plain_types(frame)).write_csv())
    else:
        first = frame.head(limit) if limit else frame
        print_table(shown(first, units, stated))
        if first.height < frame.height:
            tell(f"{first.height} of {frame.height} rows; --limit 0 prints them all")


def print_json(frame: pl.DataFrame) -> None:
    """Print a JSON array, one object a row and line; what is not a finite number is null."""
    rows = _of_plain_types(frame).write_ndjson().rstrip("\n").replace("\n", ",\n")
    sys.stdout.write(f"[\n{rows}\n]\n" if rows else "[]\n")


def print_objects(rows: Iterable[Mapping[str, object]]) -> None:
    """Print the same of what is no frame: paths are text, what is not a finite number is null."""
    lines = [json.dumps(_finite(row), default=str, ensure_ascii=False) for row in rows]
    sys.stdout.write("[\n" + ",\n".join(lines) + "\n]\n" if lines else "[]\n")


def print_table(columns: Sequence[Column]) -> None:
    """Print columns as wide as the terminal, 80 characters where there is none."""
    say(layout(columns, width()))


def width() -> int:
    """Return the characters that a line may take; COLUMNS overrides what the terminal says."""
    return max(_NARROWEST, shutil.get_terminal_size((_PIPED, 24)).columns)


def say(text: str = "") -> None:
    """Write a line of the result; no-break spaces have done their work and become plain ones."""
    sys.stdout.write(text.replace(NO_BREAK, " ") + "\n")


def say_prose(text: str) -> None:
    """Write a sentence of the result, broken to the width and indented from its second line on."""
    first, *rest = wrapped(printable(text), width() - len(_INDENT))
    say("\n".join([first, *(_INDENT + line for line in rest)]))


def tell(text: str) -> None:
    """Write a line beside the result: progress, a warning, a hint."""
    if events.wanted():
        events.write("message", {"text": text})
    else:
        sys.stderr.write(text + "\n")


def tell_problem(problem: Problem) -> None:
    """Write a problem beside the result: how bad, where, what."""
    tell(f"{problem.severity}: {printable(f'{problem.path}: {problem.message}')}")


def _finite(value: object) -> object:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {key: _finite(one) for key, one in value.items()}
    return [_finite(one) for one in value] if isinstance(value, list | tuple) else value


def _of_plain_types(frame: pl.DataFrame) -> pl.DataFrame:
    """Turn what a query can return and JSON cannot say into numbers and text."""
    import polars as pl
    import polars.selectors as cs

    whole = [name for name, kind in frame.schema.items() if kind == pl.Decimal(38, 0)]
    return frame.with_columns(
        cs.by_name(whole).cast(pl.Int128),  # how the store sums whole numbers
        (cs.decimal() - cs.by_name(whole)).cast(pl.Float64),
        cs.binary().bin.encode("hex"),
    )


def _flat(frame: pl.DataFrame) -> pl.DataFrame:
    """Turn lists and structures, which CSV has no cells for, into JSON text."""
    import polars as pl

    nested = [name for name, kind in frame.schema.items() if kind.is_nested()]
    return frame.with_columns(
        pl.Series(name, [json.dumps(value, default=str) for value in frame[name].to_list()])
        for name in nested
    )
