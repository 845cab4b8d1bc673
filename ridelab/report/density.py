"""How developments cluster: the time at each, below the gears as published and as measured."""

from __future__ import annotations

from itertools import pairwise
from math import log
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.report.chart_parts import (
    columnar,
    development_axis,
    domain,
    finished,
    gear_numbers,
    key,
    legend_only,
    showing,
    told,
)
from ridelab.report.chart_rows import NOT_RIDDEN, gear_marks, ladder_rows
from ridelab.report.charts import LANES
from ridelab.report.digits import Printer, percent
from ridelab.report.drawing import layered, placed
from ridelab.report.markup import Column, Markup, Row, table, text
from ridelab.report.palette import light

if TYPE_CHECKING:
    import altair as alt

    from ridelab.units import UnitSystem

_DRIVING, _ALL = "crank drives the wheel", "all riding"
#: The chart's height, how much of it is kept free for gears, and where their lanes stand.
_DENSITY_PX, _LANES_PX, _LANE_PX = 230, 44, {"published": 9, "measured": 26}
_LANE_SIZE = {"published": 80, "measured": 50}
#: Gears run into each other where midway more than this is left of the lower of their peaks.
_APART = 1 / 3
#: How far from a gear its peak may stand, in ln(development).
_PEAK = 0.0075
_SECOND = 1.0
_NO_DRIVE = (
    " What is outlined but not filled is riding without drive: it lies to the right of the gear"
    " that is engaged."
)
_BROKEN = " Broken lines are published gears that were not ridden long enough."
_STEPLESS = (
    "Time at each development. A stepless drivetrain shows no peaks that every ride shares, only a"
    " spread between its ends."
)


def development_density(
    developments: pl.DataFrame, ladder: pl.DataFrame, units: UnitSystem = "metric"
) -> alt.LayerChart:
    """Show how long each development of one vehicle was ridden, below its gears.

    Time stands on a scale of square roots, so that a gear ridden for a minute shows beside one
    ridden for an hour. Above it, each gear as published and as measured, with its 95 % interval
    where that is wide enough to see.
    """
    import altair as alt

    printer = Printer(units)
    rows = _rows(developments, printer)
    rungs, marks = ladder_rows(ladder, printer), gear_marks(ladder, printer)
    ends = domain([*rows["x"], *rungs["x"]])
    drawn = {lane: LANES[lane] for lane in LANES if lane in set(rungs["lane"])}
    look = key("kind", {_DRIVING: ("measured", "block"), _ALL: ("idle", "frame")} | drawn, 2)
    x, colour = development_axis("x", ends, printer, grid=False), look["color"]
    free_px = _LANES_PX if drawn else 0
    height = alt.Y(
        "seconds:Q",
        title="seconds (square roots)",
        stack=None,
        scale=alt.Scale(type="sqrt", range=[_DENSITY_PX, free_px]),
        axis=alt.Axis(tickCount=4, labelOverlap=True),
    )
    kinds = columnar(rows).transform_fold([_DRIVING, _ALL], as_=["kind", "seconds"])
    density = kinds.encode(x, height, colour)
    driving, everything = (
        density.transform_filter(alt.datum.kind == kind) for kind in (_DRIVING, _ALL)
    )
    layers = [
        legend_only(look),
        _guides(marks, x),
        everything.mark_line(interpolate="step", strokeWidth=1.2, aria=False),
        driving.mark_area(interpolate="step", fillOpacity=1, line=False, aria=False),
        *(_lane(rungs, lane, x, look) for lane in drawn),
        gear_numbers(marks, x, dy=-1),
    ]
    words = "Time ridden at each development, with the gears as published and as measured."
    return finished(layered(layers), words, _DENSITY_PX)


def _guides(marks: pl.DataFrame, x: alt.X) -> alt.Chart:
    """Return the gears' lines behind the density: full where measured, else broken."""
    import altair as alt

    dashes = alt.Scale(domain=["measured", NOT_RIDDEN], range=[[1, 0], [3, 4]])
    chart: alt.Chart = (
        alt.Chart(marks)
        .mark_rule(color=light("quiet"), strokeWidth=0.8, aria=False)
        .encode(
            x,
            y=placed("Y", _LANES_PX - 10),
            y2=placed("Y2", _DENSITY_PX),
            strokeDash=alt.StrokeDash("kind:N", scale=dashes, legend=None),
        )
    )
    return chart


def _lane(rungs: pl.DataFrame, lane: str, x: alt.X, look: dict[str, Any]) -> alt.LayerChart:
    """Return the gears of one lane above the density, their intervals as bars through them."""
    import altair as alt

    own = rungs.filter(pl.col("lane") == lane).rename({"lane": "kind"})
    at = placed("Y", _LANE_PX[lane])
    points = alt.Chart(own).mark_point(filled=True, opacity=1, size=_LANE_SIZE[lane])
    bars = alt.Chart(own.filter(pl.col("low") < pl.col("high"))).mark_rule(
        strokeWidth=3, aria=False
    )
    return layered(
        [
            bars.encode(showing(x, "low"), alt.X2("high:Q"), look["color"], y=at),
            points.encode(x, **look, **told(), y=at),
        ]
    )


