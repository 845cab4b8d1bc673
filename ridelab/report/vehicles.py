"""The section of each vehicle: its ladder as chart and table, and how far its wheel rolls."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.report import charts
from ridelab.report.answers import rollout, sentences, torque_cautions, warnings
from ridelab.report.compound import compound_chart, compound_sentence, compound_table
from ridelab.report.exhibit import Exhibit
from ridelab.report.figures import exhibited
from ridelab.report.ladder_table import ladder_table
from ridelab.report.losses import losses_table
from ridelab.report.markup import (
    Markup,
    anchor,
    heading,
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
    from collections.abc import Iterator

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
_GEAR = ("vehicle", "gear", "label")
LADDER = (
    *_GEAR,
    "published_development_m",
    "development_m",
    "development_low_m",
    "development_high_m",
)
_RATIOS = (
    *_GEAR,
    "published_ratio",
    "ratio",
    "ratio_low",
    "ratio_high",
    "deviation",
    "deviation_low",
    "deviation_high",
    "allowed_low",
    "allowed_high",
)
_STEPS = (*_GEAR, "published_step", "step", "step_half_width")


def vehicle_section(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Return one vehicle, with an id for links."""
    target = anchor("vehicle", vehicle.name)
    evidence = link(anchor("evidence", vehicle.name), text("Evidence from its rides"))
    return tag(
        "section",
        heading("h3", name(vehicle.name), target, vehicle.name),
        paragraph(described(vehicle), class_="quiet"),
        paragraph(sentences(vehicle, printer)),
        paragraph(rollout(vehicle, printer)),
        rollout_table(vehicle, printer),
        other_wheels(vehicle, printer),
        warnings(vehicle),
        torque_cautions(vehicle),
        exhibited(ladder_exhibits(vehicle, printer)),
        ladder_table(vehicle, printer),
        losses_table(vehicle, printer),
        paragraph(evidence, class_="way"),
        id=target,
    )


def described(vehicle: VehicleFindings) -> Markup:
    """Return its kind and drivetrain: "trike, drivetrain nine"."""
    drivetrain = vehicle.row["drivetrain"]
    kind = text(vehicle.row["kind"])
    if drivetrain is None:
        return join([kind, text("no published drivetrain")], ", ")
    return join([kind, join([text("drivetrain"), name(drivetrain)], " ")], ", ")


def ladder_exhibits(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    """Yield its ladder, how far it is from the published one, its steps, its combinations."""
    yield from _strip(vehicle, printer)
    yield from _deviations(vehicle, printer)
    yield from _steps(vehicle, printer)
    yield from _compound(vehicle, printer)


def _strip(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    drawn = vehicle.ladder.filter(
        pl.col("development_m").is_not_null() | pl.col("published_development_m").is_not_null()
    )
    if len(drawn):
        chart = charts.ladder_strips(drawn, units=printer.units)
        said = _FOUND if vehicle.published.is_empty() else _STRIP
        yield Exhibit("ladder", vehicle.name, "Its ladder", said, chart, drawn.select(LADDER))


def _deviations(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    published = vehicle.published
    if len(published) and len(vehicle.measured):
        chart = charts.deviations(published, printer.units)
        title, data = "Measured beside published ratios", published.select(_RATIOS)
        yield Exhibit("deviations", vehicle.name, title, _DEVIATIONS, chart, data)


def _steps(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    ladder = vehicle.ladder
    if has_steps(ladder):
        said = steps_sentence(ladder, printer)
        chart = steps_chart(ladder, printer)
        yield Exhibit("steps", vehicle.name, "Its steps", said, chart, ladder.select(_STEPS))


def _compound(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    found = vehicle.combinations
    if len(found):
        said = compound_sentence(found)
        chart = compound_chart(found, printer)
        rows = compound_table(found, vehicle.name, printer)
        yield Exhibit("combinations", vehicle.name, "Its combinations", said, chart, found, rows)
