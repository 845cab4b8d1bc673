"""How gears are used: by the grade of the road, and from which to which they are shifted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.report.chart_parts import columnar, finished, gear_axis, key, told
from ridelab.report.digits import NO_BREAK, Printer, count, duration, percent
from ridelab.report.drawing import layered
from ridelab.report.markup import Column, Markup, Row, table, text
from ridelab.report.palette import light

if TYPE_CHECKING:
    from collections.abc import Sequence

    import altair as alt

_ROW_PX, _SQUARE_PX = 20, 300
_UP, _DOWN = "to a higher gear", "to a lower gear"
#: Bands of grade with less riding than this say little of a habit.
_LEAST_S = 10.0
#: Pairs of gears that have a row of their own in the table; the chart shows all.
_MOST_PAIRS = 60
#: A drawn disc of the most frequent shift, in square pixels.
_LARGEST = 320


def use_by_grade_chart(use: pl.DataFrame, gears: Sequence[int]) -> alt.LayerChart:
    """Show which gears were engaged at each grade: the stronger, the more of the time there.

    Args:
        use: rows of ``use_by_grade`` of one vehicle, with gears; not empty.
        gears: all gears that the vehicle has.
    """
    import altair as alt

    rows = _grade_rows(use)
    bands = rows.unique("grade_from").sort("grade_from", descending=True)["band"].to_list()
    x = gear_axis([*gears, *rows["gear"]])
    y = alt.Y(
        "band:N",
        sort=bands,
        title="grade of the road, %",
        axis=alt.Axis(ticks=False, domain=False, grid=False),
        scale=alt.Scale(paddingInner=0.08),
    )
    chart = (
        columnar(rows, by=("grade_from", "band"))
        .mark_rect(color=light("measured"))
        .encode(
            x,
            y,
            opacity=alt.Opacity(
                "share:Q",
                scale=alt.Scale(type="sqrt", domain=[0, 1], range=[0.0, 1.0]),
                legend=None,
            ),
            **told(),
        )
    )
    words = "Share of the pedalling in each gear at each grade."
    return finished(layered([chart]), words, _ROW_PX * len(bands) + 10)


def use_by_grade_sentence(use: pl.DataFrame) -> str:
    """Say what to see, and from which gear to which the middle of riding moves."""
    bands = [
        band
        for band in use.filter(pl.col("gear").is_not_null())
        .sort("grade_from")
        .partition_by("grade_from", maintain_order=True)
        if float(band["seconds"].sum()) >= _LEAST_S
    ]
    said = (
        "Each row is a grade of the road, the steepest climb on top; the stronger the colour of a"
        " gear, the more of the pedalling at that grade was in it."
    )
    if len(bands) < 2:
        return said
    down, up = bands[0], bands[-1]
    ends = use["gear"].min(), use["gear"].max()
    low, high = _middle_gear(up), _middle_gear(down, from_top=True)
    below = "" if low == ends[0] else " or lower"
    above = "" if high == ends[1] else " or higher"
    return (
        f"{said} Half of it at {_grade(up)}{NO_BREAK}% was in gear {low}{below}, at "
        f"{_grade(down)}{NO_BREAK}% in gear {high}{above}."
    )


def _grade(band: pl.DataFrame) -> str:
    return _band(band["grade_from"][0], band["grade_from"][0] + 0.02)


def use_by_grade_table(use: pl.DataFrame, caption: Markup) -> Markup:
    """Return a row a grade and gear."""
    columns = [
        Column("Grade, %"),
        Column("Gear", "number"),
        Column("Time", "number"),
        Column("Share at this grade", "number"),
    ]
    rows = (
        Row(
            [
                text(_band(row["grade_from"], row["grade_to"])),
                text(row["gear"]),
                text(duration(row["seconds"])),
                text(percent(row["share"])),
            ]
        )
        for row in use.filter(pl.col("gear").is_not_null()).iter_rows(named=True)
    )
    return table(caption, columns, rows)


def shift_pairs_chart(pairs: pl.DataFrame, gears: Sequence[int]) -> alt.LayerChart:
    """Show how often was shifted from each gear to each other: the larger, the more often.

    Args:
        pairs: rows of ``shift_pairs`` of one vehicle; not empty.
        gears: all gears that the vehicle has.
    """
    import altair as alt

    rows = pairs.select(
        "from_gear",
        "to_gear",
        "shifts",
        kind=pl.when(pl.col("to_gear") > pl.col("from_gear"))
        .then(pl.lit(_UP))
        .otherwise(pl.lit(_DOWN)),
        words=pl.format("{} to {}: {} in all", "from_gear", "to_gear", "shifts"),
    )
    every = sorted({*gears, *rows["from_gear"], *rows["to_gear"]})
    x, y = gear_axis(every), _upright(every)
    x["shorthand"], x["title"] = "from_gear:O", "from gear"
    present = set(rows["kind"])
    look = {
        word: sign
        for word, sign in ((_UP, ("measured", "disc")), (_DOWN, ("published", "diamond")))
        if word in present
    }
    line = (
        alt.Chart(pl.DataFrame({"from_gear": every, "to_gear": every}))
        .mark_line(color=light("line"), aria=False)
        .encode(x, y)
    )
    points = (
        columnar(rows, by=("kind",))
        .mark_point(filled=True, opacity=1)
        .encode(
            x,
            y,
            size=alt.Size(
                "shifts:Q", scale=alt.Scale(range=[12, _LARGEST], zero=True), legend=None
            ),
            **key("kind", look),
            **told(),
        )
    )
    words = "How often was shifted from each gear to each other."
    return finished(layered([line, points]), words, _SQUARE_PX)


def shift_pairs_sentence(pairs: pl.DataFrame) -> str:
    """Say what to see, and how many shifts went to the neighbour."""
    total = int(pairs["shifts"].sum())
    near = int(pairs.filter((pl.col("to_gear") - pl.col("from_gear")).abs() == 1)["shifts"].sum())
    first = pairs.sort("shifts", descending=True).row(0, named=True)
    return (
        "Above the line shifts to a higher gear, below it to a lower one; the further from the "
        f"line, the more gears at once. {percent(near / total)} of {total} shifts went to the "
        f"next gear; most often from {first['from_gear']} to {first['to_gear']}, "
        f"{count(first['shifts'], 'time')}."
    )


def shift_pairs_table(pairs: pl.DataFrame, printer: Printer, caption: Markup) -> Markup:
    """Return a row a pair of gears, most frequent first; the rarest of very many in one row."""
    columns = [
        Column("From gear"),
        Column("To gear", "number"),
        Column("Times", "number"),
        Column(printer.headed("Mean speed", "speed"), "number"),
        Column("Cadence before, rpm", "number"),
        Column("Cadence after, rpm", "number"),
    ]
    rows = (
        Row(
            [
                text(row["from_gear"]),
                text(row["to_gear"]),
                text(row["shifts"]),
                text(printer.bare("speed", row["speed_mps"])),
                text(printer.bare("cadence", row["cadence_before_rpm"])),
                text(printer.bare("cadence", row["cadence_after_rpm"])),
            ]
        )
        for row in pairs.head(_MOST_PAIRS).iter_rows(named=True)
    )
    rest = pairs["shifts"][_MOST_PAIRS:]
    told = [*rows, _rarest(rest)] if len(rest) else rows
    return table(caption, columns, told)


def _rarest(shifts: pl.Series) -> Row:
    others = text(f"{count(len(shifts), 'rarer pair')}")
    return Row([others, text(""), text(int(shifts.sum())), *([text("")] * 3)])


def _upright(gears: Sequence[int]) -> alt.Y:
    import altair as alt

    return alt.Y(
        "to_gear:O",
        scale=alt.Scale(type="band", domain=sorted(gears, reverse=True)),
        axis=alt.Axis(labelOverlap=True, grid=False),
        title="to gear",
    )


def _grade_rows(use: pl.DataFrame) -> pl.DataFrame:
    named = use.filter(pl.col("gear").is_not_null())
    kept = named.filter(pl.col("seconds").sum().over("grade_from") >= _LEAST_S)
    rows = kept if len(kept) else named
    bands = [
        _band(low, high) for low, high in zip(rows["grade_from"], rows["grade_to"], strict=True)
    ]
    words = [
        f"{band} %, gear {gear}: {percent(share)} of the time there, {duration(seconds)}"
        for band, gear, share, seconds in zip(
            bands, rows["gear"], rows["share"], rows["seconds"], strict=True
        )
    ]
    return rows.select("gear", "grade_from", pl.col("share").round(3)).with_columns(
        band=pl.Series(bands, dtype=pl.String), words=pl.Series(words, dtype=pl.String)
    )


def _band(low: float, high: float) -> str:
    """Return "+1 to +3"; the outermost bands hold all that is steeper."""
    ends = [round(100 * end) for end in (low, high)]
    if ends[0] <= -13:
        return f"{ends[1]:+d} and less".replace("-", "−")
    if ends[1] >= 13:
        return f"{ends[0]:+d} and more"
    return f"{ends[0]:+d} to {ends[1]:+d}".replace("-", "−")


def _middle_gear(band: pl.DataFrame, *, from_top: bool = False) -> int:
    """Return the gear in which, with all below or ``from_top``, half of the time was ridden."""
    by_gear = band.group_by("gear").agg(pl.col("seconds").sum()).sort("gear", descending=from_top)
    half = by_gear.filter(pl.col("seconds").cum_sum() >= pl.col("seconds").sum() / 2)
    return int(half["gear"][0])
