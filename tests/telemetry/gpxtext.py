"""Writes GPX files, right or wrong on purpose; element names from the GPX 1.0 and 1.1 schemas."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

START = datetime(2024, 5, 1, 6, tzinfo=UTC)

#: Metres of one degree of latitude at the equator on WGS 84: the radius of curvature of the
#: meridian there, a(1 - e^2), times pi/180 (DMA TM 8358.2: 110 574.3 m).
METRES_PER_DEGREE = 110_574.3


def time_of(t_s: float) -> str:
    """The ``dateTime`` so many seconds after START."""
    return (START + timedelta(seconds=t_s)).isoformat().replace("+00:00", "Z")


def point(t_s: float | str | None, north_m: float = 0.0, *children: str, cad: object = None) -> str:
    """A track point on the prime meridian, so many metres north of the equator.

    ``t_s``: seconds after START, or the text of the time; ``children`` follow the time.
    """
    time = time_of(t_s) if isinstance(t_s, int | float) else t_s
    inside = "" if time is None else f"<time>{time}</time>"
    inside += "".join(children)
    if cad is not None:
        inside += f"<extensions><x:TPX><x:hr>120</x:hr><x:cad>{cad}</x:cad></x:TPX></extensions>"
    return f'<trkpt lat="{north_m / METRES_PER_DEGREE:.12f}" lon="0.0">\n{inside}</trkpt>\n'


def ride(seconds: int = 5, speed_mps: float = 5.0, cad: object = 60, start_s: float = 0) -> str:
    """Points of some seconds due north at a steady speed."""
    times = range(seconds)
    return "".join(point(start_s + t, speed_mps * (start_s + t), cad=cad) for t in times)


def segment(*points: str) -> str:
    """A track segment."""
    return f"<trkseg>\n{''.join(points)}</trkseg>\n"


def track(*segments: str, kind: str | None = None) -> str:
    """A track; ``kind`` is its element ``type``."""
    told = "" if kind is None else f"<type>{kind}</type>"
    return f"<trk><name>invented</name>{told}\n{''.join(segments)}</trk>\n"


def gpx(*content: str, version: str = "1.1", declaration: str = '<?xml version="1.0"?>') -> str:
    """A whole file."""
    space = f"http://www.topografix.com/GPX/{version.replace('.', '/')}"
    root = f'<gpx version="{version}" creator="tests" xmlns="{space}" xmlns:x="urn:x">'
    return f"{declaration}\n{root}\n{''.join(content)}</gpx>\n"


def one_track(*points: str) -> str:
    """A whole file of one track of one segment."""
    return gpx(track(segment(*points)))
