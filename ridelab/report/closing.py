"""The end of the page: shifts, what was set aside and why, and what the numbers mean."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING

import polars as pl

from ridelab.report.digits import UNKNOWN, Printer, count
from ridelab.report.markup import (
    NOTHING,
    Column,
    Markup,
    Row,
    folded,
    heading,
    join,
    link,
    name,
    paragraph,
    sentence,
    table,
    tag,
    text,
)
from ridelab.report.signs import signed

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridelab.report.findings import Findings

#: What the parts of the page are called; the answer needs no link, since it is in sight.
_PARTS = {
    "fleet": "The fleet",
    "claims": "Claims",
    "vehicles": "Ladders",
    "use": "Use of gears",
    "evidence": "Evidence",
    "shifts": "Shifts",
    "set-aside": "Set aside",
    "meaning": "What the numbers mean",
}
#: More doubts than this are folded away, so that the page can be read to its end.
_MOST_DOUBTS = 12


def shifts_section(findings: Findings, printer: Printer) -> Markup:
    """Return how often each vehicle was shifted; below it, folded, the same for each ride."""
    if not _shifted(findings):
        return NOTHING
    by_vehicle = (_shifts(name(one.name), one.rides, printer) for one in findings.vehicles)
    by_ride = (
        _shifts(name(ride["path"][0]), ride, printer)
        for one in findings.vehicles
        for ride in one.rides.iter_slices(1)
    )
    return tag(
        "section",
        heading("h2", text("Shifts"), "shifts", "shifts"),
        paragraph(
            text(
                "A sweep over several gears in one direction counts once. Rates stand on the rides"
                " that tell their distance."
            )
        ),
        table(text("Shifts by vehicle"), _shift_columns("Vehicle", printer), by_vehicle),
        folded(
            text("Shifts by ride"),
            table(text("Shifts by ride"), _shift_columns("File", printer), by_ride),
        ),
        id="shifts",
    )


def _shift_columns(head: str, printer: Printer) -> list[Column]:
    heads = ("Shifts", "Up", "Down", "While coasting", f"Shifts per {printer.unit('distance')}")
    return [Column(head), *(Column(one, "number") for one in heads)]


def _shifts(head: Markup, rides: pl.DataFrame, printer: Printer) -> Row:
    counted = ("shifts", "shifts_up", "shifts_down", "shifts_coasting")
    measured = rides.filter(pl.col("distance_m") > 0)
    distance = float(measured["distance_m"].sum()) * printer.scale("distance")
    rate = f"{int(measured['shifts'].sum()) / distance:.1f}" if distance else UNKNOWN
    return Row([head, *(text(rides[one].sum()) for one in counted), text(rate)])


def set_aside_section(findings: Findings) -> Markup:
    """Return what could not be used, then what was used with a doubt."""
    aside, doubts = findings.set_aside, findings.doubts
    parts = [heading("h2", text("What was set aside, and why"), "set-aside", "what was set aside")]
    if aside.is_empty():
        parts.append(paragraph(text("Nothing: every file that was named could be used.")))
    else:
        parts.append(_problems(text("Files that could not be used"), aside))
    if not doubts.is_empty():
        shown = _problems(text("Used, but worth knowing"), doubts)
        said = text(count(len(doubts), "remark on what was used", "remarks on what was used"))
        parts.append(folded(said, shown) if len(doubts) > _MOST_DOUBTS else shown)
    return tag("section", *parts, id="set-aside")


def _problems(caption: Markup, problems: pl.DataFrame) -> Markup:
    columns = [
        Column("File or vehicle"),
        Column("Weight"),
        Column("Stage"),
        Column("What was found", "prose"),
    ]
    rows = (
        Row(
            (
                name(row["path"]),
                signed("set aside" if row["severity"] == "error" else row["severity"]),
                name(row["stage"]),
                sentence(row["message"]),
            )
        )
        for row in problems.iter_rows(named=True)
    )
    return table(caption, columns, rows, cards=True)


def meaning_section() -> Markup:
    """Return what the numbers mean, how they came about, and the cautions: prose kept here."""
    prose = files("ridelab.report").joinpath("meaning.html").read_text("utf-8")
    return tag("section", Markup(prose), id="meaning")


def contents(targets: Iterable[str]) -> Markup:
    """Return links to the parts of the page, in its order."""
    links = (link(target, text(_PARTS[target])) for target in targets if target in _PARTS)
    unfold = tag("button", text("Unfold everything"), id="unfold", type="button", hidden="")
    return tag("nav", join([*links, unfold], " "), aria_label="On this page")


def _shifted(findings: Findings) -> bool:
    return bool(findings.rides["shifts"].sum()) if findings.vehicles else False
