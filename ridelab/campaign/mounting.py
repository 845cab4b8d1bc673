"""Which vehicle a ride was ridden on, where no folder tells: by recording unit, and by dates.

A row of ``[[mounted]]`` says that a unit was on a vehicle for some time.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import combinations
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from ridelab.campaign.table import Table, shown

if TYPE_CHECKING:
    from collections.abc import Collection

_ROWS = "tables, each such as { vehicle = 'heron', from = 2026-03-01, until = 2026-03-14 }"
_WHEN = "a date or a time without quotes, such as 2026-03-01 or 2026-03-01T14:00:00+01:00"
_DEVICE = "the unit's serial number in quotes, as `ridelab show rides` tells it"
_ZONE = "a zone of the IANA database, such as 'Europe/Lisbon'"
_KEYS = ("vehicle", "from", "until", "device", "zone")


@dataclass(frozen=True)
class Mounted:
    """Rides that began from ``start`` on and before ``end`` were ridden on ``vehicle``.

    ``device``: only those that this unit recorded; None for any unit.
    """

    vehicle: str
    start: datetime
    end: datetime
    device: str | None = None

    def speaks_of(self, device: str | None, started_at: datetime) -> bool:
        """Whether a ride that this unit began to record then falls under the row."""
        return self.device in (None, device) and self.start <= started_at < self.end


def read_mounted(top: Table, vehicles: Collection[str]) -> tuple[Mounted, ...]:
    """Return the rows of ``[[mounted]]`` in file order.

    Raises:
        CampaignError: an unknown vehicle, a time that cannot be, or two rows that give the same
            time of what may be the same unit to two vehicles.
    """
    if "mounted" not in top:
        return ()
    tables = top.tables("mounted", _KEYS, _ROWS)
    rows = [_mounted(table, vehicles) for table in tables]
    for (one, _), (other, table) in combinations(zip(rows, tables, strict=True), 2):
        if one.vehicle != other.vehicle and _may_conflict(one, other):
            table.fail(
                "",
                f"gives to {other.vehicle!r} a time that another row gives to {one.vehicle!r}",
                "times that do not overlap, or a device of its own in each row",
            )
    return tuple(rows)


def read_devices(table: Table) -> tuple[str, ...]:
    """Return the serial numbers of the units that are only ever on this vehicle."""
    if "devices" not in table:
        return ()
    accepted = f"a list, each {_DEVICE}"
    found = [str(one) for one in table.items("devices", (str, int), accepted)]
    if not all(found):
        table.fail("devices", f"found {shown(table.raw['devices'])}", accepted)
    return tuple(dict.fromkeys(found))


def _may_conflict(one: Mounted, other: Mounted) -> bool:
    same = one.device is None or other.device is None or one.device == other.device
    return same and one.start < other.end and other.start < one.end


def _mounted(table: Table, vehicles: Collection[str]) -> Mounted:
    vehicle = table.text("vehicle")
    if vehicle not in vehicles:
        table.undefined("vehicle", vehicle, vehicles)
    zone = _zone(table)
    start, end = _when(table, "from", zone), _when(table, "until", zone)
    if end <= start:
        table.fail("until", f"found {shown(table.raw['until'])}", "a time after that of from")
    return Mounted(vehicle, start, end, _device(table))


def _device(table: Table) -> str | None:
    raw = table.raw.get("device")
    if isinstance(raw, int) and not isinstance(raw, bool):
        return str(raw)
    device = table.text("device", None, _DEVICE)
    if device == "":
        table.fail("device", "found an empty text", _DEVICE)
    return device


def _zone(table: Table) -> ZoneInfo:
    name = table.text("zone", "UTC", _ZONE)
    try:
        return ZoneInfo(name)
    except (OSError, ValueError, KeyError):  # by how the name is wrong
        table.fail("zone", f"found {shown(name)}", _ZONE)


def _when(table: Table, key: str, zone: ZoneInfo) -> datetime:
    """Return an instant in UTC; a date stands for its whole day, at either end."""
    value: Any = table.raw.get(key)
    try:
        if isinstance(value, datetime):
            return (value if value.tzinfo else value.replace(tzinfo=zone)).astimezone(UTC)
        if isinstance(value, date):
            day = value + timedelta(days=1) if key == "until" else value
            return datetime.combine(day, time(), zone).astimezone(UTC)
    except OverflowError:
        table.fail(key, f"found {shown(value)}", _WHEN)
    return table.fail(key, "missing" if value is None else f"found {shown(value)}", _WHEN)
