"""What a shop is told of its fleet, in words: for the terminal and for the page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.report.digits import UNKNOWN, count, duration

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from ridelab.report.digits import Printer
    from ridelab.report.findings import Frames

    Row = dict[str, Any]

ALL_WELL = "nothing needs hands: no service is due, no ladder departs, no sensor fails"
_DAYS_SHOWN = 60
_NAMES_SHOWN = 3
_SERVICE_WORDS = {
    "no interval": UNKNOWN, "unknown": "unknown", "overdue": "overdue", "soon": "soon",
}  # fmt: skip
#: How sure a day is that follows from the pace so far.
_PACES = {"steady": "", "uneven": " or so", "erratic": ", roughly", "unknown": ""}


def needs_hands(store: Frames, printer: Printer) -> list[str]:
    """Return what should be looked at, a sentence each: services, ladders, sensors, rides."""
    return [
        *_services(store, printer),
        *_ladders(store),
        *_sensors(store),
        *_unassigned(store),
        *_unridden(store),
    ]


def all_together(fleet: Sequence[Row], printer: Printer) -> str:
    """Say how many vehicles and rides there are, and how far and long they went."""
    rides = sum(row["rides"] for row in fleet)
    metres = sum(row["distance_m"] or 0.0 for row in fleet)
    seconds = sum(row["moving_s"] or 0.0 for row in fleet)
    said = f"{count(len(fleet), 'vehicle')}, {count(rides, 'ride')}"
    if not rides:
        return said
    return f"{said}: {printer.value('distance', metres)} in {duration(seconds)}"


def _services(store: Frames, printer: Printer) -> Iterator[str]:
    """Tell what is overdue, then what is due soon."""
    rows = store.frame("service").to_dicts()
    for state in ("overdue", "soon"):
        for row in rows:
            if row["state"] == state:
                yield f"{row['vehicle']}: {_due(row, printer)}"


def _due(row: Row, printer: Printer) -> str:
    """Say "service overdue by 12 days, and by 40 km", or when and how far off it is."""
    days, metres = row["remaining_days"], row["remaining_m"]
    if row["state"] == "overdue":
        late = [count(-days, "day")] if days is not None and days < 0 else []
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


def _unridden(store: Frames) -> Iterator[str]:
    """Tell of vehicles that nothing is known of."""
    names = [row["vehicle"] for row in store.frame("fleet").to_dicts() if not row["rides"]]
    if names:
        many = count(len(names), "vehicle") if len(names) > _NAMES_SHOWN else ", ".join(names)
        yield f"no ride of {many} was read: ladders and sensors not looked at"


def _ladders(store: Frames) -> Iterator[str]:
    """Tell of ladders, a line a finding; of rides that stand apart, a line a vehicle."""
    paths = {row["ride"]: row["path"] for row in store.frame("rides").to_dicts()}
    told: dict[tuple[str, ...], list[Row]] = {}
    for row in store.frame("ladder_health").to_dicts():
        if row["kind"] not in ("sound", "not tested"):
            own = "" if row["kind"] == "ride apart" else row["finding"]
            told.setdefault((row["vehicle"], row["kind"], own), []).append(row)
    for (vehicle, *_), rows in told.items():
        found = [paths[row["ride"]] for row in rows if row["ride"] in paths]
        ride = f" ({found[0]})" if found else ""
        yield f"{vehicle}: {rows[0]['finding']}{ride}{_likewise(found[1:])}"


def _likewise(paths: Sequence[str]) -> str:
    """Say of which other rides the same is to be said."""
    if not paths:
        return ""
    said = f"; likewise {count(len(paths), 'other ride')}"
    return said if len(paths) > _NAMES_SHOWN else f"{said}: {', '.join(paths)}"


def _sensors(store: Frames) -> Iterator[str]:
    """Tell of sensors that fail, a line a vehicle; those worth a look are in the table."""
    worst: dict[str, list[Row]] = {}
    for row in store.frame("sensor_health").to_dicts():
        if row["state"] == "failing":
            worst.setdefault(row["vehicle"], []).append(row)
    for vehicle, rows in worst.items():
        more = f", in {count(len(rows), 'ride')}" if len(rows) > 1 else ""
        yield f"{vehicle}: {rows[-1]['finding']}{more}: look at its sensors"


def _unassigned(store: Frames) -> Iterator[str]:
    rows = store.frame("unassigned_rides").to_dicts()
    if rows:
        first = rows[0]
        more = " (the first)" if len(rows) > 1 else ""
        yield (
            f"{count(len(rows), 'ride')} without a vehicle: {first['path']}{more}: "
            f"{first['reason']}"
        )


def ridden_of(ridden: int, published: int | None) -> str:
    """Return "9/9", or the gears ridden where none are published; a dash where there are none."""
    if published is None:
        return str(ridden) if ridden else UNKNOWN
    return f"{ridden}/{published}"


def tested(word: str) -> str:
    """Return a word of ``fleet``, a dash for what was not tested."""
    return UNKNOWN if word == "not tested" else word


def day(at: date | None) -> str:
    """Return a day as it is written everywhere."""
    return UNKNOWN if at is None else f"{at:%Y-%m-%d}"


def service_word(row: Row) -> str:
    """Say when the next service is due, unless it is overdue, soon, or nobody knows.

    Soon may be by the distance left, long before the day that the months come to.
    """
    state = row["service"]
    if state in _SERVICE_WORDS:
        return _SERVICE_WORDS[state]
    return day(row["service_on"]) if row["service_on"] is not None else str(state)
