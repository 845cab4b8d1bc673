"""What the charts share: axes, marks, keys, and the look."""

from __future__ import annotations

from functools import cache
from math import exp, log
from typing import TYPE_CHECKING, Any, TypeVar

import polars as pl

from ridelab.report.drawing import placed, with_properties
from ridelab.report.palette import light

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import altair as alt

    from ridelab.report.digits import Printer

    Chart = TypeVar("Chart", alt.Chart, alt.LayerChart)
    Axis = TypeVar("Axis", alt.X, alt.Y)

#: Symbols as outlines; the tick is upright and thin, as on a ruler.
SHAPES = {
    "tick": "M-0.13,-1.2h0.26v2.4h-0.26z",
    "disc": "circle",
    "diamond": "diamond",
    "cross": "cross",
    "block": "square",
    "frame": "M-1,-1h2v2h-2zM-0.6,-0.6v1.2h1.2v-1.2z",
    "ring": "M0,-1A1,1,0,1,1,0,1A1,1,0,1,1,0,-1ZM0,-0.5A0.5,0.5,0,1,0,0,0.5A0.5,0.5,0,1,0,0,-0.5Z",
    "gem": "M0,-1L0.8,0L0,1L-0.8,0ZM0,-0.5L-0.4,0L0,0.5L0.4,0Z",
    "dash": "M-1,-0.25h0.8v0.5h-0.8zM0.2,-0.25h0.8v0.5h-0.8z",
    "stroke": "M-1,-0.2h2v0.4h-2z",
}
# Marks of a scale, coarse ones first: the first set of which enough lie on the scale is used.
_MARKS = (
    (0.5, 0.7, 1, 1.5, 2, 3, 4, 5, 6, 7, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100),
    tuple(half / 2 for half in range(1, 201)),
    tuple(tenth / 10 for tenth in range(1, 1001)),
)
_ENOUGH_MARKS = 4
_MARGIN = 0.04  # of the scale, free at either end
_APART_PX = 4  # between two numbers below an axis
_LEAST_GAP = 0.05  # of the scale, between two gear numbers: on a phone closer ones would touch


def domain(values: Iterable[float | None]) -> tuple[float, float]:
    """Return the ends of a logarithmic scale that shows all values with some air around them."""
    logs = [log(value) for value in values if value is not None and value > 0]
    if not logs:
        return 1.0, 10.0
    air = max(_MARGIN * (max(logs) - min(logs)), 0.02)
    return exp(min(logs) - air), exp(max(logs) + air)


def development_axis(
    field: str, ends: tuple[float, float], printer: Printer, grid: bool = True
) -> alt.X:
    """Return a logarithmic axis of development; ``ends`` and the field are in the shown unit."""
    import altair as alt

    unit = printer.unit("development")
    return alt.X(
        f"{field}:Q",
        scale=alt.Scale(type="log", domain=list(ends), nice=False),
        axis=alt.Axis(values=_marks(ends), format="~g", labelOverlap=True, grid=grid),
        title=f"development, {unit} a crank turn (logarithmic)",
    )


def development_height(field: str, ends: tuple[float, float], printer: Printer) -> alt.Y:
    """Return the same scale standing upright; what lies beyond its ends is drawn on them."""
    import altair as alt

    return alt.Y(
        f"{field}:Q",
        scale=alt.Scale(type="log", domain=list(ends), nice=False, clamp=True),
        axis=alt.Axis(values=_marks(ends), format="~g", labelOverlap=True, grid=False),
        title=f"development, {printer.unit('development')} (logarithmic)",
    )


def columnar(rows: pl.DataFrame, by: Sequence[str] = ()) -> alt.Chart:
    """Return a chart of many rows whose data are written column by column, once for each ``by``.

    A row of its own for every point would repeat the names of the columns: three times the size.
    """
    import altair as alt

    listed = [name for name in rows.columns if name not in by]
    if by:
        packed = rows.group_by(by, maintain_order=True).agg(pl.col(listed))
    else:
        packed = rows.select(pl.all().implode())
    chart: alt.Chart = alt.Chart(packed).transform_flatten([*listed])
    return chart


def _marks(ends: tuple[float, float]) -> list[float]:
    shown: list[float] = []
    for marks in _MARKS:
        shown = [mark for mark in marks if ends[0] <= mark <= ends[1]]
        if len(shown) >= _ENOUGH_MARKS:
            break
    return shown


