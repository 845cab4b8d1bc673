"""Device messages -> paired sensors, the source of the speed, the wheel that the unit was told."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
from polars import col

from ridelab.telemetry.channels import moves
from ridelab.telemetry.fit.messages import enumeration

if TYPE_CHECKING:
    from ridelab.telemetry.fit.messages import FitMessages
    from ridelab.telemetry.notes import Notes
    from ridelab.telemetry.ride import SpeedSource

WHEEL_SENSORS = frozenset({"bike_speed", "bike_speed_cadence"})

#: Units of before source_type number their own parts among the sensors: the unit itself, its
#: barometer and its satellite receiver bear these two types (seen in the files of several units).
OWN_PARTS = frozenset({"antfs", "environment_sensor_legacy"})

#: Type of a barometer among the unit's own parts (``local_device_type`` of the FIT profile).
BAROMETER = 4

INDOOR = frozenset({"indoor_cycling", "spin"})


def paired_sensors(device_info: pl.DataFrame) -> tuple[str, ...]:
    """Kinds of the sensors that were paired at any time, in the words of the FIT profile.

    In the order of their first mention. Parts of the unit itself are none. A type that the profile
    does not know is ``unknown_N``.
    """
    other = device_info.filter(col("device_index").ne_missing("creator"))
    kinds = (_kind(*row) for row in other.select("source_type", "device_type").iter_rows())
    return tuple(dict.fromkeys(kind for kind in kinds if kind is not None))


def _kind(source: str | None, number: int | None) -> str | None:
    antplus = enumeration("antplus_device_type")
    if number is None:
        return None
    if source == "antplus":
        return antplus.get(number, f"unknown_{number}")
    if source == "bluetooth_low_energy":
        # Some units write the ANT+ number here too; the two ranges hardly meet.
        known = {**antplus, **enumeration("ble_device_type")}
        return known.get(number, f"unknown_{number}")
    kind = antplus.get(number) if source is None else None
    return None if kind in OWN_PARTS else kind


def speed_source(
    samples: pl.DataFrame, sensors: tuple[str, ...], found: FitMessages, notes: Notes
) -> SpeedSource:
    """Where the file says that the speed comes from.

    A paired wheel sensor is what units prefer. Without one, satellite positions are taken as the
    source if the file lists more than the unit itself, so that it would have told of a sensor.
    A power meter in the hub may give speed too, but no field says so: it is not counted.
    """
    if not moves(samples):
        return "none"
    sub_sports = set(found["session"]["sub_sport"]) | set(found["sport"]["sub_sport"])
    wheel = bool(WHEEL_SENSORS & set(sensors))
    if "virtual_activity" in sub_sports or (INDOOR & sub_sports and not wheel):
        notes.warn("a virtual or indoor ride: software may have computed its speed")
        return "unknown"
    if wheel:
        return "wheel sensor"
    tells = bool(sensors) or (found["device_info"]["device_index"] != "creator").any()
    located = samples["lat_deg"].is_not_null().any()
    return "satellite" if tells and located else "unknown"


def has_barometer(device_info: pl.DataFrame) -> bool:
    """Whether the unit lists a barometer among its own parts; older ones do not say what parts."""
    own = (col("source_type") == "local") & (col("device_type") == BAROMETER)
    return bool(device_info.select(own.fill_null(value=False).any()).item())


def serial_number(file_id: pl.DataFrame) -> str | None:
    """Serial number of the unit that wrote the file; None where none is told, or parts differ."""
    known = file_id["serial_number"].drop_nulls().unique()
    return str(known[0]) if len(known) == 1 else None


def wheel_rollout_m(bike_profiles: pl.DataFrame) -> float | None:
    """Wheel circumference set in the unit; None where none is, or several differ."""
    if bike_profiles.is_empty():
        return None
    set_by_hand = pl.when(col("custom_wheelsize") > 0).then(col("custom_wheelsize"))
    measured = pl.when(col("auto_wheelsize") > 0).then(col("auto_wheelsize"))
    sizes = (
        bike_profiles.filter(col("enabled").ne_missing(0))
        .select(size=pl.coalesce(set_by_hand, measured))["size"]
        .drop_nulls()
        .unique()
    )
    return float(sizes[0]) if len(sizes) == 1 else None
