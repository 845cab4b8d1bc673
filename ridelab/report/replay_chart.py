"""All candidates of a replay in one picture, each beside the drivetrain that was ridden."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.report.chart_parts import finished, key, showing, told, with_marks
from ridelab.report.drawing import layered, placed
from ridelab.report.lined import ROW_PX, headed, line, lined, on_lines
from ridelab.report.palette import light
from ridelab.report.replay_rows import ALONE, AS_RIDDEN, BASE, MARKS, OPEN, SHOWN

if TYPE_CHECKING:
    from collections.abc import Sequence

    import altair as alt

    from ridelab.report.replay_rows import Group

#: Marks take so much of the width; their values stand behind them.
_MARKS_SHARE = 0.76
_LOOK = {
    BASE: ("published", "diamond"),
    AS_RIDDEN: ("ink", "tick"),
    SHOWN: ("measured", "disc"),
    OPEN: ("quiet", "ring"),
}
#: Width and dashes of the interval of each: what is shown is told by shape, too.
_BARS = {BASE: (1.5, [1, 0]), SHOWN: (4, [1, 0]), OPEN: (3, [4, 2])}
SENTENCE = (
    "The upright line is the ridden drivetrain, shifted in the same way, and the bar of a "
    "candidate the 95 % interval over rides of how far it lies from that: less is to the left, and "
    "a bar across the line, a broken one, says that these rides cannot tell. The thin bar is how "
    "far rides leave the ridden drivetrain itself open. Each figure has a scale of its own, from 0."
)
ONE_RIDE = (
    "The upright line is the ridden drivetrain, shifted in the same way; less is to the left. One "
    "ride gives no interval: what differs may be this ride's alone."
)
NO_BASE = (
    "Less is to the left; bars are 95 % intervals over rides. What the ridden ladder is nobody "
    "knows, so there is nothing to hold the candidates against."
)


def replay_chart(groups: Sequence[Group]) -> alt.LayerChart:
    """Show each figure as a block of lines, one a drivetrain, on a scale of its own from 0.

    Args:
        groups: of ``replay_rows.groups``, the ridden drivetrain first in each; not empty.
    """
    import altair as alt

    rows, lines = _rows(groups)
    y = on_lines()

    def x(field: str) -> alt.X:
        return alt.X(
            f"{field}:Q", scale=alt.Scale(domain=[0, 1 / _MARKS_SHARE], nice=False), axis=None
        )

    compared = rows.filter(pl.col("kind") != ALONE)
    alone = rows.filter(pl.col("kind") == ALONE)
    look = key("kind", {one: sign for one, sign in _LOOK.items() if one in set(rows["kind"])}, 2)
    layers = [
        headed([group.heading for group in groups], lined(lines)),
        *_grounds(rows, x("zero"), y),
        *_bars(compared, x("low"), y, look),
        *_amounts(alone, x("at"), y),
        *with_marks(
            alt.Chart(compared.select("line", "kind", "at", "words"))
            .mark_point(filled=True, opacity=1, size=80)
            .encode(x("at"), y, **look, **told())
        ),
    ]
    words = "Each figure of all drivetrains, the ridden one first, on a scale of its own."
    return finished(layered(layers), words, ROW_PX * len(lines) + 6)


def _rows(groups: Sequence[Group]) -> tuple[pl.DataFrame, list[str]]:
    """Return all marks, and all lines in their order."""
    marks: list[dict[str, Any]] = []
    lines: list[str] = []
    for block, group in enumerate(groups):
        own = [mark | {"line": line(block, mark["line"])} for mark in group.marks]
        lines += [line(block, ""), *dict.fromkeys(mark["line"] for mark in own)]
        marks += own
    return pl.DataFrame(marks, schema=MARKS), lines


def _grounds(rows: pl.DataFrame, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Return the zero of each line, and the values behind the marks."""
    import altair as alt

    zero = rows.unique("line", maintain_order=True).select("line", zero=pl.lit(0.0))
    tick: dict[str, Any] = {"orient": "vertical", "size": ROW_PX, "aria": False}
    return [
        alt.Chart(zero).mark_tick(color=light("line"), thickness=1, **tick).encode(x, y),
        alt.Chart(rows.filter(pl.col("value") != "").select("line", "value"))
        .mark_text(align="right", fontSize=12, color=light("ink"), aria=False)
        .encode(y, alt.Text("value:N"), x=placed("X", "width")),
    ]


def _bars(compared: pl.DataFrame, x: alt.X, y: alt.Y, look: dict[str, Any]) -> list[alt.Chart]:
    """Return the ridden drivetrain as an upright line, and the intervals beside it."""
    import altair as alt

    based = compared.filter(pl.col("base").is_not_null()).select("line", low="base")
    with_ends = compared.filter(pl.col("high").is_not_null()).select("line", "kind", "low", "high")
    bars = [
        alt.Chart(with_ends.filter(pl.col("kind") == kind))
        .mark_rule(strokeWidth=width, strokeDash=dashes, aria=False)
        .encode(x, alt.X2("high:Q"), y, look["color"])
        for kind, (width, dashes) in _BARS.items()
    ]
    # without it the bar would show in the hole of a ring, and make a disc of it
    behind_rings = (
        alt.Chart(compared.filter(pl.col("kind") == OPEN).select("line", "at"))
        .mark_circle(color=light("page"), opacity=1, size=100, aria=False)
        .encode(showing(x, "at"), y)
    )
    upright = alt.Chart(based).mark_tick(
        orient="vertical",
        size=ROW_PX,
        thickness=1.5,
        opacity=1,
        color=light("published"),
        aria=False,
    )
    return with_marks(*bars, upright.encode(x, y), behind_rings)


def _amounts(alone: pl.DataFrame, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Return figures that are held against nothing as bars from 0."""
    import altair as alt

    ends = alone.filter(pl.col("high").is_not_null()).select("line", "low", "high")
    bars = alt.Chart(alone.select("line", "at", "words")).mark_bar(color=light("idle"), size=8)
    over = alt.Chart(ends).mark_rule(color=light("ink"), aria=False)
    ended = over.encode(showing(x, "low"), alt.X2("high:Q"), y)
    return with_marks(bars.encode(x, y, **told()), ended)
