"""Services that a vehicle has had, as the campaign states them, and what is not known of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from typing import TYPE_CHECKING

from ridelab.campaign.table import Table, shown
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelab.campaign.model import Campaign, Vehicle

_STAGE = "service"
_ACCEPTED = "tables, each { on = 2026-03-01 } or { on = 2026-03-01, odometer_km = 400 }"
_DAY = "a date without quotes, such as 2026-03-01"
_KM = "kilometres at that service, from 0 to a million, such as 400"
_MOST_KM = 1e6


@dataclass(frozen=True)
class Serviced:
    """A service that was done: the day, and what the odometer told then, if anybody noted it."""

    on: date
    odometer_km: float | None = None


def read_serviced(table: Table) -> tuple[Serviced, ...]:
    """Return the services of a vehicle, by day.

    Raises:
        CampaignError: an entry without a date, a reading that cannot be, or one below that of an
            earlier service.
    """
    if "serviced" not in table:
        return ()
    rows = table.tables("serviced", ("on", "odometer_km"), _ACCEPTED)
    found = sorted(map(_serviced, rows), key=lambda one: (one.on, one.odometer_km or 0.0))
    known = [one for one in found if one.odometer_km is not None]
    for before, after in pairwise(known):
        if (before.odometer_km or 0.0) > (after.odometer_km or 0.0):
            told = f"{before.odometer_km:g} km on {before.on}, {after.odometer_km:g} on {after.on}"
            table.fail("serviced", f"found {told}", "readings that do not fall")
    return tuple(found)


def service_problems(campaign: Campaign) -> tuple[Problem, ...]:
    """Return for which vehicles an interval cannot be counted from its beginning; all are notes."""
    return tuple(
        Problem(vehicle.name, _STAGE, "note", message)
        for vehicle in campaign.vehicles.values()
        for message in _unknown_start(campaign, vehicle)
    )


def _serviced(table: Table) -> Serviced:
    on = table.raw.get("on")
    if not isinstance(on, date) or isinstance(on, datetime):
        table.fail("on", "missing" if on is None else f"found {shown(on)}", _DAY)
    reading = table.quantity("odometer_km", "length", _KM, None)
    if reading is None:
        return Serviced(on)
    km = reading.value_si / (1000.0 if isinstance(table.raw["odometer_km"], str) else 1.0)
    if not 0 <= km <= _MOST_KM:
        table.fail("odometer_km", f"found {reading.printed}", _KM)
    return Serviced(on, km)


def _unknown_start(campaign: Campaign, vehicle: Vehicle) -> Iterator[str]:
    interval = campaign.drivetrains[vehicle.drivetrain].service if vehicle.drivetrain else None
    if interval is None or vehicle.serviced:
        return
    if interval.every_km is not None and vehicle.odometer_km is None:
        yield (
            f"its drivetrain is due for service every {interval.every_km:g} km, but neither "
            "odometer_km nor serviced is stated: the way before the first ride is not counted; "
            "accepted: odometer_km, its reading before the first ride"
        )
    if interval.every_months is not None:
        yield (
            f"its drivetrain is due for service every {interval.every_months:g} months, but no "
            "service is stated: months count from the first ride; accepted: "
            "serviced = [{ on = 2026-03-01 }]"
        )
