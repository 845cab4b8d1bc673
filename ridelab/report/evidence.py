"""What stands behind each ladder: how developments cluster, time in gear, and ride by ride."""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING

import polars as pl

from ridelab.report import charts
from ridelab.report.digits import UNKNOWN, Printer, duration, known, number, percent
from ridelab.report.figures import figure
from ridelab.report.markup import (
    NOTHING,
    Column,
    Markup,
    Row,
    anchor,
    folded,
    join,
    link,
    name,
    paragraph,
    table,
    tag,
    text,
)

if TYPE_CHECKING:
    from ridelab.report.findings import Record, VehicleFindings

_DENSITY = (
    "Time at each development. A gear shows as a narrow peak, and its line stands where the gear "
    "was measured. Riding without drive lies to the right of the gear that is engaged, never to "
    "the left."
)
_BROKEN = " Broken lines are published gears that were not ridden long enough."
_STEPLESS = (
    "Time at each development. A stepless drivetrain shows no peaks that every ride shares, only a "
    "spread between its ends."
)
_SECOND = 1.0
_SOURCES = {"both": "recorded and inferred", "none": "none named"}
_USE = "Time in each gear with the crank driving the wheel; the same figures stand in the ladder."


def evidence_section(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Return the evidence of one vehicle, with an id for links."""
    back = link(anchor("vehicle", vehicle.name), text("Back to its ladder"))
    return tag(
        "section",
        tag("h3", name(vehicle.name)),
        _density(vehicle, printer),
        _time_in_gear(vehicle, printer),
        _rides(vehicle, printer),
        paragraph(back),
        id=anchor("evidence", vehicle.name),
    )


def _density(vehicle: VehicleFindings, printer: Printer) -> Markup:
    bins = vehicle.developments
    if bins.is_empty():
        return paragraph(text("No sample has both speed and cadence, so there is no development."))
    chart = charts.development_density(bins, vehicle.ladder, printer.units)
    said = _STEPLESS if vehicle.stepless else _DENSITY + (_BROKEN if vehicle.not_ridden else "")
    drawn = figure(charts.named(chart, vehicle.name), text(said + _outside(bins)))
    return join([drawn, _bins(vehicle, bins, printer)])


def _outside(bins: pl.DataFrame) -> str:
    """Say how much of the driving time the chart leaves out, if it leaves out any."""
    total, shown = float(bins["driving_total_s"][0]), float(bins["driving_s"].sum())
    if total - shown < _SECOND:
        return ""
    return f" Of the driving time {percent(1 - shown / total)} lies outside this picture."


def _bins(vehicle: VehicleFindings, bins: pl.DataFrame, printer: Printer) -> Markup:
    """Return the figures behind the density, empty bins left out."""
    ridden = bins.filter(pl.col("driving_s") + pl.col("other_s") > 0)
    head = printer.headed("Development", "development")
    columns = [Column(head), Column("Driving, s", "number"), Column("Other, s", "number")]
    scale = printer.scale("development")
    rows = (
        Row(
            (
                text(f"{row['from_m'] * scale:.3f} to {row['to_m'] * scale:.3f}"),
                text(f"{row['driving_s']:.0f}"),
                text(f"{row['other_s']:.0f}"),
            )
        )
        for row in ridden.iter_rows(named=True)
    )
    caption = join([text("Seconds at each development of "), name(vehicle.name)])
    return folded(text("Figures behind this chart"), table(caption, columns, rows))


def _time_in_gear(vehicle: VehicleFindings, printer: Printer) -> Markup:
    if vehicle.measured.is_empty():
        return NOTHING
    chart = charts.time_in_gear(vehicle.ladder, printer.units)
    return figure(charts.named(chart, vehicle.name), text(_USE))


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
    lag, spread = known(row["speed_lag_s"]), known(row["spread"])
    return Row(
        (
            name(row["path"]),
            text(f"{row['started_at'].astimezone(UTC):%Y-%m-%d %H:%M}"),
            text(duration(row["duration_s"])),
            text(printer.bare("distance", row["distance_m"])),
            text(row["speed_source"] or UNKNOWN),
            text(row["channel"] or UNKNOWN),
            text(UNKNOWN if lag is None else number(lag, 1)),
            text(UNKNOWN if spread is None else f"{100 * spread:.2g}"),
            text(percent(row["named_share"])),
            text(_SOURCES.get(row["gear_source"], row["gear_source"] or UNKNOWN)),
        ),
        id=anchor("ride", str(row["ride"])[:16]),
    )
