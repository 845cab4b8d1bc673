"""Event messages -> pauses of the recording, and gears as an electronic shifting told them."""

from __future__ import annotations

import math
from operator import itemgetter

import numpy as np
import polars as pl
from polars import col

from ridelab.telemetry.ride import GEAR_CHANGE_SCHEMA, PAUSE_SCHEMA

TIMER_FIELDS = ("timestamp", "event", "event_type")
GEAR_EVENTS = ("front_gear_change", "rear_gear_change")

#: What a unit writes for "not known" in the one-byte parts of a gear change (FIT protocol:
#: 0 is the invalid value of uint8z, 255 that of uint8).
NO_GEAR = (0, 255)


def timer_stops(events: pl.DataFrame, origin_s: float) -> pl.DataFrame:
    """Timer events -> ``PAUSE_SCHEMA``; a stop that no start follows ends at infinity."""
    spans: list[tuple[float, float]] = []
    stopped_at: float | None = None
    for t_s, kind in _timer(events, origin_s):
        if kind == "start" and stopped_at is not None:
            spans.append((stopped_at, t_s))
            stopped_at = None
        elif kind is not None and kind.startswith("stop") and stopped_at is None:
            stopped_at = t_s
    if stopped_at is not None:
        spans.append((stopped_at, math.inf))
    return pl.DataFrame(spans, schema=PAUSE_SCHEMA, orient="row")


def _timer(events: pl.DataFrame, origin_s: float) -> list[tuple[float, str | None]]:
    """Time and kind of the timer events in order of time. There are few: no frame is worth it."""
    rows = zip(*(events[name].to_list() for name in TIMER_FIELDS), strict=True)
    told = [
        (at - origin_s, kind) for at, event, kind in rows if event == "timer" and at is not None
    ]
    return sorted(told, key=itemgetter(0))


def pauses(stops: pl.DataFrame, end_t_s: float) -> pl.DataFrame:
    """The stops as far as they lie between the first record and the last, at ``end_t_s``."""
    inside = stops.select(col("start_s").clip(0, end_t_s), col("end_s").clip(0, end_t_s))
    return inside.filter(col("start_s") < col("end_s"))


def running(t_s: pl.Series, stops: pl.DataFrame) -> pl.Series:
    """Whether the timer ran at each time; at the very stop and the very start it did."""
    times = t_s.to_numpy()
    if stops.is_empty():
        return pl.Series(np.ones(len(times), dtype=bool))
    start, end = stops["start_s"].to_numpy(), stops["end_s"].to_numpy()
    last = np.searchsorted(start, times, side="left") - 1
    return pl.Series((last < 0) | (times >= end[last.clip(0)]))


def gear_changes(events: pl.DataFrame, origin_s: float) -> pl.DataFrame:
    """Gear events -> ``GEAR_CHANGE_SCHEMA``; the first may lie before the first record (t_s < 0).

    FIT profile: ``*_gear_num`` is the position, counted from the innermost, ``*_gear`` the teeth.
    """
    if not set(GEAR_EVENTS) & set(events["event"]):
        return GEAR_CHANGE_SCHEMA.to_frame()
    told = events.filter(col("event").is_in(GEAR_EVENTS))
    parts = {
        "front_gear": "front_gear_num",
        "front_teeth": "front_gear",
        "rear_gear": "rear_gear_num",
        "rear_teeth": "rear_gear",
    }
    known = {
        name: pl.when(~col(field).is_in(NO_GEAR)).then(col(field)) for name, field in parts.items()
    }
    return _timed(told, origin_s).select("t_s", **known).cast(GEAR_CHANGE_SCHEMA, strict=False)


def _timed(events: pl.DataFrame, origin_s: float) -> pl.DataFrame:
    """Events that have a time, in its order, events of one time in file order."""
    return (
        events.drop_nulls("timestamp")
        .with_columns(t_s=col("timestamp") - origin_s)
        .sort("t_s", maintain_order=True)
    )
