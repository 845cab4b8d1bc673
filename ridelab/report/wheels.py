"""How far the driven wheel rolls: by its tyre, under load, as measured and as ridden."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from ridelab.drivetrain.wheel import accepted_rollout_m
from ridelab.report.digits import NO_BREAK, UNKNOWN, known
from ridelab.report.markup import (
    NOTHING,
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

#: A unit's setting that is off by less makes no difference that anybody sees.
_FINEST = 0.001


class _Rollout(NamedTuple):
    """One rollout, in metres, and the span in which it or the true one lies."""

    head: str
    value_m: float | None
    low_m: float | None
    high_m: float | None


def rollout_table(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Return the rollouts side by side with their spans; nothing where no tyre is stated."""
    row = vehicle.row
    nominal_m = known(row["nominal_rollout_m"])
    if nominal_m is None:
        return NOTHING
    columns = [
        Column("Rollout"),
        Column(printer.headed("Value", "rollout"), "number"),
        Column(printer.headed("Between", "rollout"), "number"),
        Column("Beside nominal, %", "number"),
    ]
    rows = (_row(one, nominal_m, printer) for one in _rollouts(row, nominal_m, vehicle))
    caption = join([text("How far the driven wheel of "), name(vehicle.name), text(" rolls")])
    return table(caption, columns, rows)


def other_wheels(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Say which wheels are not driven, and what a unit set to another wheel does to developments.

    Nothing where neither is stated.
    """
    row = vehicle.row
    said = []
    if row["other_tyres"]:
        sensor = f"; the speed sensor sits on {row['sensor_wheel']}" if row["sensor_wheel"] else ""
        said.append(f"Wheels that are not driven: {row['other_tyres']}{sensor}.")
    factor = known(row["unit_factor"])
    if factor is not None:
        said.append(_setting(row, factor, printer))
    return paragraph(sentence(" ".join(said))) if said else NOTHING


def _setting(row: Record, factor: float, printer: Printer) -> str:
    set_to = f"The recording unit was set to {printer.value('rollout', row['set_rollout_m'])}"
    if abs(factor - 1) < _FINEST:
        return f"{set_to}, what the wheel under its sensor rolls."
    off = f"{printer.bare('step', abs(factor - 1))}{NO_BREAK}%"
    longer = "longer" if factor > 1 else "shorter"
    return (
        f"{set_to}: developments that it recorded by its wheel sensor are {off} {longer} than by "
        "the rollout stated for that wheel."
    )


def _rollouts(row: Record, nominal_m: float, vehicle: VehicleFindings) -> list[_Rollout]:
    low_m, high_m = accepted_rollout_m(nominal_m, is_measured=False)
    ends = (known(row[f"loaded_rollout_{end}_m"]) for end in ("low", "high"))
    found = [
        _Rollout(f"nominal, {row['tyre']}", nominal_m, low_m, high_m),
        _Rollout("loaded, as a rule", None, *ends),
    ]
    if row["rollout_is_measured"]:
        stated_m = row["stated_rollout_m"]
        span_m = accepted_rollout_m(stated_m, is_measured=True)
        found.append(_Rollout("measured, as stated", stated_m, *span_m))
    if (ridden_m := vehicle.effective_rollout_m) is not None:
        span = (known(row[f"effective_rollout_{end}_m"]) for end in ("low", "high"))
        found.append(_Rollout("as the rides show it", ridden_m, *span))
    return found


def _row(rollout: _Rollout, nominal_m: float, printer: Printer) -> Row:
    low_m, high_m = rollout.low_m, rollout.high_m
    between, beside = UNKNOWN, UNKNOWN
    if low_m is not None and high_m is not None:
        between = f"{printer.bare('rollout', low_m)} to {printer.bare('rollout', high_m)}"
        beside = " to ".join(
            printer.bare("step", one / nominal_m - 1, sign=True) for one in (low_m, high_m)
        )
    if rollout.value_m is not None:
        beside = printer.bare("step", rollout.value_m / nominal_m - 1, sign=True)
    value = printer.bare("rollout", rollout.value_m)
    return Row([text(cell) for cell in (rollout.head, value, between, beside)])
