"""Frames -> charts. Each answers one question and stands alone, in a notebook as on the page.

The frames are the results of the queries in ``sql/report`` of the same names. Nothing is told by
colour alone: what differs in colour differs in shape or place too.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.report.chart_parts import (
    development_axis,
    domain,
    finished,
    gear_axis,
    gear_numbers,
    key,
    told,
    with_marks,
)
from ridelab.report.chart_rows import (
    NOT_RIDDEN,
    deviation_rows,
    gear_marks,
    ladder_rows,
    ladder_spans,
    use_rows,
)
from ridelab.report.digits import Printer
from ridelab.report.drawing import layered, placed
from ridelab.report.markup import chart_name
from ridelab.report.palette import light

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import altair as alt

    from ridelab.units import UnitSystem

LANES = {"published": ("published", "tick"), "measured": ("measured", "disc")}
_FITS = {
    "as published": ("measured", "disc"),
    "departs": ("departs", "diamond"),
    NOT_RIDDEN: ("idle", "cross"),
}
#: The scale of departures is never finer than this: a thousandth should look like one.
_LEAST_DEVIATION_PERCENT = 1.0
_ROW_PX, _CHART_PX, _LOW_CHART_PX = 46, 190, 110


def ladder_strips(
    ladder: pl.DataFrame,
    stepless: pl.DataFrame | None = None,
    units: UnitSystem = "metric",
    order: Sequence[str] = (),
) -> alt.LayerChart:
    """Show ladders on one logarithmic scale of development, where equal steps look equal.

    Args:
        ladder: of any number of vehicles; published gears stand above, measured ones below.
        stepless: vehicle, low_m, high_m of those without gears, each drawn as a bar.
        units: of the scale.
        order: the vehicles from top to bottom; those not named come last, as they are found.
    """
    import altair as alt

    printer = Printer(units)
    rows = ladder_rows(ladder, printer)
    spans = ladder_spans(rows, stepless, printer)
    names = _in_order(spans["vehicle"], order)
    ends = domain([*spans["low"], *spans["high"]])
    labels = alt.Axis(labelLimit=100, ticks=False, domain=False, labels=len(names) > 1, grid=False)
    y = alt.Y("vehicle:N", sort=names, title=None, axis=labels)
    lane = alt.YOffset("lane:N", scale=alt.Scale(domain=list(LANES)))
    drawn = set(rows["lane"])
    look = key("lane", {word: sign for word, sign in LANES.items() if word in drawn} or LANES)
    lines = (
        alt.Chart(spans)
        .mark_rule(aria=False)
        .encode(
            development_axis("low", ends, printer),
            alt.X2("high:Q"),
            y,
            lane,
            look["color"],
            size=alt.Size("thickness:Q", scale=None, legend=None),
        )
    )
    marks = (
        alt.Chart(rows)
        .mark_point(filled=True, opacity=1, size=80)
        .encode(development_axis("x", ends, printer), y, lane, **look, **told())
    )
    layers = [lines, marks]
    if len(names) == 1:
        x = development_axis("x", ends, printer)
        layers.append(gear_numbers(gear_marks(ladder, printer), x, dy=4))
    listed = ", ".join(names)
    words = f"Ladder of {listed}: developments as published, above, and as measured, below."
    return finished(layered(layers), words, _ROW_PX * max(len(names), 1) + 10)


def _in_order(found: Iterable[str], order: Sequence[str]) -> list[str]:
    drawn = dict.fromkeys(found)
    first = [chart_name(vehicle) for vehicle in order]
    return list(dict.fromkeys([one for one in (*first, *drawn) if one in drawn]))


def deviations(ladder: pl.DataFrame, units: UnitSystem = "metric") -> alt.LayerChart:
    """Show how far each measured ratio of one vehicle lies from the published one.

    A gear departs if the 95 % interval of its ratio stays clear of the published ratio by more than
    that may be rounded.
    """
    import altair as alt

    rows = deviation_rows(ladder, Printer(units))
    ridden = rows.filter(pl.col("deviation").is_not_null())
    widest = ridden.select(pl.max_horizontal(pl.col("low", "high").abs())).to_series().max()
    limit = max(float(str(widest or 0)), _LEAST_DEVIATION_PERCENT) * 1.15
    scale = alt.Scale(domain=[-limit, limit], nice=False)
    axis = alt.Axis(tickCount=5, labelExpr="datum.value ? format(datum.value, '+~g') : '0'")
    title = "measured over published, %"
    found = set(rows["fit"])
    look = key("fit", {fit: sign for fit, sign in _FITS.items() if fit in found}, columns=2)
    x = gear_axis(ladder["gear"].to_list())
    zero = (
        alt.Chart(pl.DataFrame({"zero": [0.0]}))
        .mark_rule(color=light("published"), strokeWidth=2, aria=False)
        .encode(alt.Y("zero:Q", scale=scale, axis=axis, title=title))
    )
    bars = (
        alt.Chart(ridden)
        .mark_rule(strokeWidth=2.5, aria=False)
        .encode(
            x,
            alt.Y("low:Q", scale=scale, axis=axis, title=title),
            alt.Y2("high:Q"),
            look["color"],
        )
    )
    points = (
        alt.Chart(ridden)
        .mark_point(filled=True, opacity=1, size=90)
        .encode(x, alt.Y("deviation:Q", scale=scale, axis=axis, title=title), **look, **told())
    )
    missing = (
        alt.Chart(rows.filter(pl.col("deviation").is_null()))
        .mark_point(filled=True, opacity=1, size=60, angle=45)
        .encode(x, y=placed("Y", _CHART_PX - 8), **look, **told())
    )
    words = "Departure of each measured ratio from the published one, with 95 % intervals."
    layers = [zero, *with_marks(bars, points, missing)]
    return finished(layered(layers), words, _CHART_PX)


def time_in_gear(ladder: pl.DataFrame, units: UnitSystem = "metric") -> alt.Chart:
    """Show how long each gear of one vehicle was engaged with the crank driving the wheel."""
    import altair as alt

    chart: alt.Chart = (
        alt.Chart(use_rows(ladder, Printer(units)))
        .mark_bar(color=light("measured"), width=alt.RelativeBandSize(0.6))
        .encode(
            gear_axis(ladder["gear"].to_list()),
            alt.Y("minutes:Q", title="minutes", axis=alt.Axis(tickCount=4)),
            **told(),
        )
    )
    return finished(chart, "Time in each gear.", _LOW_CHART_PX)
