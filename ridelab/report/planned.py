"""What to ride next, so that claims the rides leave open can be decided."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.report.digits import NO_BREAK, UNKNOWN, Printer, count, known
from ridelab.report.markup import (
    NOTHING,
    Column,
    Markup,
    Row,
    anchor,
    heading,
    join,
    link,
    name,
    paragraph,
    table,
    tag,
    text,
)

if TYPE_CHECKING:
    import polars as pl

    from ridelab.report.findings import Record

CAUTIONS = (
    "Before you ride: brakes, tyres and fastenings; a helmet; a closed or quiet road, dry and "
    "level. Look at the road, not at a display, and leave out a gear that the road or your legs do "
    "not allow; the number can wait. Local law decides what may be ridden where and how fast, the "
    "maker's manual what the vehicle may carry and endure; where either leaves you in doubt, or "
    "something sounds wrong, ask a mechanic first."
)
_HOW = (
    "Computed from how much spells and rides so far differ. In a spell stay in the gear and keep "
    "the pressure on the pedals, at an even cadence; between two spells change gear or rest. All "
    "of a vehicle in one ride, gears in any order."
)


def plan_section(plan: pl.DataFrame, printer: Printer) -> Markup:
    """Return a table of what to ride on each vehicle; nothing where no ride would decide more."""
    if plan.is_empty():
        return NOTHING
    vehicles = plan.partition_by("vehicle", maintain_order=True)
    return tag(
        "section",
        heading("h3", text("What to ride next"), "plan", "what to ride next"),
        paragraph(text(_HOW)),
        *(_of_vehicle(rows, printer) for rows in vehicles),
        paragraph(text(CAUTIONS)),
        id="plan",
    )


def _of_vehicle(rows: pl.DataFrame, printer: Printer) -> Markup:
    vehicle = str(rows["vehicle"][0])
    minutes = text(f"{rows['seconds'].sum() / 60:.0f}{NO_BREAK}min of steady pedalling in ")
    spells = text(count(int(rows["spells"].sum()), "spell"))
    whose = link(anchor("vehicle", vehicle), name(vehicle))
    caption = join([whose, text(": "), minutes, spells])
    columns = (
        Column("Gear"),
        Column("Spells", "number"),
        Column("In all, min", "number"),
        Column("Cadence, rpm", "number"),
        Column(printer.headed("Speed", "speed"), "number"),
        Column("To decide", "prose"),
    )
    return table(caption, columns, (_row(row, printer) for row in rows.iter_rows(named=True)))


def _row(row: Record, printer: Printer) -> Row:
    cells = (
        f"{row['gear']}",
        f"{row['spells']}",
        f"{row['seconds'] / 60:.1f}",
        f"{row['cadence_low_rpm']:.0f} to {row['cadence_high_rpm']:.0f}",
        _speed(row, printer),
        f"{'claims' if ',' in row['claims'] else 'claim'} {row['claims']}",
    )
    return Row([text(cell) for cell in cells])


def _speed(row: Record, printer: Printer) -> str:
    low, high = known(row["speed_low_mps"]), known(row["speed_high_mps"])
    if low is None or high is None:
        return UNKNOWN
    scale = printer.scale("speed")
    return f"{low * scale:.0f} to {high * scale:.0f}"
