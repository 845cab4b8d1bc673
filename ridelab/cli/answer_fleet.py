"""What a shop is told first: what needs hands today, then all vehicles side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.cli.output import print_table, say, say_prose
from ridelab.cli.text import Column, counted, printable
from ridelab.report.digits import UNKNOWN, Printer, duration

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from ridelab.cli.answer import Frames
    from ridelab.units import UnitSystem

    Row = dict[str, Any]

_MOST_TOLD = 8
_DAYS_SHOWN = 60
_SERVICE_WORDS = {"no interval": UNKNOWN, "unknown": "unknown", "overdue": "overdue"}
#: How sure a day is that follows from the pace so far.
_PACES = {"steady": "", "uneven": " or so", "erratic": ", roughly", "unknown": ""}


def print_fleet(store: Frames, units: UnitSystem, again: str = "") -> None:
    """Print what needs hands, then one row a vehicle.

    ``again``: the options that lead ``ridelab show`` to this store.
    """
    printer = Printer(units)
    fleet = store.frame("fleet").to_dicts()
    say_prose(_all_together(fleet, printer))
    needs = [*_services(store, printer), *_ladders(store), *_sensors(store), *_unassigned(store)]
    if needs:
        say("needs hands:")
        for need in needs[:_MOST_TOLD]:
            say_prose(f"- {need}")
        if len(needs) > _MOST_TOLD:
            say(f"  … and {len(needs) - _MOST_TOLD} more")
    else:
        say("nothing needs hands: no service is due, no ladder departs, no sensor fails")
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


def _all_together(fleet: Sequence[Row], printer: Printer) -> str:
    rides = sum(row["rides"] for row in fleet)
    metres = sum(row["distance_m"] or 0.0 for row in fleet)
    seconds = sum(row["moving_s"] or 0.0 for row in fleet)
    said = f"{counted(len(fleet), 'vehicle')}, {counted(rides, 'ride')}"
    if not rides:
        return said
    return f"{said}: {printer.value('distance', metres)} in {duration(seconds)}"


def _services(store: Frames, printer: Printer) -> Iterator[str]:
    """Tell what is overdue, then what is due soon."""
    rows = store.frame("service").to_dicts()
    for state in ("overdue", "soon"):
        for row in rows:
            if row["state"] == state:
                yield f"{printable(row['vehicle'])}: {_due(row, printer)}"


def _due(row: Row, printer: Printer) -> str:
    """Say "service overdue by 12 days, and by 40 km", or when and how far off it is."""
    days, metres = row["remaining_days"], row["remaining_m"]
    if row["state"] == "overdue":
        late = [counted(-days, "day")] if days is not None and days < 0 else []
        if metres is not None and metres < 0:
            late.append(printer.value("distance", -metres))
        return f"service overdue by {' and '.join(late)}"
    said = []
    if days is not None and days <= _DAYS_SHOWN:
        said.append(f"due on {row['due_on']}" if days else "due today")
    if metres is not None and (not said or row["next_by"] == "distance"):
        left = f"{printer.value('distance', metres)} left"
        if row["expected_on"] is not None and metres > 0:
            left += f", at its pace until {row['expected_on']}{_PACES[row['pace']]}"
        said.append(left)
    return f"service {'; '.join(said)}"


def _ladders(store: Frames) -> Iterator[str]:
    paths = {row["ride"]: row["path"] for row in store.frame("rides").to_dicts()}
    for row in store.frame("ladder_health").to_dicts():
        if row["kind"] not in ("sound", "not tested"):
            ride = f" ({printable(paths[row['ride']])})" if row["ride"] in paths else ""
            yield f"{printable(row['vehicle'])}: {row['finding']}{ride}"


def _sensors(store: Frames) -> Iterator[str]:
    """Tell of sensors that fail, a line a vehicle; those worth a look are in the table."""
    worst: dict[str, list[Row]] = {}
    for row in store.frame("sensor_health").to_dicts():
        if row["state"] == "failing":
            worst.setdefault(row["vehicle"], []).append(row)
    for vehicle, rows in worst.items():
        more = f", in {counted(len(rows), 'ride')}" if len(rows) > 1 else ""
        yield f"{printable(vehicle)}: {rows[-1]['finding']}{more}: look at its sensors"


def _unassigned(store: Frames) -> Iterator[str]:
    rows = store.frame("unassigned_rides").to_dicts()
    if rows:
        first = rows[0]
        more = " (the first)" if len(rows) > 1 else ""
        yield (
            f"{counted(len(rows), 'ride')} without a vehicle: {printable(first['path'])}{more}: "
            f"{printable(first['reason'])}"
        )


def _columns(fleet: Sequence[Row], printer: Printer) -> list[Column]:
    """Return the table; 80 characters hold it where names are short."""
    return [
        Column("vehicle", [printable(row["vehicle"]) for row in fleet]),
        Column("rides", [str(row["rides"]) for row in fleet], right=True),
        Column("way", [printer.bare("distance", row["distance_m"]) for row in fleet],
               unit=printer.unit("distance"), right=True),
        Column("last", [_day(row["last_ride_at"]) for row in fleet]),
        Column("gears", [_of(row["gears_ridden"], row["gears_published"]) for row in fleet]),
        Column("range", [printer.bare("range", row["range"]) for row in fleet],
               unit=printer.unit("range"), right=True),
        Column("ladder", [_tested(row["health"]) for row in fleet]),
        Column("service", [_service(row) for row in fleet]),
        Column("sensors", [_tested(row["sensors"]) for row in fleet]),
    ]  # fmt: skip


def _of(ridden: int, published: int | None) -> str:
    return str(ridden) if published is None else f"{ridden}/{published}"


def _tested(word: str) -> str:
    return UNKNOWN if word == "not tested" else word


def _day(at: date | None) -> str:
    return UNKNOWN if at is None else f"{at:%Y-%m-%d}"


def _service(row: Row) -> str:
    """Say when it is due, unless it is overdue or nobody knows."""
    state = row["service"]
    if state in _SERVICE_WORDS:
        return _SERVICE_WORDS[state]
    return _day(row["service_on"]) if row["service_on"] is not None else str(state)
