"""A chart in the page: its place, its specification as inert data, and what to see in it."""

from __future__ import annotations

import json
from functools import cache
from typing import TYPE_CHECKING, Any

from ridelab.report.chart_parts import finished
from ridelab.report.drawing import specified
from ridelab.report.markup import NOTHING, Markup, folded, heading, here, join, tag, text

if TYPE_CHECKING:
    from collections.abc import Iterable

    import altair as alt

    from ridelab.report.exhibit import Exhibit

# U+2028 and U+2029 end a line in older scripts; "<" could end the element that holds the data.
_ESCAPES = {ord("<"): "\\u003c", 0x2028: "\\u2028", 0x2029: "\\u2029"}


def exhibited(exhibits: Iterable[Exhibit], *, headed: bool = False) -> Markup:
    """Return exhibits one below the other, each with the table of its figures and a link to it.

    ``headed``: each below a heading of the fourth level.
    """
    return join(_exhibited(one, headed) for one in exhibits)


def _exhibited(exhibit: Exhibit, headed: bool) -> Markup:
    said = text(exhibit.said)
    if headed:
        head = heading("h4", text(exhibit.title), exhibit.id, exhibit.heading)
    else:
        head, said = NOTHING, join([said, here(exhibit.id, exhibit.heading)], " ")
    rows = figures_behind(exhibit.table) if exhibit.table else NOTHING
    return join([head, figure(exhibit.chart, said, id=exhibit.id), rows])


def figure(
    chart: alt.Chart | alt.LayerChart,
    *caption: Markup,
    id: str | None = None,  # noqa: A002 - as the attribute is called
) -> Markup:
    """Return a figure; the page's script draws the chart from the data beside it."""
    return tag(
        "figure",
        tag("div", class_="chart"),
        tag("script", inert(chart), type="application/json"),
        tag("figcaption", *caption),
        id=id,
    )


def figures_behind(rows: Markup) -> Markup:
    """Return the table of a chart's figures, folded away below it."""
    return folded(text("Figures behind this chart"), rows, class_="behind")


def inert(chart: alt.Chart | alt.LayerChart) -> Markup:
    """Return a chart's specification as JSON that cannot end or escape its script element.

    The look that all charts share is left out: it stands in the page's script once.
    """
    spec = specified(chart)
    if spec.get("config") == _shared_look():
        del spec["config"]
    return _written(spec)


def shared_look() -> Markup:
    """Return the look of all charts as JSON, written likewise."""
    return _written(_shared_look())


@cache
def _shared_look() -> dict[str, Any]:
    """Return that look as it is in each chart: with what altair adds to it."""
    import altair as alt
    import polars as pl

    chart = finished(alt.Chart(pl.DataFrame({"x": [0]})).mark_point(), "", 1)
    return dict(chart.to_dict()["config"])


def _written(spec: dict[str, Any]) -> Markup:
    written = json.dumps(spec, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return Markup(written.translate(_ESCAPES))
