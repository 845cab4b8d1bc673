"""What a rider is told first: which gears carry the riding, which never do, comfort, and shifts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.cli.answer import rows_by
from ridelab.cli.columns import clock
from ridelab.cli.output import print_table, say, say_prose
from ridelab.cli.text import Column, counted, printable
from ridelab.report.digits import UNKNOWN, Printer, number, percent
from ridelab.report.use_words import (
    TOLD,
    band,
    comfort,
    frequent_shifts,
    levers,
    most_used,
    place,
    shifting,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.cli.answer import Frames
    from ridelab.units import UnitSystem

    Row = dict[str, Any]

_KILO = 1000.0
#: Gears in the table, those of most time.
_MOST_GEARS = 9
_BAR = 12
#: Power recorded for more of the time than this passes for all of it.
_WHOLE = 0.98


def print_usage(store: Frames, units: UnitSystem, again: str = "") -> None:
    """Print how the gears of each vehicle are used; vehicles of which nothing is known in a word.

    ``again``: the options that lead ``ridelab show`` to this store.
    """
    printer = Printer(units)
    used = rows_by(store, "use_by_gear", "vehicle")
    told = {name: rows_by(store, name, "vehicle") for name in TOLD}
    for vehicle in store.frame("vehicles").to_dicts():
        name = vehicle["vehicle"]
        drivetrain = vehicle["drivetrain"] or "no published drivetrain"
        say(f"{printable(name)} ({vehicle['kind']}, {printable(drivetrain)})")
        if name in used:
            own = {relation: rows.get(name, []) for relation, rows in told.items()}
            _print_vehicle(used[name], own, printer)
        else:
            say("nothing can be told of the use of its gears: none was ridden, or can be named")
        say()
    if used:
        say("by grade, by speed, by hour of the ride, by month, and all shifts:")
        for relation in ("use_by_grade", "shift_pairs"):
            say(f"  ridelab show {relation}{again}")


def _print_vehicle(used: Sequence[Row], told: dict[str, list[Row]], printer: Printer) -> None:
    say_prose(most_used(used))
    say_prose(comfort(told))
    if told["shift_habits"]:
        say_prose(shifting(told["shift_habits"][0], printer))
    if told["shift_pairs"]:
        say_prose(frequent_shifts(told))
    for use in told["stage_use"]:
        say_prose(levers(use))
    _print_gears(used, printer)


def _print_gears(used: Sequence[Row], printer: Printer) -> None:
    """Print the gears of most time in the order of the ladder, and what the others make up."""
    ridden = [row for row in used if row["seconds"]]
    shown = sorted(sorted(ridden, key=lambda row: -row["share"])[:_MOST_GEARS], key=place)
    names = [band(row) if row["gear"] is None else str(row["gear"]) for row in shown]
    most = max(row["share"] for row in shown)
    columns = [
        Column("gear" if shown[0]["gear"] is not None else "development", names, right=True),
        Column("time", [clock(row["seconds"]) for row in shown], unit="h:m:s", right=True),
        Column("share", [percent(row["share"]) for row in shown], right=True),
        Column("", ["#" * max(1, round(_BAR * row["share"] / most)) for row in shown]),
        _summed("distance", "metres", shown, printer.scale("distance"), printer.unit("distance")),
        _summed(
            "climb", "climb_m", shown, printer.scale("development"), printer.unit("development")
        ),
        _summed("work", "work_j", shown, 1.0 / _KILO, "kJ"),
    ]
    print_table([column for column in columns if any(cell != UNKNOWN for cell in column.cells)])
    if rest := len(ridden) - len(shown):
        share = percent(1.0 - sum(row["share"] for row in shown))
        thing = "more gear" if shown[0]["gear"] is not None else "more band"
        say(f"{counted(rest, thing)}: {share} together")
    powered = sum(row["powered_s"] for row in ridden) / sum(row["seconds"] for row in ridden)
    if 0 < powered < _WHOLE:
        say(f"power was recorded for {percent(powered)} of the time; work is that of this time")


def _summed(name: str, key: str, rows: Sequence[Row], scale: float, unit: str) -> Column:
    decimals = 1 if key == "metres" else 0
    cells = [UNKNOWN if row[key] is None else number(row[key] * scale, decimals) for row in rows]
    return Column(name, cells, unit=unit, right=True)
