"""Track points as text -> samples in SI units, and speed along the positions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from polars import col

from ridelab.telemetry.clock import GAP_S
from ridelab.telemetry.geodesy import running_m
from ridelab.telemetry.notes import counted
from ridelab.telemetry.ride import SAMPLE_SCHEMA

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.telemetry.notes import Notes

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

#: Column, and the least and greatest value that means anything.
NUMBERS = {
    "lat": (-90.0, 90.0),
    "lon": (-180.0, 180.0),
    "altitude": (-np.inf, np.inf),
    "speed": (0.0, np.inf),
    "cadence": (0.0, np.inf),
    "power": (-np.inf, np.inf),
}

#: xsd:dateTime (XML Schema part 2, 3.2.7): with a zone, as GPX wants it; as people also write it;
#: and without a zone.
WITH_ZONE = "%Y-%m-%dT%H:%M:%S%.f%#z"
WITH_SPACE = "%Y-%m-%d %H:%M:%S%.f%#z"
WITHOUT_ZONE = "%Y-%m-%dT%H:%M:%S%.f"

#: Years that a device may have shown, its clock set or not; beyond them arithmetic may fail, too.
YEARS = (1900, 2199)

#: A speed element is m/s (GPX 1.0). What others write, by how much more that reads.
OTHER_UNITS = {"km/h": 3.6, "mph": 3600 / 1609.344}
#: How near to such a factor the middle quotient of given speed and speed along positions must be,
#: how fast a point must be to count, and how many must count.
NEAR, FAST_MPS, ENOUGH = 0.05, 3.0, 30


def numbers(table: pl.DataFrame, notes: Notes) -> pl.DataFrame:
    """The text columns as numbers and UTC time (``at``), null where they cannot be read."""
    cast = table.with_columns(
        col(name).cast(pl.Float64, strict=False) for name in NUMBERS
    ).with_columns(at=_times(table["time"], notes))
    read = cast.drop("time").with_columns(_if_between(name, *NUMBERS[name]) for name in NUMBERS)
    lost = sum(read[name].null_count() - table[name].null_count() for name in NUMBERS)
    if lost:
        notes.warn(f"{counted(lost, 'value')} that cannot be: left out")
    nowhere = col("lat").is_null() | col("lon").is_null()
    return read.with_columns(
        pl.when(~nowhere).then(col(name)).alias(name) for name in ("lat", "lon")
    )


def _if_between(name: str, least: float, greatest: float) -> pl.Expr:
    sensible = col(name).is_finite() & col(name).is_between(least, greatest)
    return pl.when(sensible).then(col(name)).alias(name)


def _times(text: pl.Series, notes: Notes) -> pl.Series:
    """UTC; a time that names no zone is taken as UTC, which GPX demands."""
    times = _parsed(text, WITH_ZONE)
    if times.null_count() > text.null_count():
        times = times.fill_null(_parsed(text, WITH_SPACE))
        unzoned = _parsed(text, WITHOUT_ZONE)
        taken = int((times.is_null() & unzoned.is_not_null()).sum())
        times = times.fill_null(unzoned)
        if taken:
            notes.note(f"{counted(taken, 'time')} of no time zone: taken as UTC")
    return times.set(~times.dt.year().is_between(*YEARS), None)


def _parsed(text: pl.Series, form: str) -> pl.Series:
    return text.str.to_datetime(form, time_unit="us", time_zone="UTC", strict=False)


def apart(records: pl.DataFrame, notes: Notes) -> pl.DataFrame:
    """Without points of the times that a segment before, in order of their starts, has already.

    So a track that the file holds twice is read once, and two recordings of one ride are not mixed.
    """
    if records["segment"].n_unique() < 2:
        return records
    extents = records.group_by("segment").agg(
        start=col("timestamp").min(), end=col("timestamp").max()
    )
    reached = extents.sort("start", "segment").select(
        "segment", reached=col("end").cum_max().shift(1, fill_value=-np.inf)
    )
    over = records["segment"].replace_strict(reached["segment"], reached["reached"])
    kept = records.filter(records["timestamp"] > over)
    again = len(records) - len(kept)
    if again:
        text = "of a time that another segment has already: left out"
        notes.warn(f"{counted(again, 'point')} {text}")
    return kept


def samples(records: pl.DataFrame, notes: Notes) -> tuple[pl.DataFrame, bool]:
    """Records in order of time -> ``SAMPLE_SCHEMA``, and whether the speed is along the positions.

    Distance is that along the geodesics between positions (climbs are not in it), none from the end
    of a segment to the start of the next. Where the file gives no speed, it is the distance from
    the point before to the point after over the time between them; at the ends of a segment and at
    silences over ``GAP_S`` to the one neighbour there is.
    """
    t_s = (records["timestamp"] - records["timestamp"][0]).to_numpy()
    segment = records["segment"].to_numpy()
    along = running_m(_floats(records["lat"]), _floats(records["lon"]), segment)
    derived = _speed_mps(t_s, along, segment)
    given = records["speed"].drop_nulls().len() > 0
    speed = _in_mps(_floats(records["speed"]), derived, notes) if given else derived
    found = pl.DataFrame(
        {
            "t_s": t_s,
            "speed_mps": pl.Series(speed, nan_to_null=True),
            "cadence_rpm": records["cadence"],
            "power_w": records["power"],
            "wheel_power_w": pl.repeat(None, len(records), eager=True),
            "altitude_m": records["altitude"],
            "distance_m": pl.Series(along, nan_to_null=True),
            "lat_deg": records["lat"],
            "lon_deg": records["lon"],
            "timer_running": pl.repeat(True, len(records), eager=True),
        }
    )
    return found.cast(SAMPLE_SCHEMA), not given


def _floats(values: pl.Series) -> Floats:
    return values.fill_null(np.nan).to_numpy()


def _speed_mps(t_s: Floats, along_m: Floats, segment: NDArray[np.int64]) -> Floats:
    known = np.flatnonzero(np.isfinite(along_m))
    t, along = t_s[known], along_m[known]
    linked = (np.diff(segment[known]) == 0) & (np.diff(t) <= GAP_S)
    here = np.arange(len(known))
    before = here - np.insert(linked, 0, False)
    after = here + np.append(linked, False)
    took_s = t[after] - t[before]
    speed = np.full(len(t_s), np.nan)
    speed[known] = np.divide(
        along[after] - along[before], took_s, out=np.full(len(known), np.nan), where=took_s > 0
    )
    return speed


def _in_mps(given: Floats, derived: Floats, notes: Notes) -> Floats:
    """Given speeds, turned into m/s where the positions show that they are in another unit."""
    fast = (derived > FAST_MPS) & np.isfinite(given)
    if fast.sum() < ENOUGH:
        return given
    quotient = float(np.median(given[fast] / derived[fast]))
    for unit, factor in OTHER_UNITS.items():
        if abs(quotient / factor - 1) <= NEAR:
            text = f"speed elements read {quotient:.2f} times the speed along the positions"
            notes.warn(f"{text}: taken as {unit}")
            return given / factor
    return given


def cadence_resolution_rpm(cadence: pl.Series) -> float:
    """Smallest difference of recorded cadences, 1 where they are whole; not below 1/128.

    1/128 rpm is the finest cadence that head units store (FIT profile).
    """
    different = np.unique(cadence.drop_nulls().to_numpy())
    if len(different) < 2 or (different == np.round(different)).all():
        return 1.0
    return float(np.clip(np.diff(different).min(), 1 / 128, 1.0))
