"""Claims on several vehicles with one drivetrain: each vehicle, and what they come to together."""

from __future__ import annotations

from statistics import median
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.report.chart_parts import finished, key, told, with_marks
from ridelab.report.claims import claim_in_words, measured
from ridelab.report.claims_chart import (
    LOOK,
    claim_band,
    in_tolerances,
    on_scale,
    one_sided,
    tolerance_axis,
)
from ridelab.report.digits import NO_BREAK, UNKNOWN, count, percent
from ridelab.report.drawing import layered
from ridelab.report.exhibit import Exhibit
from ridelab.report.figures import exhibited
from ridelab.report.lined import ROW_PX, headed, line, lined, on_lines
from ridelab.report.markup import (
    NOTHING,
    Column,
    Markup,
    Row,
    bullets,
    chart_name,
    heading,
    name,
    sentence,
    table,
    tag,
    text,
)
from ridelab.report.pooled_words import (
    drivetrain_or_vehicle,
    figures_by_claim,
    from_least_to_greatest,
    tells_little,
)
from ridelab.report.signs import signed

if TYPE_CHECKING:
    from collections.abc import Iterator

    import altair as alt

    from ridelab.report.digits import Printer
    from ridelab.report.findings import Findings

#: No vehicle can be shown by this name: the no-break space at its end would get a digest.
TOGETHER = f"all together{NO_BREAK}"
#: Claims that are drawn, those that fail first; the table has them all.
_MOST_CLAIMS = 10
#: Vehicles that have a line of their own where there are more than the second: the odd one, and
#: those furthest from the middle. The others share one.
_APART, _MOST_LINES = 3, 6
_TITLE = "The drivetrain, or one vehicle?"
_ID = "pooled"
_MARKS = pl.Schema(
    {
        "line": pl.String(),
        "verdict": pl.String(),
        "at": pl.Float64(),
        "low": pl.Float64(),
        "high": pl.Float64(),
        "together": pl.Boolean(),
        "odd": pl.Boolean(),
        "words": pl.String(),
    }
)
SENTENCE = (
    "Each block is a claim on a drivetrain that several vehicles have: each vehicle as measured, "
    "with its 95 % interval, in tolerances of the claim, and last what they come to together, "
    "where they are enough to tell. {apart}What lies beyond six tolerances stands at the edge."
)
#: Of two vehicles that differ nobody can say which is the odd one.
_THREE = "Of three vehicles or more, one that stands apart from the others speaks of itself. "


def pooled_section(findings: Findings, printer: Printer) -> Markup:
    """Return what is the drivetrain's and what one vehicle's; nothing where none is compared."""
    pooled = findings.pooled
    if pooled.is_empty():
        return NOTHING
    told_of = drivetrain_or_vehicle(pooled.to_dicts(), findings.verdicts.to_dicts())
    return tag(
        "section",
        heading("h3", text(_TITLE), _ID, "what is the drivetrain and what is one vehicle"),
        bullets(sentence(one if one.endswith("?") else f"{one}.") for one in told_of),
        exhibited(pooled_exhibits(findings, printer)),
        NOTHING if _drawn(findings).height else _table(findings, printer),
        id=_ID,
    )


def pooled_exhibits(findings: Findings, printer: Printer) -> Iterator[Exhibit]:
    """Yield the claims that several vehicles measured, each with its vehicles."""
    drawn = _drawn(findings)
    if len(drawn):
        chart = pooled_chart(findings.pooled, drawn, printer)
        rows = _table(findings, printer)
        more = drawn["claim"].n_unique() - _MOST_CLAIMS
        several = bool((findings.pooled["vehicles"] > 2).any())
        said = SENTENCE.format(apart=_THREE if several else "")
        said += f" {count(more, 'more claim')} stand in the table." if more > 0 else ""
        said += one_sided(findings.verdicts.join(findings.pooled, on="claim", how="semi"))
        yield Exhibit("pooled", None, _TITLE, said, chart, drawn, rows)


def _drawn(findings: Findings) -> pl.DataFrame:
    """Return what single vehicles measured of the claims that several of them measured."""
    own = on_scale(findings.verdicts).join(findings.pooled.select("claim"), on="claim", how="semi")
    return own.filter(pl.len().over("claim") > 1)