def gear_axis(gears: Sequence[int]) -> alt.X:
    """Return an axis that has a place for every gear, ridden or not."""
    import altair as alt

    return alt.X(
        "gear:O",
        scale=alt.Scale(type="band", domain=sorted(set(gears))),
        axis=alt.Axis(labelAngle=0, labelOverlap=True, labelSeparation=_APART_PX, grid=False),
        title="gear",
    )


def gear_numbers(marks: pl.DataFrame, x: alt.X, dy: int) -> alt.Chart:
    """Return the numbers of gears over their marks, those left out that would touch others."""
    import altair as alt

    chart: alt.Chart = (
        alt.Chart(marks.filter(marks["labelled"]))
        .mark_text(baseline="bottom", dy=dy, fontSize=12, color=light("ink"), aria=False)
        .encode(x, alt.Text("gear:N"), y=placed("Y", 0))
    )
    return chart


def key(field: str, entries: dict[str, tuple[str, str]], columns: int = 3) -> dict[str, Any]:
    """Return colour and shape channels with one key: ``entries`` is word -> (role, shape).

    ``columns``: of the key; two long words side by side are as much as a phone is wide.
    """
    import altair as alt

    words = list(entries)
    colours = [light(role) for role, _ in entries.values()]
    shapes = [SHAPES[shape] for _, shape in entries.values()]
    legend = alt.Legend(title=None, orient="top", columns=columns, symbolSize=70, labelLimit=0)
    return {
        "color": alt.Color(
            f"{field}:N", scale=alt.Scale(domain=words, range=colours), legend=legend
        ),
        "shape": alt.Shape(
            f"{field}:N", scale=alt.Scale(domain=words, range=shapes), legend=legend
        ),
    }


def legend_only(look: dict[str, Any]) -> alt.Chart:
    """Return marks that are nowhere, so that a key has shapes where no layer has such marks."""
    import altair as alt

    nothing = pl.DataFrame(schema={look["color"]["shorthand"].partition(":")[0]: pl.String})
    points = alt.Chart(nothing).mark_point(filled=True, opacity=1, aria=False)
    chart: alt.Chart = points.encode(**look)
    return chart


def with_marks(*layers: alt.Chart) -> list[alt.Chart]:
    """Return the layers that have data: one without would be announced as a picture of nothing."""
    return [layer for layer in layers if len(layer.data)]


def showing(channel: Axis, field: str) -> Axis:
    """Return the same axis for another field."""
    other: Axis = channel.copy()
    other["shorthand"] = f"{field}:Q"
    return other


def told() -> dict[str, Any]:
    """Return the channels that say a mark's ``words``: tooltip and text alternative."""
    import altair as alt

    return {
        "tooltip": alt.Tooltip("words:N", title=" "),
        "description": alt.Description("words:N"),
    }


def spaced(positions: Sequence[float]) -> list[int]:
    """Return the places, in ascending logarithmic positions, whose labels would not touch."""
    logs = [log(position) for position in positions]
    least = _LEAST_GAP * (logs[-1] - logs[0]) if logs else 0.0
    kept: list[int] = []
    for place, value in enumerate(logs):
        if not kept or value - logs[kept[-1]] >= least:
            kept.append(place)
    return kept


def finished(chart: Chart, description: str, height_px: int) -> Chart:
    """Give a chart its size, its text alternative, and the look of all charts here.

    As wide as the box it stands in; nothing painted behind it, so that it suits any page.
    """
    import altair as alt

    return with_properties(
        chart,
        width="container",
        height=height_px,
        description=description,
        autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
        config=look(),
    )


@cache
def look() -> dict[str, Any]:
    """Return the look of all charts here, as the ``config`` of a specification."""
    import altair as alt

    ink, quiet, line = light("ink"), light("quiet"), light("line")
    config = alt.Config(
        background="transparent",
        font="system-ui, sans-serif",
        view=alt.ViewConfig(stroke=None),
        axis=alt.AxisConfig(
            labelColor=ink,
            titleColor=quiet,
            titleFontWeight="normal",
            titleFontSize=12,
            labelFontSize=12,
            gridColor=line,
            domainColor=quiet,
            tickColor=quiet,
        ),
        title=alt.TitleConfig(color=ink, subtitleColor=quiet, fontSize=15, subtitleFontSize=12),
        legend=alt.LegendConfig(labelColor=ink, labelFontSize=12, symbolStrokeWidth=0),
    )
    return dict(config.to_dict())
