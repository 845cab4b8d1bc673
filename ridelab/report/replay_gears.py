"""Where the time goes on each drivetrain of a replay: one stick a gear, all on one scale."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.analysis.replay.tally import LEAST_S
from ridelab.analysis.replay.words import RIDDEN
from ridelab.report.chart_parts import (
    columnar,
    development_axis,
    domain,
    finished,
    key,
    showing,
    told,
    with_marks,
)
from ridelab.report.digits import NO_BREAK, Printer, duration, percent
from ridelab.report.drawing import layered, placed
from ridelab.report.markup import Column, Markup, Row, name, table, text
from ridelab.report.palette import light
from ridelab.report.replay_rows import AHEAD, HABIT, name_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    import altair as alt

_LINE_PX = 68
#: Of the height of a line, for its sticks; the rest is for its name.
_TALLEST = 0.55
_LOOK = {"driven": ("measured", "stroke"), "not needed": ("quiet", "ring")}


def shown_use(use: pl.DataFrame, assumption: str) -> pl.DataFrame:
    """Return the gears as ridden, then those of one replay of each drivetrain, in their order.

    Args:
        use: rows of ``replayed_gear_use`` of one vehicle.
        assumption: under which the replays are told.
    """
    told_here = use.filter((pl.col("policy") == RIDDEN) | (pl.col("assumption") == assumption))
    by_habit = set(told_here.filter(pl.col("policy") == HABIT)["drivetrain"])
    habits = pl.col("drivetrain").is_in(by_habit, nulls_equal=True)
    wanted = pl.when(habits).then(pl.lit(HABIT)).otherwise(pl.lit(AHEAD))
    return told_here.filter(pl.col("policy").is_in([RIDDEN]) | (pl.col("policy") == wanted))


def replay_gears_chart(use: pl.DataFrame, printer: Printer) -> alt.LayerChart:
    """Show the share of the driving in each gear as the height of a stick at its development.

    Args:
        use: of ``shown_use``; not empty.
        printer: of developments.
    """
    import altair as alt

    rows, lines = _sticks(use, printer)
    x = development_axis("development", domain(rows["development"]), printer, grid=False)
    y = alt.Y(
        "foot:Q",
        scale=alt.Scale(domain=[-0.12, len(lines)], nice=False),
        axis=None,
    )
    look = key("state", {one: sign for one, sign in _LOOK.items() if one in set(rows["state"])}, 2)
    driven = rows.filter(pl.col("state") == "driven")
    idle = rows.filter(pl.col("state") != "driven")
    head = showing(y, "top")
    sticks = columnar(driven, by=("state",)).mark_rule(strokeWidth=4, aria=True)
    rings = columnar(idle, by=("state",)).mark_point(filled=True, opacity=1, size=34)
    layers = [
        alt.Chart(lines).mark_rule(color=light("line"), aria=False).encode(y),
        alt.Chart(lines)
        .mark_text(align="left", baseline="top", fontSize=12, color=light("ink"), aria=False)
        .encode(head, alt.Text("said:N"), x=placed("X", 0)),
        alt.Chart(_tallest(driven))
        .mark_text(baseline="bottom", dy=-2, fontSize=11, color=light("quiet"), aria=False)
        .encode(x, head, alt.Text("shown:N")),
        *with_marks(
            sticks.encode(x, y, alt.Y2("top:Q"), look["color"], **told()),
            rings.encode(x, y, **look, **told()),
        ),
    ]
    words = "Share of the driving in each gear of each drivetrain, at its development."
    return finished(layered(layers), words, _LINE_PX * len(lines))


def replay_gears_sentence(use: pl.DataFrame) -> str:
    """Say what to see, and how many gears of each drivetrain the rides never need."""
    said = (
        "Each stick is a gear at its development, as tall as its share of the driving; a ring is a "
        f"gear driven for less than {LEAST_S:.0f}{NO_BREAK}s. All drivetrains stand on one scale."
    )
    idle = [
        f"{sum(part['seconds'] < LEAST_S)} of {len(part)} on {_said(part.row(0, named=True))}"
        for part in _parts(use)
    ]
    return f"{said} Not needed: {', '.join(idle)}."


def replay_gears_table(use: pl.DataFrame, printer: Printer, caption: Markup) -> Markup:
    """Return a row a gear of each drivetrain."""
    columns = [
        Column("Drivetrain"),
        Column("Shifted"),
        Column("Gear", "number"),
        Column(printer.headed("Development", "development"), "number"),
        Column("Time", "number"),
        Column("Share", "number"),
    ]
    rows = (
        Row(
            [
                name(row["drivetrain"] or "the ridden ladder"),
                text(row["policy"]),
                text(row["gear"]),
                text(printer.bare("development", row["development_m"])),
                text(duration(row["seconds"])),
                text(percent(row["share"])),
            ]
        )
        for row in use.iter_rows(named=True)
    )
    return table(caption, columns, rows)


def _parts(use: pl.DataFrame) -> list[pl.DataFrame]:
    return use.partition_by("drivetrain", "policy", maintain_order=True)


def _said(row: dict[str, Any]) -> str:
    """Return what a line shows: "seven, as ridden"."""
    own = name_of(row)
    return own if own == row["policy"] else f"{own}, {row['policy']}"


def _sticks(use: pl.DataFrame, printer: Printer) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return a stick for each gear, and a line for each drivetrain, the first on top."""
    parts = _parts(use)
    tallest = max(float(str(use["share"].max() or 0.0)), 1e-9)
    scale = printer.scale("development")
    found, lines = [], []
    for place, part in enumerate(reversed(parts)):
        said = _said(part.row(0, named=True))
        lines.append({"foot": float(place), "top": place + 0.9, "said": said})
        share = pl.col("share").fill_null(0.0)
        found.append(
            part.select(
                state=pl.when(pl.col("seconds") < LEAST_S)
                .then(pl.lit("not needed"))
                .otherwise(pl.lit("driven")),
                development=(pl.col("development_m") * scale).round(3),
                foot=pl.lit(float(place)),
                top=(place + _TALLEST * share / tallest).round(3),
                words=_words(part, said, printer),
            )
        )
    return pl.concat(found), pl.DataFrame(lines)


def _tallest(driven: pl.DataFrame) -> pl.DataFrame:
    """Return the tallest stick of each line with its share, which tells the scale of all."""
    tallest = driven.sort("top", descending=True).unique("foot", keep="first", maintain_order=True)
    return tallest.select("development", "top", shown=pl.col("words").str.extract(r"([^,]+)$"))


def _words(part: pl.DataFrame, said: str, printer: Printer) -> pl.Series:
    spoken: Sequence[str] = [
        f"{said}: gear {row['gear']}, {printer.value('development', row['development_m'])}, "
        f"{percent(row['share'])}".replace(NO_BREAK, " ")
        for row in part.iter_rows(named=True)
    ]
    return pl.Series("words", spoken, dtype=pl.String)
