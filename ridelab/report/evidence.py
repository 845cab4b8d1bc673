"""What stands behind each ladder: the exhibits, and ride by ride."""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING

from ridelab.report.digits import UNKNOWN, Printer, duration, known, number, percent
from ridelab.report.exhibits import exhibits
from ridelab.report.figures import exhibited
from ridelab.report.markup import (
    NOTHING,
    Column,
    Markup,
    Row,
    anchor,
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

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.report.exhibit import Exhibit
    from ridelab.report.findings import Record, VehicleFindings

_SOURCES = {"both": "recorded and inferred", "none": "none named"}
_CLOSER = "A closer look: the busiest ten minutes, how closely gears are kept to, and the lag"
_IN_SIGHT = ("density", "rays", "time_in_gear")


def evidence_section(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Return the evidence of one vehicle, with an id for links."""
    shown = exhibits(vehicle, printer)
    target = anchor("evidence", vehicle.name)
    back = link(anchor("vehicle", vehicle.name), text("Back to its ladder"))
    return tag(
        "section",
        heading("h3", name(vehicle.name), target, f"the evidence for {vehicle.name}"),
        _in_sight(shown),
        _closer(shown),
        _rides(vehicle, printer),
        paragraph(back, class_="way"),
        id=target,
    )


def _in_sight(shown: Sequence[Exhibit]) -> Markup:
    """Return what needs no asking for: whether the gears stand apart, and where they are ridden."""
    if drawn := [exhibit for exhibit in shown if exhibit.key in _IN_SIGHT]:
        return exhibited(drawn)
    return paragraph(text("No sample has both speed and cadence, so there is no development."))


def _closer(shown: Sequence[Exhibit]) -> Markup:
    """Return the other exhibits, which open on request."""
    drawn = [exhibit for exhibit in shown if exhibit.key not in _IN_SIGHT]
    return folded(text(_CLOSER), exhibited(drawn, headed=True)) if drawn else NOTHING


def _rides(vehicle: VehicleFindings, printer: Printer) -> Markup:
    if vehicle.rides.is_empty():
        return paragraph(text("No ride of it was read."))
    columns = (
        Column("File"),
        Column("Start, UTC", "whole"),
        Column("Duration", "number"),
        Column(printer.headed("Distance", "distance"), "number"),
        Column("Speed from"),
        Column("Channel"),
        Column("Lag, s", "number"),
        Column("Spread, %", "number"),
        Column("Samples named", "number"),
        Column("Gears"),
    )
    rows = (_ride(row, printer) for row in vehicle.rides.iter_rows(named=True))
    caption = join([text("Rides of "), name(vehicle.name)])
    return table(caption, columns, rows)


def _ride(row: Record, printer: Printer) -> Row:
    started = row["started_at"].astimezone(UTC)
    target = anchor("ride", f"{started:%Y-%m-%d}", str(row["ride"])[:12])
    lag, spread = known(row["speed_lag_s"]), known(row["spread"])
    return Row(
        (
            link(target, name(row["path"])),
            text(f"{started:%Y-%m-%d %H:%M}"),
            text(duration(row["duration_s"])),
            text(printer.bare("distance", row["distance_m"])),
            text(row["speed_source"] or UNKNOWN),
            text(row["channel"] or UNKNOWN),
            text(UNKNOWN if lag is None else number(lag, 1)),
            text(UNKNOWN if spread is None else f"{100 * spread:.2g}"),
            text(percent(row["named_share"])),
            text(_SOURCES.get(row["gear_source"], row["gear_source"] or UNKNOWN)),
        ),
        id=target,
    )
