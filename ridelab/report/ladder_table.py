"""The ladder of one vehicle as a table: every gear, published or measured."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from ridelab.report.chart_rows import NOT_RIDDEN, fit_of
from ridelab.report.digits import UNKNOWN, duration, half_width
from ridelab.report.findings import Record
from ridelab.report.markup import NOTHING, Column, Markup, Row, join, name, table, text
from ridelab.report.signs import signed

if TYPE_CHECKING:
    from ridelab.report.digits import Printer
    from ridelab.report.findings import VehicleFindings

_Cell = Callable[[Record], Markup]


def ladder_table(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Return a row a gear; a column that would say nothing is left out."""
    gears = vehicle.ladder.to_dicts()
    if not gears:
        return NOTHING
    columns = [
        (Column(head, None if head == "Setting" else "number"), [cell(gear) for gear in gears])
        for head, cell in {**_ratios(printer), **_travel(printer), **_use(printer)}.items()
        if head != "Setting" or len(vehicle.published)  # gears found in rides alone have no name
    ]
    shown = [(column, cells) for column, cells in columns if _says_something(column, cells)]
    rows = (
        Row(cells, class_="quiet" if gear["development_m"] is None else None)
        for gear, cells in zip(gears, zip(*(cells for _, cells in shown), strict=True), strict=True)
    )
    caption = join([text("Ladder of "), name(vehicle.name), text(", 95 % intervals")])
    return table(caption, [column for column, _ in shown], rows)


def _says_something(column: Column, cells: list[Markup]) -> bool:
    if column.head == "Setting":
        return any(cell not in {NOTHING, name(str(at))} for at, cell in enumerate(cells, 1))
    return any(cell != UNKNOWN for cell in cells)


def _ratios(printer: Printer) -> dict[str, _Cell]:
    return {
        "Gear": lambda gear: text(gear["gear"]),
        "Setting": _setting,
        "Published ratio": lambda gear: text(printer.bare("ratio", gear["published_ratio"])),
        "Measured ratio": lambda gear: _measured(gear, printer),
        "Departure, %": lambda gear: _departure(gear, printer),
    }


def _travel(printer: Printer) -> dict[str, _Cell]:
    def development(gear: Record) -> Markup:
        half = half_width(gear["development_low_m"], gear["development_high_m"])
        return text(printer.plus_minus("development", gear["development_m"], half))

    return {
        printer.headed("Development", "development"): development,
        "Published step, %": lambda gear: text(printer.bare("step", gear["published_step"])),
        "Measured step, %": lambda gear: text(
            printer.plus_minus("step", gear["step"], gear["step_half_width"])
        ),
    }


def _use(printer: Printer) -> dict[str, _Cell]:
    return {
        "Time": lambda gear: text(duration(gear["seconds"])),
        printer.headed("Distance", "distance"): lambda gear: text(
            printer.bare("distance", gear["distance_m"])
        ),
    }


def _setting(gear: Record) -> Markup:
    """Return what the drivetrain's maker calls the gear, or that the ladder does not have it."""
    return name(gear["label"] or "")


def _measured(gear: Record, printer: Printer) -> Markup:
    if gear["development_m"] is None:
        return text(NOT_RIDDEN)
    half = half_width(gear["ratio_low"], gear["ratio_high"])
    return text(printer.plus_minus("ratio", gear["ratio"], half))


def _departure(gear: Record, printer: Printer) -> Markup:
    half = half_width(gear["deviation_low"], gear["deviation_high"])
    figure = text(printer.plus_minus("step", gear["deviation"], half, sign=True))
    return join([figure, signed("departs")], " ") if fit_of(gear) == "departs" else figure
