"""Which vehicle a ride belongs to: by its folder, by a row of dates, by its recording unit.

Nothing is guessed: rules that give a ride to different vehicles leave it to none. A row of dates
goes before the unit's usual vehicle, for that is what such a row is for; a vehicle's own globs and
the others must agree.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from ridelab.pipeline.overlapping import FIRST_YEAR

if TYPE_CHECKING:
    from datetime import datetime

    from ridelab.campaign import Campaign


class Assigned(NamedTuple):
    """The vehicle of a ride; None where no rule, or more than one, gives it one, and why."""

    vehicle: str | None
    reason: str = ""


def assigned(
    campaign: Campaign, claimed_by: str | None, device: str | None, started_at: datetime
) -> Assigned:
    """Return where a ride belongs. ``claimed_by``: the vehicle whose globs name its file."""
    by_date = {
        row.vehicle: f"a row of [[mounted]] gives it to {row.vehicle!r}"
        for row in campaign.mounted
        if row.speaks_of(device, started_at)
    }
    by_unit = {
        vehicle.name: f"its recording unit {device} is one of {vehicle.name!r}"
        for vehicle in campaign.vehicles.values()
        if device is not None and device in vehicle.devices
    }
    told = by_date or by_unit
    if claimed_by is not None:
        told = {claimed_by: f"the globs of {claimed_by!r} name its file"} | told
    if len(told) == 1:
        return Assigned(next(iter(told)))
    if told:
        return Assigned(None, f"{', but '.join(told.values())}; it is given to none")
    unit = f"no vehicle has its recording unit {device}" if device else "it names no recording unit"
    when = f"no row of [[mounted]] covers {started_at:%Y-%m-%d %H:%M} UTC"
    if started_at.year < FIRST_YEAR:
        when = "nothing says when it was recorded, for a row of [[mounted]] to cover"
    return Assigned(None, f"no vehicle's globs name its file, {unit}, and {when}")
