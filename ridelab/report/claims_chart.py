"""All claims on one scale: how far from what was claimed, in tolerances of each claim."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.report.chart_parts import finished, key, told, with_marks
from ridelab.report.claims import claim_in_words, measured
from ridelab.report.digits import NO_BREAK
from ridelab.report.drawing import layered
from ridelab.report.markup import chart_name
from ridelab.report.palette import light

if TYPE_CHECKING:
    import altair as alt

    from ridelab.report.digits import Printer

_ROW_PX = 24
#: Marks that have a line each; of more, those of one claim that were judged alike share one.
_MOST_LINES = 16
#: What lies further out is drawn at the edge, as an arrow would be.
_FARTHEST = 6.0
#: How each verdict is drawn.
LOOK = {
    "holds": ("holds", "disc"),
    "fails": ("departs", "cross"),
    "undecided": ("doubt", "ring"),
}
_PLURAL = {"holds": "hold", "fails": "fail", "undecided": "undecided"}
_ROW = pl.Schema(
    {
        "row": pl.String(),
        "verdict": pl.String(),
        "at": pl.Float64(),
        "low": pl.Float64(),
        "high": pl.Float64(),
        "words": pl.String(),
    }
)


def claims_chart(verdicts: pl.DataFrame, printer: Printer) -> alt.LayerChart:
    """Show each judged claim's measured value and interval, as multiples of its tolerance.

    Args:
        verdicts: the result of the query ``verdicts``, with rows that ``on_scale`` keeps.
        printer: of what was measured.
    """
    import altair as alt

    rows = _rows(verdicts, printer)
    order = rows["row"].unique(maintain_order=True).to_list()
    labels = alt.Axis(ticks=False, domain=False, labelLimit=205, labelPadding=9, grid=False)
    y = alt.Y("row:N", sort=order, title=None, axis=labels)
    x = tolerance_axis
    present = {word: sign for word, sign in LOOK.items() if word in set(rows["verdict"])}
    look = key("verdict", present, columns=2)
    bars = (
        alt.Chart(rows)
        .mark_rule(strokeWidth=3, aria=False)
        .encode(x("low"), alt.X2("high:Q"), y, look["color"])
    )
    points = (
        alt.Chart(rows)
        .mark_point(filled=True, opacity=1, size=90)
        .encode(x("at"), y, **look, **told())
    )
    words = "Each claim: what was measured, beside what was claimed, in tolerances of the claim."
    layers = [claim_band(), *with_marks(bars, points)]
    return finished(layered(layers), words, _ROW_PX * max(len(order), 2) + 10)


def tolerance_axis(field: str) -> alt.X:
    """Return the axis of tolerances from what was claimed, as ``in_tolerances`` counts them."""
    import altair as alt

    return alt.X(
        f"{field}:Q",
        scale=alt.Scale(domain=[-_FARTHEST, _FARTHEST], nice=False, clamp=True),
        axis=alt.Axis(
            values=[-5, -3, -1, 0, 1, 3, 5],
            labelExpr=(
                "datum.value ? format(datum.value, '+~g') : width < 300 ? '' : '0'"
            ),  # between -1 and +1 a phone has no room
            grid=False,
            titleAnchor="end",  # on a phone it is longer than the axis
        ),
        title="measured beside claimed, in tolerances",
    )


def claim_band() -> alt.Chart:
    """Return the band in which claims hold."""
    import altair as alt

    chart: alt.Chart = (
        alt.Chart(pl.DataFrame({"low": [-1.0], "high": [1.0]}))
        .mark_rect(color=light("line"), opacity=0.55, aria=False)
        .encode(tolerance_axis("low"), alt.X2("high:Q"))
    )
    return chart


def in_tolerances(row: dict[str, Any]) -> tuple[float | None, float | None, float | None]:
    """Return where lower end, value and upper end stand on that axis; ends that are none, at it."""
    unit = float(row["tolerance"] * abs(row["value"]))

    def place(value: float | None) -> float | None:
        if value is None or not isfinite(value):
            return None
        return max(-_FARTHEST, min(_FARTHEST, (value - float(row["value"])) / unit))

    at = place(row["measured"])
    low, high = (place(row[f"measured_{end}"]) for end in ("low", "high"))
    return at if low is None else low, at, at if high is None else high


def on_scale(verdicts: pl.DataFrame) -> pl.DataFrame:
    """Return the claims that were measured and have a tolerance to be measured in, on both sides.

    "At least 500 %" has an edge and no middle, so it has no place on this scale.
    """
    return verdicts.filter(
        pl.col("measured").is_not_null()
        & pl.col("tolerance").is_not_null()
        & (pl.col("tolerance") * pl.col("value").abs() > 0)
        & pl.col("verdict").is_in(list(LOOK))
        & (pl.col("bound").fill_null("about") == "about")
    )


SENTENCE = (
    "Each mark is what was measured, its bar the 95 % interval, laid beside what was claimed. The "
    "grey band is the claim with its tolerance: a bar wholly inside it holds, one wholly outside "
    "fails, one across its edge is undecided. What lies beyond six tolerances stands at the edge."
)
_GATHERED = " Vehicles on which a claim was judged alike share a line, a mark for each."
_ONE_SIDED = (
    " Of claims on the least or the most, which have an edge and no middle, the table tells alone."
)


def claims_sentence(verdicts: pl.DataFrame) -> str:
    """Say what to see, what shares a line, and which claims have no place on the scale."""
    gathered = _GATHERED if len(on_scale(verdicts)) > _MOST_LINES else ""
    return SENTENCE + gathered + one_sided(verdicts)


def one_sided(verdicts: pl.DataFrame) -> str:
    """Say that claims on the least or the most are left out, where some were judged."""
    judged = verdicts.filter(
        pl.col("verdict").is_in(list(LOOK)) & (pl.col("bound").fill_null("about") != "about")
    )
    return _ONE_SIDED if len(judged) else ""


def _rows(verdicts: pl.DataFrame, printer: Printer) -> pl.DataFrame:
    drawn = on_scale(verdicts)
    rows = pl.DataFrame([_row(row, printer) for row in drawn.iter_rows(named=True)], schema=_ROW)
    if len(rows) <= _MOST_LINES:
        return rows
    alike = drawn.select("claim", "verdict", vehicles=pl.len().over("claim", "verdict"))
    lines = [
        chart_name(f"{claim}: {vehicles} {_PLURAL[verdict]}") if vehicles > 1 else own
        for (claim, verdict, vehicles), own in zip(alike.iter_rows(), rows["row"], strict=True)
    ]
    return rows.with_columns(row=pl.Series(lines))


def _row(row: dict[str, Any], printer: Printer) -> dict[str, object]:
    name = chart_name(f"{row['claim']}, {row['vehicle']}")
    low, at, high = in_tolerances(row)
    said = claim_in_words(row)
    claimed = f"{said} {chart_name(row['printed'])}"
    words = f"{name}: {claimed}, measured {measured(row, printer)}: {row['verdict']}"
    return {
        "row": name,
        "verdict": row["verdict"],
        "at": at,
        "low": low,
        "high": high,
        "words": words.replace(NO_BREAK, " "),
    }
