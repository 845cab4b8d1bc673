"""How samples lie about their gears: gear by gear, and against speed."""

from __future__ import annotations

from math import expm1
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.report.chart_parts import finished, gear_axis, told
from ridelab.report.digits import NO_BREAK, Printer, number
from ridelab.report.drawing import layered
from ridelab.report.markup import Column, Markup, Row, table, text
from ridelab.report.palette import light

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import altair as alt

_ALL = ("q01", "q05", "q25", "q50", "q75", "q95", "q99")
_CHART_PX = 210
#: How wide a place is drawn, as a share of its room: of a gear, and of a bin of speed.
_GEAR_SHARE, _BIN_SHARE = 0.5, 1.0
#: The scale never shows less than this either way, and most places whole.
_LEAST_PERCENT, _MOST = 1.0, 0.8
#: A tail this much longer than the other is worth a word.
_LOPSIDED = 1.3
#: Percent below which a trend is not worth the name: that of the gears' own intervals.
_NO_TREND = 0.1
#: Percent by which a tyre may grow from a slow roll to a fast one (common practice, no source).
_TYRE = 0.3
#: Percent off the gear from which one speed alone is worth a word.
_FAR_OFF = 0.5


def residuals_by_gear(residuals: pl.DataFrame) -> alt.LayerChart:
    """Show how the samples of each gear lie about it: median, and the middle 50, 90 and 98 of 100.

    Args:
        residuals: the result of the query ``residuals``, of one vehicle; not empty.
    """
    import altair as alt

    gears = residuals["gear"]
    rows = _worded(_rows(residuals), [f"gear {gear}" for gear in gears]).with_columns(gears)
    axis = gear_axis(gears.to_list())

    def place(share: float) -> dict[str, Any]:
        start = axis.copy()
        start["bandPosition"] = 0.5 - share * _GEAR_SHARE / 2
        return {"x": start, "x2": alt.X2("gear", bandPosition=0.5 + share * _GEAR_SHARE / 2)}

    return finished(_fans(rows, place), gear_sentence(residuals), _CHART_PX)


def residuals_by_speed(by_speed: pl.DataFrame, printer: Printer) -> alt.LayerChart:
    """Show the same against speed, all gears together.

    Args:
        by_speed: the result of the query ``residuals_by_speed``, of one vehicle; not empty.
        printer: of speeds.
    """
    import altair as alt

    scale, unit = printer.scale("speed"), printer.unit("speed")
    ends = by_speed.select(pl.col("from_mps", "to_mps") * scale)
    middle = (ends["from_mps"] + ends["to_mps"]) / 2
    rows = _worded(_rows(by_speed), [f"around {speed:.0f}{NO_BREAK}{unit}" for speed in middle])
    rows = rows.with_columns(start=ends["from_mps"].round(3), end=ends["to_mps"].round(3))
    axis = alt.X(
        "start:Q",
        scale=alt.Scale(zero=False, nice=False, padding=8),
        axis=alt.Axis(grid=False, tickCount=8, labelOverlap=True),
        title=f"speed, {unit}",
    )

    def place(_share: float) -> dict[str, Any]:
        return {"x": axis, "x2": alt.X2("end:Q")}

    return finished(_fans(rows, place), speed_sentence(by_speed, printer), _CHART_PX)


def _fans(rows: pl.DataFrame, place: Callable[[float], dict[str, Any]]) -> alt.LayerChart:
    """Return a solid block for the middle half, a faint one for nine tenths, and medians.

    ``place`` returns where a row stands across the chart, that share of its width.
    """
    import altair as alt

    scale = alt.Scale(domain=list(_ends(rows)), nice=False)
    axis = alt.Axis(tickCount=6, labelExpr="datum.value ? format(datum.value, '+~g') : '0'")
    base = alt.Chart(rows)

    def y(field: str) -> alt.Y:
        return alt.Y(f"{field}:Q", scale=scale, axis=axis, title="off the gear, %")

    def block(low: str, high: str, opacity: float) -> alt.Chart:
        drawn: alt.Chart = base.mark_rect(
            color=light("measured"), opacity=opacity, clip=True, aria=False
        ).encode(y(low), alt.Y2(f"{high}:Q"), **place(1.0))
        return drawn

    def edge(field: str, share: float) -> alt.Chart:
        line = base.mark_rule(color=light("measured"), strokeWidth=1.2, clip=True, aria=False)
        drawn: alt.Chart = line.encode(y(field), **place(share))
        return drawn

    zero = alt.Chart(pl.DataFrame({"zero": [0.0]})).mark_rule(color=light("quiet"), aria=False)
    outermost = [one for one in ("q01", "q99") if one in rows.columns]
    layers = [
        zero.encode(y("zero")),
        block("q05", "q95", 0.25),
        block("q25", "q75", 1.0),
        *(edge(one, 1.0) for one in ("q05", "q95")),
        *(edge(one, 0.4) for one in outermost),
        base.mark_rule(color=light("page"), strokeWidth=2, clip=True).encode(
            y("q50"), **place(1.0), **told()
        ),
    ]
    return layered(layers)


def _ends(rows: pl.DataFrame) -> tuple[float, float]:
    """Return ends within which nine tenths of most gears lie, and a thousandth looks like one."""
    tails = rows.select(-pl.col("q05"), pl.col("q95"))
    below, above = tails.select(pl.all().quantile(_MOST, "higher")).row(0)
    return -1.15 * max(below, _LEAST_PERCENT), 1.15 * max(above, _LEAST_PERCENT)


def _rows(quantiles: pl.DataFrame) -> pl.DataFrame:
    """Return the quantiles in percent of the development."""
    known = [one for one in _ALL if one in quantiles.columns]
    return quantiles.select((pl.col(one).exp() - 1).mul(100).round(3) for one in known)


