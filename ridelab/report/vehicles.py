"""The section of each vehicle: its ladder as chart and table, and how far its wheel rolls."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.report import charts
from ridelab.report.answers import rollout, sentences, torque_cautions, warnings
from ridelab.report.compound import compound_chart, compound_sentence, compound_table
from ridelab.report.figures import figure, figures_behind
from ridelab.report.ladder_table import ladder_table
from ridelab.report.losses import losses_table
from ridelab.report.markup import (
    NOTHING,
    Markup,
    anchor,
    join,
    link,
    name,
    paragraph,
    tag,
    text,
)
from ridelab.report.steps import has_steps, steps_chart, steps_sentence
from ridelab.report.wheels import other_wheels, rollout_table

if TYPE_CHECKING:
    from ridelab.report.digits import Printer
    from ridelab.report.findings import VehicleFindings

_STRIP = (
    "Each mark is a gear, on a scale where equal steps look equal: published above, measured below."
    " A mark that does not stand under its partner departs; a partner that is missing was not"
    " ridden long enough."
)
_FOUND = "Each mark is a gear found in the rides, on a scale where equal steps look equal."
_DEVIATIONS = (
    "How far each measured ratio lies from the published one, the upright lines its 95 % interval."
    " A gear departs if its whole line is 0.3 % or more from what is published: published ratios"
    " are rounded."
)


def vehicle_section(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Return one vehicle, with an id for links."""
    return tag(
        "section",
        tag("h3", name(vehicle.name)),
        paragraph(described(vehicle), class_="quiet"),
        paragraph(sentences(vehicle, printer)),
        paragraph(rollout(vehicle, printer)),
        rollout_table(vehicle, printer),
        other_wheels(vehicle, printer),
        warnings(vehicle),
        torque_cautions(vehicle),
        _strip(vehicle, printer),
        _deviations(vehicle, printer),
        _steps(vehicle, printer),
        _compound(vehicle, printer),
        ladder_table(vehicle, printer),
        losses_table(vehicle, printer),
        paragraph(link(anchor("evidence", vehicle.name), text("Evidence from its rides"))),
        id=anchor("vehicle", vehicle.name),
    )


def described(vehicle: VehicleFindings) -> Markup:
    """Return its kind and drivetrain: "trike, drivetrain nine"."""
    drivetrain = vehicle.row["drivetrain"]
    kind = text(vehicle.row["kind"])
    if drivetrain is None:
        return join([kind, text("no published drivetrain")], ", ")
    return join([kind, join([text("drivetrain"), name(drivetrain)], " ")], ", ")


def _strip(vehicle: VehicleFindings, printer: Printer) -> Markup:
    drawn = vehicle.ladder.filter(
        pl.col("development_m").is_not_null() | pl.col("published_development_m").is_not_null()
    )
    if drawn.is_empty():
        return NOTHING
    chart = charts.ladder_strips(drawn, units=printer.units)
    return figure(chart, text(_FOUND if vehicle.published.is_empty() else _STRIP))


def _steps(vehicle: VehicleFindings, printer: Printer) -> Markup:
    if not has_steps(vehicle.ladder):
        return NOTHING
    chart = charts.named(steps_chart(vehicle.ladder, printer), vehicle.name)
    return figure(chart, text(steps_sentence(vehicle.ladder, printer)))


def _compound(vehicle: VehicleFindings, printer: Printer) -> Markup:
    found = vehicle.combinations
    if found.is_empty():
        return NOTHING
    chart = charts.named(compound_chart(found, printer), vehicle.name)
    rows = compound_table(found, vehicle.name, printer)
    shown = figure(chart, text(compound_sentence(found)))
    return join([shown, figures_behind(rows)])


def _deviations(vehicle: VehicleFindings, printer: Printer) -> Markup:
    if vehicle.published.is_empty() or vehicle.measured.is_empty():
        return NOTHING
    chart = charts.deviations(vehicle.published, printer.units)
    return figure(charts.named(chart, vehicle.name), text(_DEVIATIONS))
