"""What a shop is told first: what needs hands today, then all vehicles side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.cli.output import print_table, say, say_prose
from ridelab.cli.text import Column, printable
from ridelab.report.digits import Printer
from ridelab.report.fleet_words import (
    ALL_WELL,
    all_together,
    day,
    needs_hands,
    ridden_of,
    service_word,
    tested,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.cli.answer import Frames
    from ridelab.units import UnitSystem

    Row = dict[str, Any]

_MOST_TOLD = 8


def print_fleet(store: Frames, units: UnitSystem, again: str = "") -> None:
    """Print what needs hands, then one row a vehicle.

    ``again``: the options that lead ``ridelab show`` to this store.
    """
    printer = Printer(units)
    fleet = store.frame("fleet").to_dicts()
    say_prose(all_together(fleet, printer))
    needs = needs_hands(store, printer)
    if needs:
        say("needs hands:")
        for need in needs[:_MOST_TOLD]:
            say_prose(f"- {need}")
        if len(needs) > _MOST_TOLD:
            say(f"  … and {len(needs) - _MOST_TOLD} more")
    else:
        say(ALL_WELL)
    say()
    if fleet:
        print_table(_columns(fleet, printer))
        say()
    say_prose(
        "service only reminds: intervals are the maker's, and way that was not recorded is not "
        "counted. Days, departures and sensors in full:"
    )
    for relation in ("service", "ladder_health", "sensor_health"):
        say(f"  ridelab show {relation}{again}")


def _columns(fleet: Sequence[Row], printer: Printer) -> list[Column]:
    """Return the table; 80 characters hold it where names are short."""
    return [
        Column("vehicle", [printable(row["vehicle"]) for row in fleet]),
        Column("rides", [str(row["rides"]) for row in fleet], right=True),
        Column("way", [printer.bare("distance", row["distance_m"]) for row in fleet],
               unit=printer.unit("distance"), right=True),
        Column("last", [day(row["last_ride_at"]) for row in fleet]),
        Column("gears", [ridden_of(row["gears_ridden"], row["gears_published"]) for row in fleet]),
        Column("range", [printer.bare("range", row["range"]) for row in fleet],
               unit=printer.unit("range"), right=True),
        Column("ladder", [tested(row["health"]) for row in fleet]),
        Column("service", [service_word(row) for row in fleet]),
        Column("sensors", [tested(row["sensors"]) for row in fleet]),
    ]  # fmt: skip
