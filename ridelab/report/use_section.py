"""The section of each vehicle on how its gears are used."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.report.charts import named
from ridelab.report.figures import figure, figures_behind
from ridelab.report.markup import NOTHING, Markup, anchor, bullets, folded, join, name, tag, text
from ridelab.report.use_charts import (
    shift_pairs_chart,
    shift_pairs_sentence,
    shift_pairs_table,
    use_by_grade_chart,
    use_by_grade_sentence,
    use_by_grade_table,
)
from ridelab.report.use_words import TOLD, comfort, frequent_shifts, most_used, shifting

if TYPE_CHECKING:
    from ridelab.report.digits import Printer
    from ridelab.report.findings import VehicleFindings


def use_section(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Return what is told of one vehicle, with an id for links; nothing where no gear is known."""
    if not has_use(vehicle):
        return NOTHING
    shown = (_in_words(vehicle, printer), _by_grade(vehicle), _pairs(vehicle, printer))
    return tag("section", tag("h3", name(vehicle.name)), *shown, id=anchor("use", vehicle.name))


def has_use(vehicle: VehicleFindings) -> bool:
    """Whether anything is told of the use of its gears."""
    return len(vehicle.use.use_by_gear) > 0


def _in_words(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Say which gears carry the riding, how comfortable it was and why not, how it was shifted."""
    use = vehicle.use
    told = {relation: getattr(use, relation).to_dicts() for relation in TOLD}
    said = [most_used(use.use_by_gear.to_dicts()), comfort(told)]
    said += [shifting(habits, printer) for habits in told["shift_habits"]]
    if told["shift_pairs"]:
        said.append(frequent_shifts(told))
    return bullets(text(f"{one[0].upper()}{one[1:]}.") for one in said)


def _by_grade(vehicle: VehicleFindings) -> Markup:
    use = vehicle.use.use_by_grade.filter(pl.col("gear").is_not_null())
    if use.is_empty():
        return NOTHING
    chart = named(use_by_grade_chart(use, vehicle.gears), vehicle.name)
    caption = join([text("Use of gears by grade, "), name(vehicle.name)])
    rows = figures_behind(use_by_grade_table(use, caption))
    return join([figure(chart, text(use_by_grade_sentence(use))), rows])


def _pairs(vehicle: VehicleFindings, printer: Printer) -> Markup:
    pairs = vehicle.use.shift_pairs
    if pairs.is_empty():
        return NOTHING
    chart = named(shift_pairs_chart(pairs, vehicle.gears), vehicle.name)
    caption = join([text("Shifts from gear to gear, "), name(vehicle.name)])
    rows = figures_behind(shift_pairs_table(pairs, printer, caption))
    drawn = figure(chart, text(shift_pairs_sentence(pairs)))
    return folded(text("From which gear to which it was shifted"), drawn, rows)
