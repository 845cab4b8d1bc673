"""GPX 1.0 and 1.1 (the GPS Exchange Format, an open standard) -> one ride.

``document`` turns the bytes into markup that is known to be well-formed, ``points`` that into one
row a track point, ``samples`` those into numbers in SI units.
"""

from __future__ import annotations

import hashlib
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from polars import col

from ridelab.errors import DamagedFile, NotARide, RideError
from ridelab.telemetry import channels, clock
from ridelab.telemetry.geodesy import running_m
from ridelab.telemetry.gpx import document, samples
from ridelab.telemetry.gpx.points import Points, read_points
from ridelab.telemetry.notes import Notes, counted
from ridelab.telemetry.ride import PAUSE_SCHEMA, Ride

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

#: Unix time from which on a clock was set: the least that the FIT protocol takes for a date
#: (0x10000000 s after 1989-12-31), 1998-07-03. Before the first fix, receivers write 1970 or 1980.
CLOCK_SET_FROM_S = 631_065_600 + 0x10000000

#: What files call a track that nobody rode a cycle on (common practice, no source).
OTHER_SPORTS = frozenset(
    {
        *("hike", "hiking", "mountaineering", "run", "running", "walk", "walking"),
        *("kayaking", "paddling", "rowing", "sailing", "swim", "swimming"),
        *("skating", "skiing", "snowboarding", "driving", "motorcycling"),
    }
)


def sniff(content: bytes) -> bool:
    """Whether the content is XML with the root element ``gpx``."""
    return document.root_name(content) == "gpx"


def read(path: Path, content: bytes) -> Ride:
    """Interpret the content of a GPX file as one ride: all its tracks and segments.

    The end of a segment is a pause. Points before and behind a damage are kept.

    Raises:
        NotARide: no track, tracks of other sports only, or no point with a time.
        DamagedFile: the format breaks before the first point, or the file declares a DOCTYPE.
    """
    notes = Notes(path)
    points = read_points(document.well_formed(path, content, notes))
    if points.unfinished:
        notes.warn(f"{counted(points.unfinished, 'point')} without an end: left out")
    table = _cycling(points, notes)
    if table.is_empty():
        raise _no_point(path, points, notes)
    timed = samples.numbers(table, notes).filter(col("at").is_not_null())
    untimed = len(table) - len(timed)
    if timed.is_empty():
        found = f"none of its {counted(untimed, 'track point')} has a time"
        raise NotARide(f"{path}: {found}: a planned route, not a ride")
    if untimed:
        notes.warn(f"{counted(untimed, 'point')} without a time: left out")
    return _ride(path, content, timed, notes)


def _ride(path: Path, content: bytes, timed: pl.DataFrame, notes: Notes) -> Ride:
    at: datetime = timed["at"][0]
    since = (col("at") - col("at").first()).dt.total_microseconds() / 1e6
    records = samples.apart(timed.select(pl.exclude("at"), timestamp=since), notes)
    kept = clock.settled(
        records,
        lambda: running_m(records["lat"].to_numpy(), records["lon"].to_numpy()),
        lambda: np.diff(records["segment"].to_numpy(), prepend=0) != 0,
        notes,
        set_from_s=CLOCK_SET_FROM_S - at.timestamp(),
    ).records
    found, derived = samples.samples(kept, notes)
    pauses = _pauses(found["t_s"], kept["segment"])
    channels.tell_missing(found, notes)
    clock.tell_silences(found["t_s"], pauses, notes)
    moving = channels.moves(found)
    return Ride(
        path=path,
        sha256=hashlib.sha256(content).hexdigest(),
        format="gpx",
        started_at=at + timedelta(seconds=kept["timestamp"][0]),
        samples=found,
        pauses=pauses,
        speed_source=("satellite" if derived else "unknown") if moving else "none",
        cadence_resolution_rpm=samples.cadence_resolution_rpm(found["cadence_rpm"]),
        problems=tuple(notes.problems),
    )


def _cycling(points: Points, notes: Notes) -> pl.DataFrame:
    """Points of the tracks that are not said to be of another sport."""
    others = {track: kind for track, kind in points.types.items() if kind.lower() in OTHER_SPORTS}
    kept = points.table.filter(~col("track").is_in(list(others)))
    names = ", ".join(sorted(set(others.values())))
    if others and kept.is_empty() and len(points.table):
        raise NotARide(f"{notes.path}: no cycling track, only {names}")
    if len(kept) < len(points.table):
        notes.note(f"{counted(len(points.table) - len(kept), 'point')} of {names}: set aside")
    return kept


def _no_point(path: Path, points: Points, notes: Notes) -> RideError:
    breaks = [problem.message for problem in notes.problems if problem.severity == "warning"]
    if breaks and points.unfinished + points.route_points + points.waypoints == 0:
        return DamagedFile(f"{path}: {breaks[0]}; no track point before that")
    if points.unfinished:
        return DamagedFile(f"{path}: it breaks off in its first track point")
    if points.route_points:
        found = f"a planned route of {counted(points.route_points, 'point')}"
        return NotARide(f"{path}: {found}, not a track that was ridden")
    if points.waypoints:
        return NotARide(f"{path}: only {counted(points.waypoints, 'waypoint')}, no track")
    return NotARide(f"{path}: a GPX file without a single track point")


def _pauses(t_s: pl.Series, segment: pl.Series) -> pl.DataFrame:
    """From the last point of each segment to the first of the next."""
    begins = np.flatnonzero(np.diff(segment.to_numpy()) != 0) + 1
    return pl.DataFrame(
        {"start_s": t_s.gather(begins - 1), "end_s": t_s.gather(begins)}, schema=PAUSE_SCHEMA
    )
