"""The steps of one ladder: how even they are, and what they mean for the legs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.drivetrain.grouping import FEEL_WITHIN
from ridelab.report.chart_parts import finished, gear_axis, key, told, with_marks
from ridelab.report.digits import NO_BREAK, Printer
from ridelab.report.drawing import layered
from ridelab.report.palette import light

if TYPE_CHECKING:
    import altair as alt

_CHART_PX = 170
#: The cadence that steps are told at, as changes of cadence.
_AT_RPM = 80
_LANES = {"published": ("published", "tick"), "measured": ("measured", "disc")}
_ROW = pl.Schema(
    {
        "gear": pl.Int32(),
        "lane": pl.String(),
        "step": pl.Float64(),
        "low": pl.Float64(),
        "high": pl.Float64(),
        "words": pl.String(),
    }
)


def steps_chart(ladder: pl.DataFrame, printer: Printer) -> alt.LayerChart:
    """Show each step at the gear it leads up to, as published and as measured, in percent.

    Args:
        ladder: the result of the query ``ladder``, of one vehicle, with a step in it.
        printer: of steps.
    """
    import altair as alt

    rows = _rows(ladder, printer)
    x = gear_axis(ladder["gear"].to_list())
    x["title"] = "gear that the step leads up to"
    top = max(
        float(str(rows.select(pl.max_horizontal("step", "high").max()).item())), 100 * FEEL_WITHIN
    )
    scale = alt.Scale(domain=[0, 1.1 * top], nice=False)

    def y(field: str) -> alt.Y:
        return alt.Y(f"{field}:Q", scale=scale, axis=alt.Axis(tickCount=5), title="step, %")

    drawn = {lane: sign for lane, sign in _LANES.items() if lane in set(rows["lane"])}
    look = key("lane", drawn)
    felt = (
        alt.Chart(pl.DataFrame({"felt": [100 * FEEL_WITHIN]}))
        .mark_rule(color=light("quiet"), strokeDash=[3, 4], aria=False)
        .encode(y("felt"))
    )
    measured = rows.filter(pl.col("lane") == "measured")
    bars = (
        alt.Chart(measured.filter(pl.col("low") < pl.col("high")))
        .mark_rule(strokeWidth=2.5, aria=False)
        .encode(x, y("low"), alt.Y2("high:Q"), look["color"])
    )
    paper = (
        alt.Chart(rows.filter(pl.col("lane") == "published"))
        .mark_point(filled=True, opacity=1, size=130, angle=90)
        .encode(x, y("step"), **look, **told())
    )
    points = (
        alt.Chart(measured)
        .mark_point(filled=True, opacity=1, size=70)
        .encode(x, y("step"), **look, **told())
    )
    words = "Each step of the ladder in percent, as published and as measured."
    layers = [felt, *with_marks(bars, paper, points)]
    return finished(layered(layers), words, _CHART_PX)


def has_steps(ladder: pl.DataFrame) -> bool:
    """Whether the ladder has two neighbours that were measured."""
    return ladder["step"].count() > 0


def steps_sentence(ladder: pl.DataFrame, printer: Printer) -> str:
    """Say how far the steps differ, what that is in cadence, and which of them are hardly felt."""
    found = ladder.filter(pl.col("step").is_not_null()).sort("step")
    low, high = found.row(0, named=True), found.row(-1, named=True)
    if len(found) == 1:
        said = f"The step up to gear {low['gear']} is {_step(low, printer)}"
    else:
        said = (
            f"Steps from {_step(low, printer)} (up to gear {low['gear']}) to "
            f"{_step(high, printer)} (up to gear {high['gear']})"
        )
    turns = sorted({round(_AT_RPM * one["step"]) for one in (low, high)})
    change = " to ".join(str(one) for one in turns)
    said += (
        f": shifting up into {_AT_RPM}{NO_BREAK}rpm takes {change}{NO_BREAK}rpm off the cadence."
    )
    small = found.filter(pl.col("step") < FEEL_WITHIN)["gear"].sort().to_list()
    line = f" Below the broken line, {100 * FEEL_WITHIN:.0f}{NO_BREAK}%, a step is hardly felt"
    if not small:
        return f"{said}{line}; none is so small. A fine step is no sign of efficiency."
    gears = ", ".join(map(str, small))
    return f"{said}{line}: those up to gear {gears}. A fine step is no sign of efficiency."


def _step(row: dict[str, float], printer: Printer) -> str:
    return f"{printer.bare('step', row['step'], row['step_half_width'])}{NO_BREAK}%"


def _rows(ladder: pl.DataFrame, printer: Printer) -> pl.DataFrame:
    rows = []
    for gear in ladder.iter_rows(named=True):
        number, half = gear["gear"], gear["step_half_width"]
        if (paper := gear["published_step"]) is not None:
            words = f"step up to gear {number}, published: {printer.bare('step', paper)} %"
            rows.append((number, "published", 100 * paper, None, None, words))
        if (step := gear["step"]) is not None:
            ends = [100 * (step + sign * (half or 0.0)) for sign in (-1, 1)]
            shown = printer.plus_minus("step", step, half)
            words = f"step up to gear {number}, measured: {shown} %"
            rows.append((number, "measured", 100 * step, *ends, words))
    return pl.DataFrame(rows, schema=_ROW, orient="row")