def _worded(rows: pl.DataFrame, who: Sequence[str]) -> pl.DataFrame:
    words = [
        f"{one}: half within {_signed(row['q25'])} to {_signed(row['q75'])}{NO_BREAK}%, "
        f"nine tenths within {_signed(row['q05'])} to {_signed(row['q95'])}{NO_BREAK}%"
        for one, row in zip(who, rows.iter_rows(named=True), strict=True)
    ]
    return rows.with_columns(words=pl.Series(words))


def gear_sentence(residuals: pl.DataFrame) -> str:
    """Say how closely samples keep to their gears, beside how far the gears are apart."""
    shares = pl.col("samples") / residuals["samples"].sum()
    half, below, above = residuals.select(
        ((pl.col("q75") - pl.col("q25")) / 2 * shares).sum(),
        (-pl.col("q05") * shares).sum(),
        (pl.col("q95") * shares).sum(),
    ).row(0)
    said = f"Solid blocks: half of the samples in a gear lie within ±{_percent(half)} of it; faint"
    low, high = (_signed(100 * expm1(end)) for end in (-below, above))
    said += f" ones: nine tenths lie between {low} and {high}{NO_BREAK}%"
    if above > _LOPSIDED * below:
        said += ", the longer tail upwards, as soft pedalling reads"
    elif below > _LOPSIDED * above:
        said += ", the longer tail downwards, as while a shift is under way"
    said += "."
    steps = residuals["step_above"].drop_nulls()
    if len(steps):
        nearest = expm1(float(steps.to_list()[steps.arg_min() or 0]))
        said += f" The two gears nearest to each other are {_percent(nearest)} apart."
    return said + _cut_off(residuals)


def _cut_off(quantiles: pl.DataFrame) -> str:
    """Say that bars go on beyond the picture, where some do."""
    rows = _rows(quantiles)
    low, high = _ends(rows)
    first, last = rows.columns[0], rows.columns[-1]
    inside = ((rows[first] >= low) & (rows[last] <= high)).all()
    return "" if inside else " What ends at the edge of the picture goes on beyond it."


def speed_sentence(by_speed: pl.DataFrame, printer: Printer) -> str:
    """Say whether the spread widens, and whether the middle moves, from slow to fast."""
    third = max(len(by_speed) // 3, 1)
    slow, fast = by_speed.head(third), by_speed.tail(third)
    if len(by_speed) < 2:
        return "All samples lie at one speed, so that nothing can be said of others."
    wide = [_percent(_weighted(part, pl.col("q75") - pl.col("q25"))) for part in (slow, fast)]
    moved = 100 * expm1(_weighted(fast, pl.col("q50")) - _weighted(slow, pl.col("q50")))
    below, over = (
        printer.value("speed", float(part[end][0]), 2.0)
        for part, end in ((slow.tail(1), "to_mps"), (fast.head(1), "from_mps"))
    )
    said = f"Solid blocks, the middle half: {wide[0]} wide below {below}, {wide[1]} above {over}."
    return said + _trend(moved) + _furthest(by_speed, printer) + _cut_off(by_speed)


def _trend(moved_percent: float) -> str:
    if abs(moved_percent) < _NO_TREND:
        return " The middle does not move by a tenth of a percent between the two."
    said = f" The middle moves by {_signed(moved_percent)}{NO_BREAK}% from the one to the other"
    if moved_percent < 0:
        return f"{said}."
    return f"{said}, {'more' if moved_percent > _TYRE else 'no more'} than a tyre may grow."


def _furthest(by_speed: pl.DataFrame, printer: Printer) -> str:
    """Say where the middle lies furthest off, if that is far."""
    place = by_speed["q50"].abs().arg_max() or 0
    off = 100 * expm1(float(by_speed["q50"][place]))
    if abs(off) < _FAR_OFF:
        return ""
    speed = (float(by_speed["from_mps"][place]) + float(by_speed["to_mps"][place])) / 2
    where = printer.value("speed", speed, 2.0)
    return f" Around {where} it lies {_signed(off)}{NO_BREAK}% off."


def _weighted(part: pl.DataFrame, what: pl.Expr) -> float:
    return float(part.select((what * pl.col("samples")).sum() / pl.col("samples").sum()).item())


def _percent(share: float) -> str:
    return f"{100 * share:.2g}{NO_BREAK}%"


def _signed(percent: float) -> str:
    return number(percent, 2 if abs(percent) < 1 else 1, plus=True)


def gear_table(residuals: pl.DataFrame, caption: Markup) -> Markup:
    """Return the quantiles of each gear."""
    return _quantile_table("Gear", residuals["gear"].to_list(), residuals, caption)


def speed_table(by_speed: pl.DataFrame, printer: Printer, caption: Markup) -> Markup:
    """Return the quantiles of each speed."""
    scale = printer.scale("speed")
    spans = [
        f"{low * scale:.1f} to {high * scale:.1f}"
        for low, high in by_speed.select("from_mps", "to_mps").iter_rows()
    ]
    return _quantile_table(printer.headed("Speed", "speed"), spans, by_speed, caption)


def _quantile_table(
    head: str, firsts: Sequence[object], quantiles: pl.DataFrame, caption: Markup
) -> Markup:
    rows = _rows(quantiles)
    columns = [Column(head, "number"), Column("Samples", "number")]
    columns += [Column(f"{int(one[1:])} of 100 below, %", "number") for one in rows.columns]
    cells = (
        Row([text(first), text(seen), *(text(_signed(value)) for value in row)])
        for first, seen, row in zip(firsts, quantiles["samples"], rows.iter_rows(), strict=True)
    )
    return table(caption, columns, cells)
