"""Speed against cadence: where riding took place, with each gear as a ray through it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.report.chart_parts import (
    columnar,
    finished,
    key,
    legend_only,
    showing,
    told,
    with_marks,
)
from ridelab.report.chart_rows import NOT_RIDDEN, gear_marks
from ridelab.report.digits import Printer, percent
from ridelab.report.drawing import layered
from ridelab.report.markup import Column, Markup, Row, table, text
from ridelab.report.palette import light

if TYPE_CHECKING:
    import altair as alt

_CHART_PX = 330
_DRIVING, _OTHER = "crank drives the wheel", "it does not, or not surely"
#: Two numbers of gears at the ends of their rays are nearer than this share of the scale: one goes.
_LEAST_GAP = 0.045
#: Rows of the table: cells of 10 rpm.
_COARSE_RPM = 10


def rays(cells: pl.DataFrame, ladder: pl.DataFrame, printer: Printer) -> alt.LayerChart:
    """Show how long each cadence was ridden at each speed; a gear is a straight line through 0.

    Args:
        cells: the result of the query ``rays``, of one vehicle; not empty.
        ladder: of the same vehicle; may be empty.
        printer: of speeds.
    """
    import altair as alt

    scale = printer.scale("speed")
    ends = (cells["from_rpm"].min(), cells["to_rpm"].max(), cells["to_mps"].max())
    low, high, fastest_mps = (float(str(end)) for end in ends)
    fastest = fastest_mps * scale
    x = alt.X(
        "rpm:Q",
        scale=alt.Scale(domain=[low, high], nice=False),
        axis=alt.Axis(grid=False, tickCount=8, labelOverlap=True),
        title="cadence, rpm",
    )
    y = alt.Y(
        "speed:Q",
        scale=alt.Scale(domain=[0, fastest], nice=False),
        axis=alt.Axis(grid=False, tickCount=6),
        title=f"speed, {printer.unit('speed')}",
    )
    look = key("kind", {_DRIVING: ("measured", "block"), _OTHER: ("idle", "frame")}, columns=1)
    often = alt.Opacity("seconds:Q", scale=alt.Scale(type="sqrt", range=[0.15, 1.0]), legend=None)
    lines = _lines(ladder, printer, low, high, fastest)
    packed = _packed(cells, scale)
    driving = packed.transform_filter(alt.datum.kind == _DRIVING)
    other = packed.transform_filter(alt.datum.kind == _OTHER)
    layers = [
        legend_only(look),
        other.mark_point(filled=True, size=14, clip=True, aria=False).encode(
            x, y, opacity=often, **look
        ),
        driving.mark_rect(clip=True, aria=False).encode(
            showing(x, "rpm_from"),
            showing(y, "speed_from"),
            alt.X2("rpm_to:Q"),
            alt.Y2("speed_to:Q"),
            look["color"],
            opacity=often,
        ),
        *_drawn(lines, x, y),
    ]
    words = "Time ridden at each cadence and speed, with the gears as rays."
    return finished(layered(layers), words, _CHART_PX)


def sentence(cells: pl.DataFrame, ladder: pl.DataFrame, stepless: bool) -> str:
    """Say what to see: rays, what lies off them, and what is left out."""
    driving = float(cells["driving_s"].sum())
    share = percent(driving / (driving + float(cells["other_s"].sum())))
    if stepless:
        said = "A stepless drivetrain fills the plane between its shortest and its longest ratio"
    elif ladder.is_empty():
        said = "Each gear would be a straight line through the origin; no gear could be named"
    else:
        said = (
            "Each gear is a straight line through the origin: riding in it moves along its ray, a "
            "shift jumps to another"
        )
    off = "above the ray of the gear that is engaged lies what coasts or pedals softly"
    rest = "" if stepless or ladder.is_empty() else f"; {off}"
    left = f" Single seconds far out, {percent(1 - float(cells['shown_share'][0]))}, are left out."
    return f"{said}{rest}. The crank drives the wheel in {share} of what is drawn.{left}"


def rays_table(cells: pl.DataFrame, printer: Printer, caption: Markup) -> Markup:
    """Return seconds and the span of speeds by 10 rpm."""
    scale = printer.scale("speed")
    coarse = (
        cells.with_columns(rpm=(pl.col("from_rpm") // _COARSE_RPM * _COARSE_RPM).cast(pl.Int64))
        .group_by("rpm")
        .agg(
            pl.col("driving_s", "other_s").sum(),
            low=pl.col("from_mps").min() * scale,
            high=pl.col("to_mps").max() * scale,
        )
        .sort("rpm")
    )
    columns = [
        Column("Cadence, rpm"),
        Column("Driving, s", "number"),
        Column("Other, s", "number"),
        Column(printer.headed("Speeds", "speed"), "number"),
    ]
    rows = (
        Row(
            [
                text(f"{row['rpm']} to {row['rpm'] + _COARSE_RPM}"),
                text(f"{row['driving_s']:.0f}"),
                text(f"{row['other_s']:.0f}"),
                text(f"{row['low']:.0f} to {row['high']:.0f}"),
            ]
        )
        for row in coarse.iter_rows(named=True)
    )
    return table(caption, columns, rows)


def _packed(cells: pl.DataFrame, scale: float) -> alt.Chart:
    """Return the cells: what each was ridden as for the longer time, and how long in all.

    Where a cell lies is written as its number along each scale; the chart works out the rest.
    """
    first = cells.row(0, named=True)
    wide_rpm, high = first["to_rpm"] - first["from_rpm"], first["to_mps"] - first["from_mps"]
    drives = pl.col("driving_s") >= pl.col("other_s")
    rows = cells.select(
        kind=pl.when(drives).then(pl.lit(_DRIVING)).otherwise(pl.lit(_OTHER)),
        column=(pl.col("from_rpm") / wide_rpm).round().cast(pl.Int32),
        row=(pl.col("from_mps") / high).round().cast(pl.Int32),
        seconds=(pl.col("driving_s") + pl.col("other_s")).round().cast(pl.Int64),
    ).sort("kind")
    spots = {"from": 0.0, "to": 1.0}
    places = {f"rpm_{end}": f"{wide_rpm} * (datum.column + {by})" for end, by in spots.items()}
    places |= {f"speed_{end}": f"{high * scale} * (datum.row + {by})" for end, by in spots.items()}
    middles = {name: f"(datum.{name}_from + datum.{name}_to) / 2" for name in ("rpm", "speed")}
    chart: alt.Chart = columnar(rows, by=("kind",)).transform_calculate(**places, **middles)
    return chart


def _lines(
    ladder: pl.DataFrame, printer: Printer, low: float, high: float, fastest: float
) -> pl.DataFrame:
    """Return where each gear's ray enters and leaves the picture, and whether it is numbered."""
    per_metre = printer.scale("speed") / printer.scale("development") / 60
    marks = gear_marks(ladder, printer)
    slope = pl.col("x") * per_metre
    end = pl.min_horizontal(pl.lit(high), fastest / slope)
    lines = marks.with_columns(
        rpm=pl.lit(low), speed=slope * low, rpm_end=end, speed_end=slope * end
    ).filter(pl.col("rpm_end") > low)
    # Along the right edge from below, then along the upper edge from the right.
    along = (lines["speed_end"] / fastest - (lines["rpm_end"] - high) / (high - low)).to_list()
    shown, last = [], float("-inf")
    for place in along:
        shown.append(place - last >= _LEAST_GAP)
        last = place if shown[-1] else last
    return lines.with_columns(labelled=pl.Series(shown, dtype=pl.Boolean))


def _drawn(lines: pl.DataFrame, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    import altair as alt

    dashes = alt.Scale(domain=["measured", NOT_RIDDEN], range=[[1, 0], [3, 4]])
    ray = (
        alt.Chart(lines)
        .mark_rule(color=light("ink"), strokeWidth=0.9, opacity=0.75)
        .encode(
            x,
            y,
            alt.X2("rpm_end:Q"),
            alt.Y2("speed_end:Q"),
            strokeDash=alt.StrokeDash("kind:N", scale=dashes, legend=None),
            **told(),
        )
    )
    number = (
        alt.Chart(lines.filter(pl.col("labelled")))
        .mark_text(align="left", baseline="bottom", dx=3, fontSize=12, color=light("ink"))
        .encode(showing(x, "rpm_end"), showing(y, "speed_end"), alt.Text("gear:N"))
    )
    return with_marks(ray, number)
