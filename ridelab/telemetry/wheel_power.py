"""Power at the driven wheel, out of a field that the file itself describes.

The FIT profile has one field of power a record. A second meter writes a developer field; which one
that is only its owner can tell.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from ridelab.errors import NotAccepted, nearest
from ridelab.telemetry.notes import Notes
from ridelab.units import unit_si

if TYPE_CHECKING:
    from ridelab.telemetry.ride import Ride


def with_wheel_power(ride: Ride, field: str) -> Ride:
    """Return the ride with one of its extra fields as ``wheel_power_w``.

    ``field``: its name in the file, with its unit in brackets or without. Without a unit it is
    taken as watts. Where the file has no such field, or it holds no power, that is told and the
    ride stays as it is.
    """
    notes = Notes(ride.path)
    known = {_name(label): label for label in ride.extra_fields.columns if label != "t_s"}
    label = field if field in known.values() else known.get(field)
    if label is None:
        notes.note(f"no field {field!r} for the power at the wheel; {nearest(field, known)}")
        return _told(ride, notes)
    values = ride.extra_fields[label]
    try:
        watts = unit_si(_unit(label) or "W", "power")
    except NotAccepted as error:
        notes.warn(f"field {label!r} is not taken for the power at the wheel: {error}")
        return _told(ride, notes)
    if not values.dtype.is_numeric():
        notes.warn(f"field {label!r} is not taken for the power at the wheel: it holds text")
        return _told(ride, notes)
    power = (values.cast(pl.Float64) * watts).alias("wheel_power_w")
    return replace(ride, samples=ride.samples.with_columns(power))


def _told(ride: Ride, notes: Notes) -> Ride:
    return replace(ride, problems=(*ride.problems, *notes.problems))


def _name(label: str) -> str:
    return label.partition(" [")[0]


def _unit(label: str) -> str:
    return label.partition(" [")[2].partition("]")[0].strip()
