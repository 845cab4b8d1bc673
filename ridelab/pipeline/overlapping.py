"""The same ride in two files: of recordings of one vehicle at one time, the richest is measured.

A vehicle is ridden once at a time, so two recordings of one time are of one ride, and counting both
would count its gears twice. Rich is what a gear can be told by: seconds with a turning crank and a
speed, those with the speed of a wheel sensor worth four from satellites, as their developments
scatter less than half as much.
"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping
    from datetime import datetime

    #: A row of ``recorded_rides``.
    Record = Mapping[str, Any]

#: Devices agree on the time of day to a minute; a recording may begin before another has ended.
TOLERANCE = timedelta(seconds=60)
#: What a second is worth, by where its speed comes from.
WORTH = {"wheel sensor": 4.0, "unknown": 2.0, "satellite": 1.0, "none": 1.0}
#: A GPX file is an export of a recording as a rule: where there is the recording, that is taken.
EXPORTED_WORTH = {"gpx": 0.9}
#: Clocks that were never set tell years before this one; nothing follows from such times.
FIRST_YEAR = 1990


class Recording(NamedTuple):
    """One ride as one file tells it, and what it is worth."""

    ride: str
    path: str
    start: datetime
    end: datetime
    format: str
    speed_source: str
    seconds: float

    @property
    def worth(self) -> float:
        """Seconds to measure by, those of a wheel sensor counted four times."""
        return self.seconds * EXPORTED_WORTH.get(self.format, WORTH[self.speed_source])

    def __str__(self) -> str:
        source = {"unknown": "speed of unknown source", "none": "distance alone"}
        said = source.get(self.speed_source, f"speed by {self.speed_source}")
        return f"{self.format.upper()}, {self.seconds / 60:.0f} min of pedalling with {said}"


def same_time(
    paths: Mapping[str, str],
    records: Mapping[str, Record],
    evidence: Callable[[Collection[str]], Mapping[str, float]],
) -> dict[str, tuple[Recording, Recording]]:
    """Return the rides of one vehicle that another recording stands for, each beside that one.

    ``paths``: its rides and their files; ``records``: rows of ``recorded_rides``; ``evidence``:
    gives the seconds that rides can be measured by, asked only about those that overlap.
    """
    spans = sorted(
        (record["started_at"], record["started_at"] + timedelta(seconds=record["duration_s"]), ride)
        for ride, record in ((ride, records[ride]) for ride in paths)
        if record["started_at"].year >= FIRST_YEAR
    )
    overlapping = _overlapping(spans)
    if not overlapping:
        return {}
    seconds = evidence(overlapping)
    recordings = [
        _recording(ride, paths[ride], records[ride], seconds.get(ride, 0))
        for _, _, ride in spans
        if ride in overlapping
    ]
    kept: list[Recording] = []
    out: dict[str, tuple[Recording, Recording]] = {}
    for one in sorted(recordings, key=_richest_first):
        richer = next((other for other in kept if _overlap(one.start, one.end, *other[2:4])), None)
        if richer is None:
            kept.append(one)
        else:
            out[one.ride] = one, richer
    return out


def _recording(ride: str, path: str, record: Record, seconds: float) -> Recording:
    start = record["started_at"]
    end = start + timedelta(seconds=record["duration_s"])
    return Recording(ride, path, start, end, record["format"], record["speed_source"], seconds)


def _richest_first(one: Recording) -> tuple[float, timedelta, str]:
    return -one.worth, one.start - one.end, one.path


def _overlapping(spans: Iterable[tuple[datetime, datetime, str]]) -> set[str]:
    """Return the rides that overlap another; ``spans`` by their starts."""
    found: set[str] = set()
    open_spans: list[tuple[datetime, datetime, str]] = []
    for start, end, ride in spans:
        open_spans = [span for span in open_spans if span[1] >= start]
        for other_start, other_end, other in open_spans:
            if _overlap(start, end, other_start, other_end):
                found |= {ride, other}
        open_spans.append((start, end, ride))
    return found


def _overlap(start: datetime, end: datetime, other_start: datetime, other_end: datetime) -> bool:
    """Whether two recordings share more than a minute, or half of the shorter one."""
    shared = min(end, other_end) - max(start, other_start)
    shorter = min(end - start, other_end - other_start)
    return shared >= timedelta(0) and shared >= min(TOLERANCE, shorter / 2)
