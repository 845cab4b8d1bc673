"""What is lost in each gear between two power meters, as a table, and what to know about it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.report.digits import UNKNOWN, duration, half_width
from ridelab.report.markup import (
    Column,
    Markup,
    Row,
    join,
    name,
    paragraph,
    sentence,
    table,
    text,
)

if TYPE_CHECKING:
    from ridelab.report.digits import Printer
    from ridelab.report.findings import Record, VehicleFindings


def losses_table(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Return a row a gear and one for their mean, and what was told of the meters.

    Of a vehicle without both powers only what was told, such as that its motor forbids it; nothing
    where nothing was.
    """
    told = vehicle.problems.filter(pl.col("stage") == "losses")["message"].to_list()
    said = join((paragraph(sentence(f"{one[:1].upper()}{one[1:]}.")) for one in told), "")
    if vehicle.losses.is_empty():
        return said
    columns = [
        Column("Gear"),
        Column("Lost, %", "number"),
        Column("Between, %", "number"),
        Column("Beside the mean of these gears, %", "number"),
        Column("At the crank, W", "number"),
        Column("At the wheel, W", "number"),
        Column("Time", "number"),
        Column("Rides", "number"),
    ]
    rows = [_row(row, printer) for row in vehicle.losses.iter_rows(named=True)]
    caption = join(
        [text("Lost between crank and driven wheel of "), name(vehicle.name), text(", 95 %")]
    )
    return join([table(caption, columns, rows), said], "")


def _row(row: Record, printer: Printer) -> Row:
    half = half_width(row["loss_low"], row["loss_high"])
    beside_half = half_width(row["against_mean_low"], row["against_mean_high"])
    ends = UNKNOWN
    if half is not None:
        low, high = (printer.bare("step", row[f"loss_{end}"], half) for end in ("low", "high"))
        ends = f"{low} to {high}"
    cells = (
        "mean" if row["gear"] is None else str(row["gear"]),
        printer.bare("step", row["loss"], half),
        ends,
        printer.plus_minus("step", row["against_mean"], beside_half, sign=True),
        f"{row['crank_w']:.0f}",
        f"{row['wheel_w']:.0f}",
        duration(row["seconds"]),
        str(row["rides"]),
    )
    return Row([text(cell) for cell in cells])
