"""The first screen: the answer for each vehicle, the claims, and all ladders on one scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.report import charts
from ridelab.report.answers import first_warnings, headline, sentences
from ridelab.report.claims import claims_table, contradictions, of_claims, tally
from ridelab.report.claims_chart import claims_chart, claims_sentence, on_scale
from ridelab.report.digits import Printer, count, duration
from ridelab.report.exhibit import Exhibit
from ridelab.report.figures import exhibited
from ridelab.report.markup import (
    NOTHING,
    Column,
    Markup,
    Row,
    anchor,
    bullets,
    folded,
    heading,
    join,
    link,
    name,
    paragraph,
    table,
    tag,
    text,
)
from ridelab.report.planned import plan_section
from ridelab.report.pooled_section import pooled_exhibits, pooled_section
from ridelab.report.vehicles import LADDER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelab.report.findings import Findings, VehicleFindings

_STEPLESS = {"low_m": "stepless_low_m", "high_m": "stepless_high_m"}
_ON_PAPER = (
    "What was folded away on screen is left out on paper, such as the figures behind charts: "
    "unfold it, and it is printed, too."
)
_STRIPS = (
    "All ladders on one scale of development: how wide each is, how even its steps are, and where "
    "it starts and ends beside the others. A bar is a stepless drivetrain, as far as it was ridden."
)
#: So many vehicles have an index.
_MANY = 8


def head(findings: Findings, title: str, contents: Markup, printer: Printer) -> Markup:
    """Return the head of the page: its title, what it stands on, and what is on it."""
    return tag(
        "header",
        tag("h1", name(title)),
        paragraph(_ridden(findings, printer), class_="ridden"),
        contents,
        _index(findings),
        paragraph(text(_ON_PAPER), class_="on-paper-only"),
    )


def _index(findings: Findings) -> Markup:
    """Return links to all vehicles, folded, where there are too many to find one by scrolling."""
    names = [one.name for one in findings.vehicles]
    if len(names) < _MANY:
        return NOTHING
    links = (link(anchor("vehicle", one), name(one)) for one in names)
    inside = tag("nav", join(links, " "), aria_label="Vehicles")
    return folded(text(f"Go to one of {len(names)} vehicles"), inside, class_="way")


def answer_section(findings: Findings, printer: Printer) -> Markup:
    """Return the answer for each vehicle, and all ladders on one scale."""
    return tag(
        "section",
        heading("h2", text("What the rides say"), "answer", "what the rides say"),
        _answers(findings, printer),
        exhibited(answer_exhibits(findings, printer)),
        id="answer",
    )


def _ridden(findings: Findings, printer: Printer) -> Markup:
    """Say what the answers stand on: vehicles, rides, distance, hours, files set aside."""
    rides = findings.rides
    parts = [count(len(findings.vehicles), "vehicle"), count(len(rides), "ride")]
    if rides["distance_m"].count():
        parts.append(printer.value("distance", float(rides["distance_m"].sum())))
    said = ", ".join([*parts, f"{duration(float(rides['duration_s'].sum()))} recorded"])
    aside = findings.set_aside["path"].n_unique()
    if not aside:
        return text(f"{said}. No file was set aside.")
    told = text(f"{count(aside, 'file')} {'was' if aside == 1 else 'were'} set aside")
    return join([text(f"{said}. "), link("set-aside", told), text(".")])


def _answers(findings: Findings, printer: Printer) -> Markup:
    if not findings.vehicles:
        return paragraph(text("The campaign names no vehicle, so there is nothing to tell."))
    return bullets((_answer(one, printer) for one in findings.vehicles), class_="answers")


def _answer(vehicle: VehicleFindings, printer: Printer) -> Markup:
    where = anchor("vehicle", vehicle.name)
    return join(
        [
            tag("span", link(where, name(vehicle.name)), class_="who"),
            tag("span", headline(vehicle, printer), class_="range"),
            tag("div", sentences(vehicle, printer), first_warnings(vehicle), class_="said"),
        ],
        " ",
    )


def claims_section(findings: Findings, printer: Printer) -> Markup:
    """Return the verdicts, as a picture and as a table, and what to ride next."""
    if findings.verdicts.is_empty():
        return NOTHING
    return tag(
        "section",
        heading("h2", text(of_claims(findings.claimed)), "claims", "the claims"),
        _single(findings),
        contradictions(findings.problems),
        exhibited(_all_claims(findings, printer)),
        claims_table(findings.verdicts, printer),
        pooled_section(findings, printer),
        plan_section(findings.plan, printer),
        id="claims",
    )


def _single(findings: Findings) -> Markup:
    """Say what is counted below, where a claim has a verdict on each of several vehicles."""
    verdicts = findings.verdicts.filter(pl.col("vehicle").is_not_null())
    if len(verdicts) <= len(findings.claimed):
        return NOTHING
    return paragraph(text(f"{len(verdicts)} verdicts on single vehicles: {tally(verdicts)}."))


def claims_exhibits(findings: Findings, printer: Printer) -> Iterator[Exhibit]:
    """Yield all claims on one scale, and those that several vehicles measured."""
    yield from _all_claims(findings, printer)
    yield from pooled_exhibits(findings, printer)


def _all_claims(findings: Findings, printer: Printer) -> Iterator[Exhibit]:
    if len(drawn := on_scale(findings.verdicts)):
        chart, said = claims_chart(findings.verdicts, printer), claims_sentence(findings.verdicts)
        yield Exhibit("claims", None, "What was measured beside the claims", said, chart, drawn)


def answer_exhibits(findings: Findings, printer: Printer) -> Iterator[Exhibit]:
    """Yield all ladders on one scale."""
    ladders = [one.ladder for one in findings.vehicles if not one.stepless]
    bars = [
        one.developments.select("vehicle", "low_m", "high_m").head(1)
        for one in findings.vehicles
        if one.stepless
    ]
    if not any(len(drawn) for drawn in (*ladders, *bars)):
        return
    ladder = pl.concat(ladders) if ladders else findings.vehicles[0].ladder.clear()
    stepless = pl.concat(bars) if bars else None
    order = [one.name for one in findings.vehicles]
    chart = charts.ladder_strips(ladder, stepless, printer.units, order)
    parts = [ladder.select(LADDER), *(bar.rename(_STEPLESS) for bar in bars)]
    drawn = pl.concat(parts, how="diagonal")
    rows = _ends_table(findings, printer)
    yield Exhibit("ladders", None, "All ladders on one scale", _STRIPS, chart, drawn, rows)


def _ends_table(findings: Findings, printer: Printer) -> Markup:
    """Return where the measured ladder of each vehicle, or its stepless range, starts and ends."""
    columns = [
        Column("Vehicle"),
        Column("Gears measured", "number"),
        Column(printer.headed("From", "development"), "number"),
        Column(printer.headed("To", "development"), "number"),
    ]
    return table(
        text("Developments as measured, from end to end"),
        columns,
        (_ends(one, printer) for one in findings.vehicles),
    )


def _ends(vehicle: VehicleFindings, printer: Printer) -> Row:
    metres = sorted(vehicle.measured["development_m"])
    ends: list[float | None] = [None, None]
    if metres:
        ends = [metres[0], metres[-1]]
    elif vehicle.stepless and len(vehicle.developments):
        ends = [vehicle.developments[end][0] for end in ("low_m", "high_m")]
    gears = "stepless" if vehicle.stepless else str(len(metres))
    shown = [printer.bare("development", end) for end in ends]
    return Row([name(vehicle.name), text(gears), *map(text, shown)])
