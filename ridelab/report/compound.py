"""Drivetrains with more than one thing to shift: which combinations are gears of their own."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import polars as pl

from ridelab.drivetrain.grouping import FEEL_WITHIN
from ridelab.report.chart_parts import development_axis, domain, finished, key, told
from ridelab.report.digits import NO_BREAK, count
from ridelab.report.markup import Column, Markup, Row, chart_name, join, name, table, text

if TYPE_CHECKING:
    import altair as alt

    from ridelab.report.digits import Printer

_ROW_PX = 26
_RIDDEN, _OPEN, _REPEATS = "a gear, measured", "a gear, not measured", "repeats another"
_LOOK = {
    _RIDDEN: ("measured", "disc"),
    _OPEN: ("published", "tick"),
    _REPEATS: ("idle", "ring"),
}


def compound_chart(combinations: pl.DataFrame, printer: Printer) -> alt.Chart:
    """Show every combination on the scale of development, one row a setting in front.

    Args:
        combinations: the result of the query ``combinations``, of one vehicle; not empty.
        printer: of developments.
    """
    import altair as alt

    without_wheel = combinations["development_m"].null_count() > 0
    height = "ratio" if without_wheel else "development_m"
    scale = 1.0 if without_wheel else printer.scale("development")
    rows = combinations.select(
        front=pl.col("front").map_elements(chart_name, pl.String),
        x=(pl.col(height) * scale).round(4),
        kind=pl.when("repeats")
        .then(pl.lit(_REPEATS))
        .when("ridden")
        .then(pl.lit(_RIDDEN))
        .otherwise(pl.lit(_OPEN)),
        words=pl.Series([_words(row, printer) for row in combinations.iter_rows(named=True)]),
    )
    x = development_axis("x", domain(rows["x"]), printer)
    if without_wheel:
        x["title"] = "ratio (logarithmic)"
    order = rows.group_by("front").agg(pl.col("x").min()).sort("x")["front"].to_list()
    labels = alt.Axis(ticks=False, domain=False, labelLimit=140, grid=True)
    present = set(rows["kind"])
    chart: alt.Chart = (
        alt.Chart(rows)
        .mark_point(filled=True, opacity=1, size=70)
        .encode(
            x,
            alt.Y("front:N", sort=order, title=None, axis=labels),
            **key("kind", {word: sign for word, sign in _LOOK.items() if word in present}, 2),
            **told(),
        )
    )
    words = "Every combination of settings by its development, one row a setting in front."
    return finished(chart, words, _ROW_PX * len(order) + 10)


def compound_sentence(combinations: pl.DataFrame) -> str:
    """Say how many combinations are gears of their own, and how many of those feel different."""
    everything = len(combinations)
    lowest = combinations.filter(~pl.col("repeats")).sort("ratio")
    gears = len(lowest)
    repeating = everything - gears
    said = (
        f"{count(everything, 'combination')}, {gears} of them gears of their own; "
        f"{repeating} only {'repeats' if repeating == 1 else 'repeat'} another. "
    )
    ratios = lowest["ratio"].to_list()
    close = sum(upper / lower - 1 < FEEL_WITHIN for lower, upper in pairwise(ratios))
    if close:
        said += (
            f"{count(close, 'step')} between neighbours {'is' if close == 1 else 'are'} below "
            f"5{NO_BREAK}%, hardly felt. "
        )
    fronts = combinations["front"].n_unique()
    return (
        f"{said}A row is one of {fronts} settings in front; where rows lie above one another, "
        "either reaches nearly the same gears. More combinations are not a wider range."
    )


def compound_table(combinations: pl.DataFrame, vehicle: str, printer: Printer) -> Markup:
    """Return a row a combination, lowest first."""
    columns = [
        Column("Combination"),
        Column("Gear", "number"),
        Column("Ratio", "number"),
        Column(printer.headed("Development", "development"), "number"),
        Column("Repeats"),
    ]
    rows = (
        Row(
            [
                name(row["combination"]),
                text(row["gear"]),
                text(printer.bare("ratio", row["ratio"])),
                text(printer.bare("development", row["development_m"])),
                name(row["beside"] or ""),
            ]
        )
        for row in combinations.iter_rows(named=True)
    )
    return table(join([text("Combinations of "), name(vehicle)]), columns, rows)


def _words(row: dict[str, object], printer: Printer) -> str:
    said = f"{chart_name(str(row['combination']))}: gear {row['gear']}"
    metres = row["development_m"]
    if isinstance(metres, float):
        said += f", {printer.value('development', metres)}"
    return f"{said}, the same as {chart_name(str(row['beside']))}" if row["repeats"] else said
