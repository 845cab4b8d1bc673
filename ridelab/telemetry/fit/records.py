"""Record messages -> samples: one row an instant, SI units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from polars import col

from ridelab.telemetry.fit.developer import PREFIX
from ridelab.telemetry.notes import counted
from ridelab.telemetry.ride import EXTRA_FIELDS_SCHEMA, SAMPLE_SCHEMA

if TYPE_CHECKING:
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
    timed = records.filter(col("timestamp").is_between(0, TIME_END_S, closed="left"))
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


def in_order(records: pl.DataFrame, notes: Notes) -> pl.DataFrame:
    """One record an instant, in order of time: of equal times the later non-null values win.

    Some units write one instant as several records, each with some of the values.
    """
    backward = int((records["timestamp"].diff() < 0).sum())
    if backward:
        notes.warn(f"the time steps back {counted(backward, 'time')}: records put in order of time")
    ordered = records.sort("timestamp", maintain_order=True) if backward else records
    times_s = ordered["timestamp"].to_numpy()
    as_before = times_s[1:] == times_s[:-1]
    if not as_before.any():
        return ordered
    shared = np.append(as_before, False) | np.insert(as_before, 0, False)
    alone, together = ordered.filter(~shared), ordered.filter(shared)
    return pl.concat([alone, _merged(together, notes)]).sort("timestamp")


def _merged(records: pl.DataFrame, notes: Notes) -> pl.DataFrame:
    """Records in order of time, each of which shares its time with another -> one a time."""
    instants = records.group_by("timestamp", maintain_order=True)
    different = pl.all().exclude("part").drop_nulls().n_unique().cast(pl.Int64)
    lost = instants.agg((different - 1).clip(0)).drop("timestamp")
    replaced = int(lost.sum().sum_horizontal()[0])
    merged = instants.agg(pl.all().drop_nulls().last()).select(records.columns)
    text = f"{counted(len(records) - len(merged), 'record')} with the time of another: merged"
    if replaced:
        notes.warn(f"{text}, {counted(replaced, 'value')} gave way to a later one")
    else:
        notes.note(f"{text}, no value lost")
    return merged


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
    own.pop("t_s", None)
    return records.select(t_s=col("timestamp") - col("timestamp").first(), **own)


def cadence_resolution_rpm(records: pl.DataFrame) -> float:
    """Smallest step of the recorded cadence: 1/128 where any fraction is there, else 1."""
    return FRACTIONAL_CADENCE_RPM if (records["fractional_cadence"] > 0).any() else 1.0


def moves(found: pl.DataFrame) -> bool:
    """Whether any sample has a speed, or the distance grows."""
    return bool((found["speed_mps"] > 0).any() or (found["distance_m"].diff() > 0).any())


def judge(records: pl.DataFrame, found: pl.DataFrame, notes: Notes) -> None:
    """Write down what keeps these samples from naming a gear, and a clock that cannot be."""
    if not moves(found):
        notes.warn("no speed and no distance: no gear can be named")
    if not (found["cadence_rpm"] > 0).any():
        notes.warn("no cadence: no gear can be named")
    unset = int((records["timestamp"] < CLOCK_SET_FROM_S).sum())
    if unset == len(records):
        notes.note("the clock of the unit was never set: the date is not known")
    elif unset:
        notes.warn(f"{counted(unset, 'record')} from before the clock of the unit was set")
    jumps = int((found["t_s"].diff() > DAY_S).sum())
    if jumps:
        notes.warn(f"the time jumps ahead by more than a day {counted(jumps, 'time')}")
