"""The time column -> seconds since the first row, in order, and when that was."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from polars import col

from ridelab.campaign.loggers import COUNTED, ISO, SINCE_1970
from ridelab.telemetry import clock
from ridelab.telemetry.notes import counted

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ridelab.campaign.loggers import Logger, TimeColumn
    from ridelab.telemetry.notes import Notes

#: ISO 8601 once a space stands for the T and a point for the comma: with a zone, without, and
#: without seconds.
_ZONED = ("%Y-%m-%d %H:%M:%S%.f%#z", "%Y-%m-%d %H:%M%#z")
_PLAIN = ("%Y-%m-%d %H:%M:%S%.f", "%Y-%m-%d %H:%M")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
#: Longer than any recording, in seconds; also what a count may be off from zero.
_LONGEST_S = 30 * 86_400.0
_LATEST_S = 253_402_300_000.0  # the year 9999
#: Of values of one instant the mean is taken; of these, which jump or only grow, another.
_FIRST = ("latitude", "longitude")
_LAST = ("wheel_pulses", "crank_pulses")


@dataclass(frozen=True)
class InTime:
    """Rows with ``t_s``, strictly increasing, and when ``t_s`` was zero."""

    rows: pl.DataFrame
    zero_at: datetime

    def started_at(self, first_s: float) -> datetime:
        """When the first sample was taken."""
        return self.zero_at + timedelta(seconds=first_s)


def in_time(table: pl.DataFrame, logger: Logger, path: Path, notes: Notes) -> InTime:
    """Give each row its time, leave out those without one, and put them in order.

    Rows of one instant, as coarse clocks and loggers with a row for each channel write them, become
    one: the mean of each channel, of positions the first, of counts the last.
    """
    origin, seconds = _seconds(table["time"], logger, path, notes)
    # How far apart two times are decides what is a typing error: measured from the middle one.
    usual = seconds.median()
    sane = (seconds - usual).abs() < _LONGEST_S if usual is not None else seconds.is_not_null()
    timed = table.with_columns(t_s=pl.when(sane).then(seconds)).drop("time")
    without = timed.filter(col("t_s").is_null())
    if len(without):
        notes.warn(
            f"{counted(len(without), 'row')} without a time that can be read, the first in line "
            f"{without['line'][0]}: left out"
        )
    values = [name for name in timed.columns if name not in ("t_s", "line")]
    timed = timed.filter(col("t_s").is_not_null() & pl.any_horizontal(col(values).is_not_null()))
    if timed.is_empty():
        return InTime(timed, origin)
    # From here on small numbers: a float holds a date of today to less than a microsecond.
    zero = timed["t_s"][0]
    timed = timed.with_columns(col("t_s") - zero)
    return InTime(_settled(timed, logger, notes), origin + timedelta(seconds=zero))


def _settled(timed: pl.DataFrame, logger: Logger, notes: Notes) -> pl.DataFrame:
    records = timed.rename({"t_s": "timestamp"}).drop("line")
    if logger.time.form in COUNTED:
        records = clock.in_order(_instants(records), notes)
    else:
        records = _instants(records)
        records = clock.settled(
            records,
            lambda: _travelled_m(records),
            lambda: np.zeros(len(records), dtype=np.bool_),
            notes,
        ).records
    return records.rename({"timestamp": "t_s"})


def _instants(records: pl.DataFrame) -> pl.DataFrame:
    """Rows of one instant in a row become one."""
    if not (records["timestamp"].diff() == 0).any():
        return records
    values = [name for name in records.columns if name != "timestamp"]
    grouped = records.group_by(col("timestamp").rle_id().alias("n"), maintain_order=True)
    return grouped.agg(col("timestamp").first(), *map(_of_one_instant, values)).drop("n")


def _of_one_instant(name: str) -> pl.Expr:
    known = col(name).drop_nulls()
    if name in _FIRST:
        return known.first()
    return known.last() if name in _LAST else known.mean()


def _travelled_m(records: pl.DataFrame) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """The file's own distance, nan where it has none: a jump of the clock shows beside it."""
    known = "distance" in records.columns
    distance = records["distance"].cast(pl.Float64) if known else pl.Series([None] * len(records))
    return np.asarray(distance.cast(pl.Float64).fill_null(np.nan).to_numpy(), dtype=np.float64)


def _seconds(
    text: pl.Series, logger: Logger, path: Path, notes: Notes
) -> tuple[datetime, pl.Series]:
    """Return the times in seconds since some origin, and that."""
    time = logger.time
    scale = COUNTED.get(time.form) or SINCE_1970.get(time.form)
    if scale is None:
        return _EPOCH, _dates(text, time)
    plain = text.str.strip_chars(' "')
    if logger.decimal == ",":
        plain = plain.str.replace(",", ".", literal=True)
    seconds = plain.cast(pl.Float64, strict=False) * scale
    seconds = seconds.set(~seconds.is_between(-_LATEST_S, _LATEST_S), None)
    if time.form in COUNTED:
        return _start(logger, path, notes), seconds.set(seconds.abs() > _LATEST_S / 1e3, None)
    return _EPOCH, seconds.set(seconds < 0, None)


def _dates(text: pl.Series, time: TimeColumn) -> pl.Series:
    plain = text.str.strip_chars(' "')
    if time.form == ISO:
        plain = plain.str.replace(",", ".", literal=True).str.replace("T", " ", literal=True)
        plain = plain.str.replace(r"\s+([+-]\d|Z)", "${1}")
        return _first_that_reads(plain, _ZONED, None).fill_null(
            _first_that_reads(plain, _PLAIN, time.zone)
        )
    if "%.f" in time.form:
        plain = plain.str.replace(",", ".", literal=True)
    zoned = any(sign in time.form for sign in ("%z", "%#z", "%:z"))
    return _first_that_reads(plain, (time.form,), None if zoned else time.zone)


def _first_that_reads(text: pl.Series, forms: Sequence[str], zone: str | None) -> pl.Series:
    """Seconds since 1970 by the first form that reads each; ``zone``: the text names none."""
    found = pl.Series(text.name, [None] * len(text), pl.Float64)
    for form in forms:
        if not found.null_count():
            break
        read = text.str.to_datetime(
            form, time_unit="us", time_zone="UTC" if zone is None else None, strict=False
        )
        if zone is not None:
            read = read.dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null")
        found = found.fill_null(read.dt.timestamp("us") / 1e6)
    return found


def _start(logger: Logger, path: Path, notes: Notes) -> datetime:
    """When a recording that counts its time began."""
    start = logger.starts_at
    if isinstance(start, str):
        try:
            start = datetime.strptime(path.stem, start)  # noqa: DTZ007 - its zone follows
        except ValueError:
            notes.warn(
                f"the file's name is not of the pattern {start!r}: when it was recorded is unknown"
            )
            return _EPOCH
    elif start is None:
        notes.note("nothing says when it was recorded: its first row is at 0:00 on 1 January 1970")
        return _EPOCH
    if start.tzinfo is None:
        zoned = pl.Series([start]).dt.replace_time_zone(
            logger.time.zone, ambiguous="earliest", non_existent="null"
        )[0]
        start = zoned if zoned is not None else start.replace(tzinfo=UTC)
    return start.astimezone(UTC)
