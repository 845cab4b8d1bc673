"""A simulated ride -> the messages that a recording unit writes for it, in its order."""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING

import polars as pl
from polars import col

from ridelab.simulate.fitfile import FIT_EPOCH_S, by_time

if TYPE_CHECKING:
    from datetime import datetime

    from ridelab.simulate.fitfile import Table
    from ridelab.simulate.ride import SimulatedRide

_SEMICIRCLES_PER_DEG = 2**31 / 180
_CADENCE_FRACTIONS = 128
#: antplus_device_type of the FIT profile.
_BIKE_POWER, _SHIFTING, _BIKE_CADENCE, _BIKE_SPEED = 11, 34, 122, 123
PRODUCT = "simulated ride"
_SPORT = pl.DataFrame({"sport": ["cycling"], "sub_sport": ["road"]})


def activity_tables(
    ride: SimulatedRide, started_at: datetime, serial: int | None = None
) -> list[Table]:
    """All messages of an activity; ``timestamp`` counts seconds from the FIT epoch.

    ``serial``: of the recording unit, which not every unit tells.
    """
    start = int(started_at.replace(tzinfo=started_at.tzinfo or UTC).timestamp()) - FIT_EPOCH_S
    length_s = float(ride.recorded["t_s"][-1])
    end = start + int(length_s)
    changes = _gear_events(ride.gear_changes, start)
    timed = [_timer_events(ride.pauses, start, end), *changes, ("record", _records(ride, start))]
    paused_s = float((ride.pauses["end_s"] - ride.pauses["start_s"]).sum())
    return [
        ("file_id", _file_id(start, serial)),
        ("device_info", _devices(ride, start)),
        ("sport", _SPORT),
        *by_time(timed),
        ("session", _session(ride, start, end, length_s - paused_s)),
        ("activity", _activity(end, length_s - paused_s)),
    ]


def settings_tables(created_at: datetime) -> list[Table]:
    """Messages of a file that holds the settings of a unit: FIT, but no ride."""
    start = int(created_at.replace(tzinfo=created_at.tzinfo or UTC).timestamp()) - FIT_EPOCH_S
    return [
        ("file_id", _file_id(start).with_columns(type=pl.lit("settings"))),
        ("bike_profile", pl.DataFrame({"custom_wheelsize": [2.1], "enabled": [1]})),
    ]


def _file_id(start: int, serial: int | None = None) -> pl.DataFrame:
    told = pl.DataFrame(
        {
            "type": ["activity"],
            "manufacturer": ["development"],
            "time_created": [start],
            "product_name": [PRODUCT],
        }
    )
    return told if serial is None else told.with_columns(serial_number=pl.lit(serial))


def _devices(ride: SimulatedRide, start: int) -> pl.DataFrame:
    """The unit itself, then each paired sensor."""
    sensors = ride.scenario.sensors
    paired = [
        *([_BIKE_SPEED] if sensors.speed == "wheel sensor" else []),
        _BIKE_CADENCE,
        *([_BIKE_POWER] if sensors.power_meter else []),
        *([_SHIFTING] if sensors.gear_events else []),
    ]
    count = 1 + len(paired)
    return pl.DataFrame(
        {
            "timestamp": [start] * count,
            "device_index": list(range(count)),
            "device_type": [None, *paired],
            "source_type": ["local", *["antplus"] * len(paired)],
            "manufacturer": ["development"] * count,
        }
    )


def _timer_events(pauses: pl.DataFrame, start: int, end: int) -> Table:
    kinds, times = ["start"], [start]
    for stop_s, start_s in pauses.iter_rows():
        kinds += ["stop_all", "start"]
        times += [start + int(stop_s), start + int(start_s)]
    frame = pl.DataFrame(
        {"timestamp": [*times, end], "event": "timer", "event_type": [*kinds, "stop_all"]}
    )
    return "event", frame


def _gear_events(changes: pl.DataFrame, start: int) -> list[Table]:
    """One event a change; FIT profile, gear_change_data: four bytes, unknown ones 0."""
    if changes.is_empty():
        return []
    front, front_teeth, rear, rear_teeth = (
        col(name).fill_null(0).cast(pl.Int64)
        for name in ("front_gear", "front_teeth", "rear_gear", "rear_teeth")
    )
    in_front = front.diff().fill_null(0) != 0
    frame = changes.select(
        timestamp=start + col("t_s").floor().cast(pl.Int64),
        event=pl.when(in_front)
        .then(pl.lit("front_gear_change"))
        .otherwise(pl.lit("rear_gear_change")),
        event_type=pl.lit("marker"),
        data=rear + rear_teeth * 2**8 + front * 2**16 + front_teeth * 2**24,
    )
    return [("event", frame)]


def _records(ride: SimulatedRide, start: int) -> pl.DataFrame:
    """Records without the columns that the unit has no sensor for."""
    whole = col("cadence_rpm").floor()
    fraction = (col("cadence_rpm") - whole).round(7)
    frame = ride.recorded.select(
        timestamp=start + col("t_s").cast(pl.Int64),
        position_lat=(col("lat_deg") * _SEMICIRCLES_PER_DEG).round(),
        position_long=(col("lon_deg") * _SEMICIRCLES_PER_DEG).round(),
        enhanced_altitude="altitude_m",
        distance="distance_m",
        enhanced_speed="speed_mps",
        cadence=whole,
        fractional_cadence=fraction,
        power="power_w",
    )
    sensors = ride.scenario.sensors
    unwanted = [
        *([] if sensors.cadence_fraction else ["fractional_cadence"]),
        *([] if sensors.power_meter else ["power"]),
    ]
    return frame.drop(unwanted)


def _session(ride: SimulatedRide, start: int, end: int, timer_s: float) -> pl.DataFrame:
    distance = ride.recorded["distance_m"].drop_nulls()
    return pl.DataFrame(
        {
            "timestamp": [end],
            "event": ["session"],
            "event_type": ["stop"],
            "start_time": [start],
            "total_elapsed_time": [float(end - start)],
            "total_timer_time": [timer_s],
            "total_distance": [distance[-1] if len(distance) else None],
        }
    ).hstack(_SPORT)


def _activity(end: int, timer_s: float) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "timestamp": [end],
            "num_sessions": [1],
            "type": ["manual"],
            "event": ["activity"],
            "event_type": ["stop"],
            "total_timer_time": [timer_s],
        }
    )
