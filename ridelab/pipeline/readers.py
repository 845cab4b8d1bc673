"""What files are read with: loggers, a rollout, a field of power, by the vehicle they belong to.

Which vehicle a file of the campaign's own globs belongs to is known by its unit and time
only, so it is read once to learn these, and again if its vehicle's settings make another of it.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridelab import telemetry
from ridelab.errors import RideError
from ridelab.pipeline.assigning import assigned
from ridelab.store import READER

if TYPE_CHECKING:
    from datetime import datetime

    from ridelab.campaign import Campaign, Logger
    from ridelab.telemetry import Content, Ride

_OF_FIELD = " field "
#: Turns of a wheel are counted as this long until it is known whose wheel it is; of no ride kept.
_SOME_ROLLOUT_M = 2.1


@dataclass(frozen=True)
class Reading:
    """What the files of one vehicle are read with.

    ``reader``: version, loggers and rollout, and the field of the power at the wheel, as one text;
    another text, another result. Only files that loggers are tried on depend on more than the
    version, and FIT files on that field. ``tried``: what it depends on whether a file can be read.
    """

    loggers: tuple[Logger, ...]
    rollout_m: float | None
    reader: str
    tried: str
    wheel_power_field: str | None = None


class Readings:
    """What every file of a campaign is read with."""

    def __init__(self, campaign: Campaign) -> None:
        self._campaign = campaign
        self._of = {
            name: _reading(
                campaign.loggers_of(name), vehicle.counted_rollout_m, vehicle.meters.wheel_field
            )
            for name, vehicle in campaign.vehicles.items()
        }
        loggers = tuple(campaign.loggers.values())
        rules = (
            campaign.mounted,
            [(one.devices, self._of[one.name]) for one in campaign.vehicles.values()],
        )
        self._unknown = _reading(loggers, None, None, rules)

    def of(self, vehicle: str | None) -> Reading:
        """Return what files named by the globs of a vehicle are read with, or by those of none."""
        return self._unknown if vehicle is None else self._of[vehicle]

    def of_ride(self, vehicle: str | None, device: str | None, started_at: datetime) -> Reading:
        """Return what a ride is read with; ``vehicle``: whose globs name its file."""
        if vehicle is None:
            vehicle = assigned(self._campaign, None, device, started_at).vehicle
        return self.of(vehicle)

    def read(self, content: Content, vehicle: str | None) -> tuple[Ride, Reading]:
        """Read one content as the vehicle's that it belongs to; return with what it was read.

        Raises:
            RideError: as of ``telemetry.read_content``; or turns of nobody knows whose wheel.
        """
        if vehicle is not None:
            return _read(content, self.of(vehicle))
        ride = telemetry.read_content(content, self._unknown.loggers, _SOME_ROLLOUT_M, None)
        where = assigned(self._campaign, None, ride.device, ride.started_at)
        by_turns = ride.format == "csv" and ride.wheel_rollout_m is not None
        if where.vehicle is None and by_turns:
            raise RideError(
                f"{content.path}: its speed is told in turns of a wheel, and nothing tells of "
                f"which vehicle: {where.reason}; accepted: a row of [[mounted]] for its time, or "
                "its name in the rides of a vehicle"
            )
        own = self.of(where.vehicle)
        if by_turns or enters(own.reader, ride.format) != enters(self._unknown.reader, ride.format):
            return _read(content, own)
        return ride, own


def enters(reader: str, form: str) -> str:
    """Return the part of a reader's text that what it makes of a file of that format depends on."""
    of_loggers, _, of_field = reader.partition(_OF_FIELD)
    return of_loggers if form == "csv" else of_field if form == "fit" else ""


def _read(content: Content, reading: Reading) -> tuple[Ride, Reading]:
    ride = telemetry.read_content(
        content, reading.loggers, reading.rollout_m, reading.wheel_power_field
    )
    return ride, reading


def _reading(
    loggers: tuple[Logger, ...], rollout_m: float | None, field: str | None, rules: object = None
) -> Reading:
    """``rules``: what gives files of no vehicle's globs to one, and tells whose turns they are."""
    reader = tried = READER
    if loggers:
        turns = any(logger.needs_rollout for logger in loggers)
        reader += f" {_word((loggers, rollout_m if turns else None))}"
        tried = f"{reader} {_word(rules)}" if turns and rules is not None else reader
    if field is not None:
        reader += f"{_OF_FIELD}{_word(field)}"
        tried = reader
    return Reading(loggers, rollout_m, reader, tried, field)


def _word(settings: object) -> str:
    return hashlib.sha256(repr(settings).encode()).hexdigest()[:16]
