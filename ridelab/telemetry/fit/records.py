"""Record messages -> samples: one row an instant, SI units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from polars import col

from ridelab.telemetry.fit.developer import PREFIX
from ridelab.telemetry.geodesy import running_m
from ridelab.telemetry.notes import counted
from ridelab.telemetry.ride import EXTRA_FIELDS_SCHEMA, SAMPLE_SCHEMA

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.telemetry.notes import Notes

#: FIT protocol: a date_time below this counts from when the unit was switched on.
CLOCK_SET_FROM_S = 0x10000000

#: date_time is an unsigned 32-bit number; anything else comes from a damaged layout.
TIME_END_S = 0xFFFFFFFF

DEG_PER_SEMICIRCLE = 180 / 2**31

#: FIT profile: scale of record.fractional_cadence.
FRACTIONAL_CADENCE_RPM = 1 / 128

DAY_S = 86_400


#: In a damaged file a time is compared with the middle of so many around it.
NEIGHBOURS = 21


def with_time(records: pl.DataFrame, notes: Notes, *, damaged: bool = False) -> pl.DataFrame:
    """Records that say when they were made, in file order.

    The message in which a damage begins is often read with bytes of the next one. In a damaged
    file a record is left out whose time is more than a day off those around it.
    """
    times_s = records["timestamp"].to_numpy()
    known = (times_s >= 0) & (times_s < TIME_END_S)
    timed = records if known.all() else records.filter(known)
    left_out = len(records) - len(timed)
    if left_out and len(timed):
        notes.warn(f"{counted(left_out, 'record')} without a time: left out")
    if not damaged:
        return timed
    around = col("timestamp").rolling_median(NEIGHBOURS, min_samples=1, center=True)
    sensible = timed.filter((col("timestamp") - around).abs() <= DAY_S)
    misread = len(timed) - len(sensible)
    if misread:
        notes.warn(f"{counted(misread, 'record')} with a time far from all around it: left out")
    return sensible


def travelled_m(records: pl.DataFrame) -> NDArray[np.float64]:
    """Metres travelled up to each record: the distance field, or else along the positions."""
    distance = records["distance"].fill_null(np.nan).to_numpy()
    if (np.diff(distance) > 0).any():
        return distance
    lat, lon = (
        records[name].fill_null(np.nan).to_numpy() * DEG_PER_SEMICIRCLE
        for name in ("position_lat", "position_long")
    )
    return running_m(lat, lon)


def samples(records: pl.DataFrame) -> pl.DataFrame:
    """Ordered records -> the columns of ``SAMPLE_SCHEMA``; the timer runs in all of them.

    A unit that writes the wider ``enhanced`` field means it to be read first. Positions are
    semicircles: 2**31 of them make 180 degrees (FIT profile).
    """
    return records.select(
        t_s=col("timestamp") - col("timestamp").first(),
        speed_mps=pl.coalesce("enhanced_speed", "speed"),
        cadence_rpm=col("cadence") + col("fractional_cadence").fill_null(0.0),
        power_w="power",
        wheel_power_w=pl.lit(None),
        altitude_m=pl.coalesce("enhanced_altitude", "altitude"),
        distance_m="distance",
        lat_deg=col("position_lat") * DEG_PER_SEMICIRCLE,
        lon_deg=col("position_long") * DEG_PER_SEMICIRCLE,
        timer_running=pl.lit(value=True),
    ).cast(SAMPLE_SCHEMA)


def extra_fields(records: pl.DataFrame) -> pl.DataFrame:
    """Ordered records -> their time and the fields that the file itself describes, by name."""
    own = {
        name.removeprefix(PREFIX): col(name) for name in records.columns if name.startswith(PREFIX)
    }
    if not own:
        return EXTRA_FIELDS_SCHEMA.to_frame()
    if "t_s" in own:
        own["t_s #2"] = own.pop("t_s")
    return records.select(t_s=col("timestamp") - col("timestamp").first(), **own)


def cadence_resolution_rpm(records: pl.DataFrame) -> float:
    """Smallest step of the recorded cadence: 1/128 where any fraction is there, else 1."""
    return FRACTIONAL_CADENCE_RPM if (records["fractional_cadence"] > 0).any() else 1.0


def tell_clock(records: pl.DataFrame, notes: Notes) -> None:
    """Write down that the date is not known, if it is not."""
    if (records["timestamp"] < CLOCK_SET_FROM_S).all():
        notes.note("the clock of the unit was never set: the date is not known")
