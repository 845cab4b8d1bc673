"""A frame as CSV that a spreadsheet can open without running anything."""

from __future__ import annotations

import polars as pl
import polars.selectors as cs

from ridelab.store.writing import harmless


def as_sheet(frame: pl.DataFrame) -> str:
    """Return a frame as CSV, as relations are exported: numbers in full, text that is no formula.

    What is not a finite number is left empty.
    """
    plain = frame.with_columns(
        pl.when(cs.float().is_finite()).then(cs.float()),
    ).with_columns(
        pl.Series(column, [_cell(value) for value in frame[column]], pl.String)
        for column, kind in frame.schema.items()
        if kind == pl.String
    )
    named = plain.rename({column: harmless(column) for column in frame.columns})
    return named.write_csv(quote_style="non_numeric")


def _cell(value: str | None) -> str | None:
    return None if value is None else harmless(value)
