"""Markup of a GPX file -> one row a track point, values still as text.

All tags are looked at together: which element one begins or ends, how deep it stands, which point
it belongs to. Names are local: prefixes vary.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import unescape
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import polars as pl

from ridelab.telemetry.gpx.tags import Tags

if TYPE_CHECKING:
    from ridelab.telemetry.gpx.tags import Rows


class _Where(NamedTuple):
    """Elements that hold a value: local names in lower case, ``own``: children of the point."""

    names: tuple[str, ...]
    own: bool = False


#: ``time`` and ``ele`` as GPX 1.0 and 1.1 have them. ``speed`` is a child in 1.0; it and the others
#: stand in extensions, which no standard names: common practice, no source.
VALUES = {
    "time": _Where(("time",), own=True),
    "altitude": _Where(("ele",), own=True),
    "speed": _Where(("speed",)),
    "cadence": _Where(("cad", "cadence")),
    "power": _Where(("power", "powerinwatts", "watts")),
}


@dataclass(frozen=True)
class Points:
    """The track points of a file, in file order.

    Attributes:
        table: columns ``track`` and ``segment`` (counted through the file), ``lat``, ``lon`` and
            those of ``VALUES``: text, null where the point has none.
        types: what the file says each track is, of those of which it says anything.
        unfinished: points without an end: there the file breaks.
        route_points: points of planned routes.
        waypoints: points by themselves.
    """

    table: pl.DataFrame
    types: dict[int, str]
    unfinished: int
    route_points: int
    waypoints: int


def read_points(markup: bytes) -> Points:
    """Track points out of the markup that ``document.well_formed`` returns."""
    tags = Tags(markup)
    starts, ends, unfinished = _extents(tags)
    columns = {
        "track": pl.Series(np.searchsorted(tags.beginning("trk"), starts)),
        "segment": pl.Series(np.searchsorted(tags.beginning("trkseg"), starts)),
        **_positions(tags.inner(starts)),
    }
    for column, where in VALUES.items():
        columns[column] = _value(tags, starts, ends, where)
    return Points(
        pl.DataFrame(columns),
        _types(tags),
        unfinished,
        len(tags.beginning("rtept")),
        len(tags.beginning("wpt")),
    )


def _extents(tags: Tags) -> tuple[Rows, Rows, int]:
    """First and last tag of each point that has an end, and how many have none."""
    edges = tags.of("trkpt")
    starts = edges[~tags.closing[edges]]
    after = np.append(edges, -1)[np.searchsorted(edges, starts) + 1]
    ended = (after >= 0) & tags.closing[after]
    whole = ended | tags.empty[starts]
    ends = np.where(tags.empty[starts], starts, after)
    return starts[whole], ends[whole], int((~whole).sum())


def _value(tags: Tags, starts: Rows, ends: Rows, where: _Where) -> pl.Series:
    """Text of the first such element in each point."""
    found = tags.holding(*where.names)
    point = np.searchsorted(starts, found, side="right") - 1
    inside = point >= 0
    inside[inside] = found[inside] < ends[point[inside]]
    found, point = found[inside], point[inside]
    if where.own:
        children = tags.depth[found] == tags.depth[starts[point]] + 1
        found, point = found[children], point[children]
    first = np.diff(point, prepend=-1) != 0
    found, point = found[first], point[first]
    texts = _bare(tags.texts(found))
    if len(texts) == len(starts):
        return texts
    place = np.full(len(starts), -1)
    place[point] = np.arange(len(point))
    places = pl.Series(place)
    return texts.gather(places.set(places < 0, None))


def _positions(points: pl.Series) -> dict[str, pl.Series]:
    """The attributes ``lat`` and ``lon`` of the tags of points."""
    cut = points.str.split_exact('"', 3).struct.unnest()  # name lat= 1 lon= 2, as nearly all write
    if cut["field_0"].str.ends_with(" lat=").all() and (cut["field_2"] == " lon=").all():
        return {"lat": _bare(cut["field_1"]), "lon": _bare(cut["field_3"])}
    return {
        name: _bare(points.str.extract(rf"""\s{name}\s*=\s*["']([^"']*)["']"""))
        for name in ("lat", "lon")
    }


def _bare(values: pl.Series) -> pl.Series:
    """Values without space around, null where empty, character references resolved."""
    if values.str.contains("&", literal=True).any():
        plain = [None if value is None else unescape(value) for value in values]
        values = pl.Series(plain, dtype=pl.String)
    bare = values.str.strip_chars()
    return bare.set(bare == "", None)


def _types(tags: Tags) -> dict[int, str]:
    """Track -> the text of its own element ``type``."""
    tracks, rows = tags.beginning("trk"), tags.holding("type")
    track = np.searchsorted(tracks, rows)
    told: dict[int, str] = {}
    for row, number, text in zip(rows, track, tags.texts(rows), strict=True):
        if number and tags.depth[row] == tags.depth[tracks[number - 1]] + 1:
            told.setdefault(int(number), unescape(text).strip())
    return told
