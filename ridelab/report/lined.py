"""Charts of lines in blocks: a heading, and below it one line a name, many blocks in one picture.

A line is known as "0|name", its block first, so that a name may stand in each of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.report.drawing import placed
from ridelab.report.palette import light

if TYPE_CHECKING:
    from collections.abc import Sequence

    import altair as alt

#: How far apart lines are, and how wide the names at their left may be.
ROW_PX, NAME_PX = 21, 120
#: Room for names at least, into which headings reach: a phone has none to spare.
_LEAST_PX = 64


def line(block: int, name: str) -> str:
    """Return what a line is known by; without a name, the heading of a block."""
    return f"{block}|{name}"


def lined(lines: Sequence[str]) -> alt.Y:
    """Return an axis of these lines, from above, that shows their names."""
    import altair as alt

    return alt.Y(
        "line:N",
        sort=None,
        scale=alt.Scale(domain=list(lines)),
        title=None,
        axis=alt.Axis(
            ticks=False,
            domain=False,
            grid=False,
            labelLimit=NAME_PX,
            minExtent=_LEAST_PX,
            labelExpr="slice(datum.label, indexof(datum.label, '|') + 1)",
        ),
    )


def on_lines() -> alt.Y:
    """Return the axis for all layers but one, which says what it is like: it need not stand twice.

    Layers share their scale, and of two the one that is stated in full is taken.
    """
    import altair as alt

    return alt.Y("line:N", sort=None, title=None)


def headed(headings: Sequence[str], y: alt.Y) -> alt.Chart:
    """Return the headings of all blocks, each over its lines."""
    import altair as alt

    text: dict[str, Any] = {"align": "left", "dx": -_LEAST_PX, "dy": 3, "aria": False}
    rows = [{"line": line(block, ""), "heading": one} for block, one in enumerate(headings)]
    chart: alt.Chart = (
        alt.Chart(pl.DataFrame(rows))
        .mark_text(fontSize=12, color=light("ink"), fontWeight=600, **text)
        .encode(placed("X", 0), y, alt.Text("heading:N"))
    )
    return chart
