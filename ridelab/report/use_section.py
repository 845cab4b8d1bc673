"""The section of each vehicle on how its gears are used."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.report.exhibit import Exhibit
from ridelab.report.figures import exhibited
from ridelab.report.markup import (
    NOTHING,
    Markup,
    anchor,
    bullets,
    folded,
    heading,
    join,
    name,
    tag,
    text,
)
from ridelab.report.replayed import replay_exhibits, replayed_part
from ridelab.report.use_charts import (
    shift_pairs_chart,
    shift_pairs_sentence,
    shift_pairs_table,
    use_by_grade_chart,
    use_by_grade_sentence,
    use_by_grade_table,
)
from ridelab.report.use_words import TOLD, comfort, frequent_shifts, levers, most_used, shifting

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelab.report.digits import Printer
    from ridelab.report.findings import VehicleFindings

_SHIFTS = "shift_pairs"
_SHIFTS_TITLE = "From which gear to which it was shifted"


def use_section(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Return what is told of one vehicle, with an id for links; nothing where no gear is known."""
    if not has_use(vehicle):
        return NOTHING
    exhibits = list(_used(vehicle, printer))
    folds = [one for one in exhibits if one.key == _SHIFTS]
    shown = (
        _in_words(vehicle, printer),
        exhibited(one for one in exhibits if one.key != _SHIFTS),
        folded(text(_SHIFTS_TITLE), exhibited(folds)) if folds else NOTHING,
        replayed_part(vehicle, printer),
    )
    target = anchor("use", vehicle.name)
    head = heading("h3", name(vehicle.name), target, f"the use of gears of {vehicle.name}")
    return tag("section", head, *shown, id=target)


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
    said += [levers(use) for use in told["stage_use"]]
    return bullets(text(f"{one[0].upper()}{one[1:]}.") for one in said)


def use_exhibits(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    """Yield its gears by grade, its shifts, and its rides on other drivetrains."""
    if has_use(vehicle):
        yield from _used(vehicle, printer)
        yield from replay_exhibits(vehicle, printer)


def _used(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    yield from _by_grade(vehicle)
    yield from _pairs(vehicle, printer)


def _by_grade(vehicle: VehicleFindings) -> Iterator[Exhibit]:
    use = vehicle.use.use_by_grade.filter(pl.col("gear").is_not_null())
    if len(use):
        said = use_by_grade_sentence(use)
        chart = use_by_grade_chart(use, vehicle.gears)
        rows = use_by_grade_table(use, _caption("Use of gears by grade, ", vehicle))
        yield Exhibit("use_by_grade", vehicle.name, "Use of gears by grade", said, chart, use, rows)


def _pairs(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    pairs = vehicle.use.shift_pairs
    if len(pairs):
        said = shift_pairs_sentence(pairs)
        chart = shift_pairs_chart(pairs, vehicle.gears)
        rows = shift_pairs_table(pairs, printer, _caption("Shifts from gear to gear, ", vehicle))
        yield Exhibit(_SHIFTS, vehicle.name, _SHIFTS_TITLE, said, chart, pairs, rows)


def _caption(said: str, vehicle: VehicleFindings) -> Markup:
    return join([text(said), name(vehicle.name)])