def pooled_chart(pooled: pl.DataFrame, drawn: pl.DataFrame, printer: Printer) -> alt.LayerChart:
    """Show each vehicle's value and what all come to, as multiples of the claim's tolerance.

    Args:
        pooled: the result of the query ``pooled``.
        drawn: rows of the query ``verdicts``, two or more of each claim.
        printer: of what was measured.
    """
    import altair as alt

    headings, marks = _blocks(pooled, drawn, printer)
    lines = []
    for block in range(len(headings)):
        own = (mark["line"] for mark in marks if mark["line"].startswith(f"{block}|"))
        lines += [line(block, ""), *dict.fromkeys(own)]
    rows = pl.DataFrame(marks, schema=_MARKS)
    y = on_lines()
    look = key("verdict", {one: sign for one, sign in LOOK.items() if one in set(rows["verdict"])})
    ended = rows.filter(pl.col("low").is_not_null())
    of_a_bar = ("line", "verdict", "low", "high")
    bars = [
        alt.Chart(ended.filter(pl.col("together") == whole).select(of_a_bar))
        .mark_rule(strokeWidth=width, opacity=opacity, aria=False)
        .encode(tolerance_axis("low"), alt.X2("high:Q"), y, look["color"])
        for whole, width, opacity in ((False, 2, 1), (True, 12, 0.3))
    ]
    points = (
        alt.Chart(rows.select("line", "verdict", "at", "words"))
        .mark_point(filled=True, opacity=1, size=90)
        .encode(tolerance_axis("at"), y, **look, **told())
    )
    layers = [claim_band(), headed(headings, lined(lines)), *with_marks(*bars, points)]
    words = "Each vehicle's value of each claim, and what all come to, in tolerances of the claim."
    return finished(layered(layers), words, ROW_PX * len(lines) + 10)


def _blocks(
    pooled: pl.DataFrame, drawn: pl.DataFrame, printer: Printer
) -> tuple[list[str], list[dict[str, Any]]]:
    """Return the heading of each claim, and the marks of its vehicles and their mean."""
    headings: list[str] = []
    marks: list[dict[str, Any]] = []
    for whole in pooled.iter_rows(named=True):
        own = drawn.filter(pl.col("claim") == whole["claim"]).to_dicts()
        if not own or len(headings) == _MOST_CLAIMS:
            continue
        block = len(headings)
        headings.append(_claimed(whole))
        found = [_mark(block, row, row["vehicle"], whole, printer) for row in own]
        marks += _gathered(found, block) if len(found) > _MOST_LINES else found
        if not (whole["measured"] is None or tells_little(whole, [row["measured"] for row in own])):
            marks.append(_mark(block, whole, None, whole, printer))
    return headings, marks


def _gathered(marks: list[dict[str, Any]], block: int) -> list[dict[str, Any]]:
    """Leave the vehicles that stand apart on lines of their own, and put the others on one."""
    middle = median(mark["at"] for mark in marks)
    apart = sorted(marks, key=lambda mark: (not mark["odd"], -abs(mark["at"] - middle)))[:_APART]
    shared = line(block, f"{len(marks) - _APART} others{NO_BREAK}")
    return [
        mark if mark in apart else mark | {"line": shared, "low": None, "high": None}
        for mark in sorted(marks, key=lambda mark: mark not in apart)
    ]


def _claimed(row: dict[str, Any]) -> str:
    return f"{chart_name(row['claim'])}: {claim_in_words(row)} {chart_name(row['printed'])}"


def _mark(
    block: int, row: dict[str, Any], vehicle: str | None, whole: dict[str, Any], printer: Printer
) -> dict[str, Any]:
    odd = vehicle is not None and vehicle == whole["odd_vehicle"]
    shown = TOGETHER if vehicle is None else chart_name(vehicle)
    low, at, high = in_tolerances(row)
    words = f"{_claimed(whole)}: {shown.strip()}, {measured(row, printer)}: {row['verdict']}"
    words += ", departs from the others" * odd
    return {
        "line": line(block, f"{shown}, odd" if odd else shown),
        "verdict": row["verdict"],
        "at": at,
        "low": low,
        "high": high,
        "together": vehicle is None,
        "odd": odd,
        "words": words.replace(NO_BREAK, " "),
    }


def _table(findings: Findings, printer: Printer) -> Markup:
    figures = figures_by_claim(findings.verdicts.to_dicts())
    columns = [
        Column("Claim"),
        Column("Verdict"),
        Column("Vehicles", "number"),
        Column("Together", "number"),
        Column("Spread between vehicles", "number"),
        Column("Chance of as much, were they alike", "number"),
        Column("Departs"),
        Column("Why", "prose"),
    ]
    rows = (
        Row(
            [
                name(f"{row['claim']}: {claim_in_words(row)} {row['printed']}"),
                signed(row["verdict"]),
                text(_counted(row)),
                text(_together(row, figures.get(row["claim"], []), printer)),
                text(UNKNOWN if row["spread"] is None else printer.value("step", row["spread"])),
                text(percent(row["q_p"])),
                text(UNKNOWN) if row["odd_vehicle"] is None else name(row["odd_vehicle"]),
                sentence(row["reason"]),
            ]
        )
        for row in findings.pooled.iter_rows(named=True)
    )
    return table(text("Claims on several vehicles, and what these come to"), columns, rows)


def _together(row: dict[str, Any], figures: list[float], printer: Printer) -> str:
    return from_least_to_greatest(row, figures, printer) or measured(row, printer)


def _counted(row: dict[str, Any]) -> str:
    """Print on how many vehicles a claim was judged: "2 of 3"."""
    every = row["vehicles"] + row["left_out"]
    return str(every) if not row["left_out"] else f"{row['vehicles']} of {every}"
