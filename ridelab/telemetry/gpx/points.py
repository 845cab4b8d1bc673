"""Markup of a GPX file -> one row a track point, values still as text.

The text is cut at every ``<``, and all pieces are looked at together: which element a piece begins
or ends, how deep it stands, which point it belongs to. Names are local: prefixes vary.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import unescape
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Rows: TypeAlias = NDArray[np.intp]


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


class _Pieces:
    """The pieces between two ``<``: a tag, and the text behind it."""

    def __init__(self, markup: str) -> None:
        cut = pl.Series([markup]).str.split("<").explode().str.split_exact(">", 1).struct.unnest()
        self.tags, self.texts = cut["field_0"], cut["field_1"]
        # But for those of points there are few different tags: each is looked at once.
        different = self.tags.unique()
        self._code = self.tags.cast(pl.Enum(different)).to_physical().to_numpy()
        self._names = different.str.extract(r"^/?(?:[^\s:/]*:)?([^\s/]+)").str.to_lowercase()
        self.closing = different.str.starts_with("/").to_numpy()[self._code]
        self.empty = different.str.ends_with("/").to_numpy()[self._code] & ~self.closing
        opening = ~self.closing & ~self.empty
        self.depth = np.cumsum(opening, dtype=np.int64) - np.cumsum(self.closing, dtype=np.int64)

    def of(self, *names: str) -> Rows:
        """Pieces that begin or end an element of one of these names."""
        wanted = self._names.is_in(names).fill_null(value=False).to_numpy()
        return np.flatnonzero(wanted[self._code])

    def beginning(self, *names: str) -> Rows:
        """Pieces that begin an element of one of these names."""
        rows = self.of(*names)
        begin: Rows = rows[~self.closing[rows]]
        return begin

    def holding(self, *names: str) -> Rows:
        """Pieces that begin such an element, and have its text: no other element is inside."""
        rows = self.beginning(*names)
        following = np.minimum(rows + 1, len(self.closing) - 1)
        held: Rows = rows[~self.empty[rows] & self.closing[following]]
        return held


def read_points(markup: str) -> Points:
    """Track points out of the markup that ``document.well_formed`` returns."""
    pieces = _Pieces(markup)
    starts, ends, unfinished = _extents(pieces)
    columns = {
        "track": pl.Series(np.searchsorted(pieces.beginning("trk"), starts)),
        "segment": pl.Series(np.searchsorted(pieces.beginning("trkseg"), starts)),
        "lat": _attribute(pieces, starts, "lat"),
        "lon": _attribute(pieces, starts, "lon"),
    }
    for column, where in VALUES.items():
        columns[column] = _value(pieces, starts, ends, where)
    return Points(
        pl.DataFrame(columns),
        _types(pieces),
        unfinished,
        len(pieces.beginning("rtept")),
        len(pieces.beginning("wpt")),
    )


def _extents(pieces: _Pieces) -> tuple[Rows, Rows, int]:
    """First and last piece of each point that has an end, and how many have none."""
    edges = pieces.of("trkpt")
    starts = edges[~pieces.closing[edges]]
    after = np.append(edges, -1)[np.searchsorted(edges, starts) + 1]
    ended = (after >= 0) & pieces.closing[after]
    whole = ended | pieces.empty[starts]
    ends = np.where(pieces.empty[starts], starts, after)
    return starts[whole], ends[whole], int((~whole).sum())


def _value(pieces: _Pieces, starts: Rows, ends: Rows, where: _Where) -> pl.Series:
    """Text of the first such element in each point."""
    rows = pieces.holding(*where.names)
    point = np.searchsorted(starts, rows, side="right") - 1
    inside = (point >= 0) & (rows < ends[point]) if len(starts) else np.zeros(len(rows), dtype=bool)
    rows, point = rows[inside], point[inside]
    if where.own:
        children = pieces.depth[rows] == pieces.depth[starts[point]] + 1
        rows, point = rows[children], point[children]
    first = np.diff(point, prepend=-1) != 0
    at = np.full(len(starts), -1)
    at[point[first]] = rows[first]
    found = pl.Series(at)
    return _text(pieces.texts.gather(found.set(found < 0, None)))


def _attribute(pieces: _Pieces, starts: Rows, name: str) -> pl.Series:
    tags = pieces.tags.gather(starts)
    return _text(tags.str.extract(rf"""\s{name}\s*=\s*["']([^"']*)["']"""))


def _text(values: pl.Series) -> pl.Series:
    """Values without space around, null where empty, character references resolved."""
    if values.str.contains("&", literal=True).any():
        values = pl.Series(
            values.name, [None if one is None else unescape(one) for one in values], pl.String
        )
    bare = values.str.strip_chars()
    return bare.set(bare == "", None)


def _types(pieces: _Pieces) -> dict[int, str]:
    """Track -> the text of its own element ``type``."""
    tracks = pieces.beginning("trk")
    rows = pieces.holding("type")
    track = np.searchsorted(tracks, rows)
    told: dict[int, str] = {}
    for row, number in zip(rows, track, strict=True):
        if number and pieces.depth[row] == pieces.depth[tracks[number - 1]] + 1:
            told.setdefault(int(number), unescape(pieces.texts[int(row)]).strip())
    return told