def _rows(developments: pl.DataFrame, printer: Printer) -> pl.DataFrame:
    """Return a row for each bin: its middle, and the seconds of each kind of riding in it."""
    middle = (pl.col("from_m") * pl.col("to_m")).sqrt() * printer.scale("development")
    driving = pl.col("driving_s").cast(pl.Float64)
    seconds = {_DRIVING: driving, _ALL: driving + pl.col("other_s").cast(pl.Float64)}
    whole = {kind: time.round().cast(pl.Int64) for kind, time in seconds.items()}
    return developments.select(x=middle.round(3), **whole)


def sentence(developments: pl.DataFrame, ladder: pl.DataFrame, stepless: bool) -> str:
    """Say whether the gears stand apart, and what the picture leaves out."""
    missing = ladder.filter(pl.col("development_m").is_null()).height > 0
    said = _STEPLESS if stepless else _apart(developments, ladder) + _NO_DRIVE
    return said + (_BROKEN if missing and not stepless else "") + _outside(developments)


def _apart(developments: pl.DataFrame, ladder: pl.DataFrame) -> str:
    """Say how deep the time falls between neighbours, and which of them run into each other."""
    gears = ladder.filter(pl.col("development_m").is_not_null()).sort("development_m")
    if len(gears) < 2:
        return "Time at each development. A gear shows as a narrow peak."
    heights = [log(metres) for metres in gears["development_m"]]
    numbers = gears["gear"].to_list()
    left = [_left(developments, *pair) for pair in pairwise(heights)]
    close = [place for place, share in enumerate(left) if share > _APART]
    if not close:
        said = f"{'Both' if len(gears) == 2 else f'All {len(gears)}'} gears stand apart: midway"
        return f"{said} between neighbours {percent(max(left))} of the lower peak is left, or less."
    pairs = ", ".join(f"{numbers[place]} and {numbers[place + 1]}" for place in close)
    worst = percent(max(left))
    if len(close) == len(left):
        return f"No gear stands apart from its neighbours: up to {worst} of the lower peak is left."
    said = f"Gears {pairs} run into each other: midway up to {worst} of the lower peak is left."
    rest = percent(max(share for share in left if share <= _APART))
    return f"{said} The others stand apart, with {rest} or less."


def _left(developments: pl.DataFrame, low: float, high: float) -> float:
    """Return the driving time in the middle third between two gears, over the lower peak."""
    middle = ((pl.col("from_m") * pl.col("to_m")).log() / 2).alias("at")
    bins = developments.select(middle, pl.col("driving_s").cast(pl.Float64))

    def peak(gear: float) -> float:
        near = bins.filter((pl.col("at") - gear).abs() < _PEAK)["driving_s"]
        return float(near.to_numpy().max(initial=0.0))

    reach = max((high - low) / 6, _PEAK / 2)
    between = bins.filter((pl.col("at") - (low + high) / 2).abs() < reach)["driving_s"]
    lower = min(peak(low), peak(high))
    return min(float(between.sum()) / len(between) / lower, 1.0) if lower and len(between) else 1.0


def _outside(developments: pl.DataFrame) -> str:
    """Say how much of the driving time the chart leaves out, if it leaves out any."""
    total = float(developments["driving_total_s"][0])
    shown = float(developments["driving_s"].sum())
    if total - shown < _SECOND:
        return ""
    return f" Of the driving time {percent(1 - shown / total)} lies outside this picture."


def density_table(developments: pl.DataFrame, printer: Printer, caption: Markup) -> Markup:
    """Return the figures behind the density by 1 %, two bins a row, without those never ridden."""
    pairs = developments.group_by(pl.int_range(pl.len()) // 2, maintain_order=True).agg(
        pl.col("from_m").first(), pl.col("to_m").last(), pl.col("driving_s", "other_s").sum()
    )
    ridden = pairs.filter(pl.col("driving_s") + pl.col("other_s") > 0)
    head = printer.headed("Development", "development")
    columns = [Column(head), Column("Driving, s", "number"), Column("Other, s", "number")]
    scale = printer.scale("development")
    rows = (
        Row(
            (
                text(f"{row['from_m'] * scale:.3f} to {row['to_m'] * scale:.3f}"),
                text(f"{row['driving_s']:.0f}"),
                text(f"{row['other_s']:.0f}"),
            )
        )
        for row in ridden.iter_rows(named=True)
    )
    return table(caption, columns, rows)
