"""CSV from data loggers and test benches: read as a ``[loggers.NAME]`` table of the campaign says.

``rows`` turns the bytes into columns of text and of numbers, ``instants`` the time column into
seconds, ``turns`` counts of pulses into rates, ``windows`` brings channels of different rates onto
one time base. A file belongs to the logger whose columns are all in its header.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from ridelab.errors import NotARide, RideError, UnknownFormat
from ridelab.telemetry import channels, clock
from ridelab.telemetry.logs import instants, rows
from ridelab.telemetry.logs.samples import samples
from ridelab.telemetry.notes import Notes
from ridelab.telemetry.ride import PAUSE_SCHEMA, Ride

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ridelab.campaign.loggers import Logger

__all__ = ["read"]


def read(
    path: Path, content: bytes, loggers: Sequence[Logger], rollout_m: float | None = None
) -> Ride:
    """Read a CSV file by the one logger that fits its header.

    ``rollout_m``: metres a turn of the driven wheel; needed where speed is told in its turns.

    Raises:
        UnknownFormat: no logger fits.
        RideError: several fit, or the one that does needs a rollout.
        NotARide: no row has a time and a value.
    """
    logger = _fitting(path, content, loggers)
    if logger.needs_rollout and rollout_m is None:
        raise RideError(
            f"{path}: logger {logger.name!r} tells speed in turns of the wheel, and the vehicle "
            "has no rollout; accepted: rollout_m or tyre of the vehicle"
        )
    notes = Notes(path)
    table = instants.in_time(rows.read(content, logger, notes), logger, path, notes)
    if table.rows.is_empty():
        raise NotARide(f"{path}: no row with a time and a value, read by logger {logger.name!r}")
    found = samples(table.rows, logger, rollout_m, notes)
    channels.tell_missing(found.samples, notes)
    clock.tell_silences(found.samples["t_s"], PAUSE_SCHEMA.to_frame(), notes)
    return Ride(
        path=path,
        sha256=hashlib.sha256(content).hexdigest(),
        format="csv",
        started_at=table.started_at(found.first_s),
        samples=found.samples,
        speed_source=logger.speed_from if channels.moves(found.samples) else "none",
        cadence_resolution_rpm=found.cadence_resolution_rpm,
        wheel_rollout_m=rollout_m if logger.needs_rollout else None,
        problems=tuple(notes.problems),
    )


def _fitting(path: Path, content: bytes, loggers: Sequence[Logger]) -> Logger:
    headers = {logger.name: frozenset(rows.header(content, logger)) for logger in loggers}
    fitting = [logger for logger in loggers if logger.columns <= headers[logger.name]]
    if len(fitting) > 1:
        names = " and ".join(repr(logger.name) for logger in fitting)
        raise RideError(
            f'{path}: loggers {names} both fit its header; accepted: logger = "{fitting[0].name}" '
            "in the table of the vehicle whose rides name it"
        )
    if fitting:
        return fitting[0]
    nearest = max(loggers, key=lambda logger: len(logger.columns & headers[logger.name]))
    lacking = nearest.columns - headers[nearest.name]
    if len(lacking) == len(nearest.columns):
        raise UnknownFormat(f"{path}: not a ride file, and no logger of the campaign fits it")
    columns = ", ".join(repr(column) for column in sorted(lacking))
    raise UnknownFormat(
        f"{path}: no logger of the campaign fits its header: {nearest.name!r} also has {columns}"
    )
