"""Where the tags of a checked markup stand and what they are, as arrays over all tags at once."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Rows: TypeAlias = NDArray[np.intp]
    Flags: TypeAlias = NDArray[np.bool_]
    Places: TypeAlias = NDArray[np.int64]

EIGHT, WHOLE = 8, 24
LOCAL_NAME = re.compile(rb"/?(?:[^\s:/]*:)?([^\s/]+)")
#: A tag, whose attributes may hold ``>``.
TAG = re.compile(rb"""<(?:[^<>"']|"[^<"]*"|'[^<']*')*>""")
#: Odd numbers with well-mixed bits, to tell tags apart by (the golden ratio and two primes of
#: multiplicative hashing, as in Knuth, The Art of Computer Programming 3, 6.4).
MIXERS = tuple(
    np.uint64(mixer) for mixer in (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9)
)


class Tags:
    """All tags of a markup; arrays have one entry a tag, in file order.

    Attributes:
        closing: the tag ends an element.
        empty: the tag is an element of its own, ``<a/>``.
        depth: elements that are open behind the tag, counted from the first tag.
    """

    def __init__(self, markup: bytes) -> None:
        start, end = _brackets(markup)
        if not _paired(start, end):
            markup = TAG.sub(_plain, markup)
            start, end = _first_ends(*_brackets(markup), len(markup))
        self.markup, self._start, self._end = markup, start, end
        signs = np.frombuffer(markup, np.uint8)
        self.closing: Flags = signs[np.minimum(self._start + 1, len(signs) - 1)] == ord("/")
        self.empty: Flags = (signs[self._end - 1] == ord("/")) & ~self.closing
        steps = np.where(self.closing, -1, np.where(self.empty, 0, 1)).astype(np.int8)
        self.depth = np.cumsum(steps, dtype=np.int32)
        self._kind, self._names = self._kinds()

    def of(self, *names: str) -> Rows:
        """Tags that begin or end an element of one of these local names, in lower case."""
        wanted = np.array([name in names for name in self._names], dtype=bool)
        return np.flatnonzero(wanted[self._kind])

    def beginning(self, *names: str) -> Rows:
        """Tags that begin an element of one of these names."""
        tags = self.of(*names)
        begin: Rows = tags[~self.closing[tags]]
        return begin

    def holding(self, *names: str) -> Rows:
        """Tags that begin an element of one of these names that holds text and no element."""
        tags = self.beginning(*names)
        following = np.minimum(tags + 1, len(self.closing) - 1)
        held: Rows = tags[~self.empty[tags] & self.closing[following]]
        return held

    def inner(self, tags: Rows) -> pl.Series:
        """What stands between the brackets of each of these tags."""
        return self._between(self._start[tags] + 1, self._end[tags])

    def texts(self, tags: Rows) -> pl.Series:
        """The text behind each of these tags, up to the next tag."""
        return self._between(self._end[tags] + 1, self._start[tags + 1])

    def _between(self, first: Places, last: Places) -> pl.Series:
        markup = self.markup
        pairs = zip(first.tolist(), last.tolist(), strict=True)
        found = [markup[a:b] for a, b in pairs]
        return pl.Series(found, dtype=pl.Binary).cast(pl.String, strict=False)

    def _kinds(self) -> tuple[NDArray[np.uint32], list[str]]:
        """A number for each tag, the same for tags that read the same, and their local names.

        Tags of up to ``WHOLE`` bytes are told apart by their length and their first, middle and
        last eight, which is all there is; longer ones by their first sixteen, behind which points
        differ, but names do not, unless somebody sees to it.
        """
        first, last = self._start + 1, self._end - EIGHT
        long = last - first > WHOLE - EIGHT
        eight = np.ndarray((len(self.markup) + 1,), np.uint64, self.markup + bytes(EIGHT), 0, (1,))
        mark = np.where(long, 0, last - first).astype(np.uint64)
        for at, mixer in (
            (first, MIXERS[0]),
            (np.where(long, first + EIGHT, (first + last) // 2), MIXERS[1]),
            (np.where(long, first, last), MIXERS[2]),
        ):
            mark = (mark ^ eight[np.maximum(at, 0)]) * mixer
            mark ^= mark >> np.uint64(29)
        examples = pl.Series(mark).arg_unique().to_numpy()
        examples = examples[np.argsort(mark[examples])]
        kind = np.searchsorted(mark[examples], mark).astype(np.uint32)
        return kind, [self._local_name(int(tag)) for tag in examples]

    def _local_name(self, tag: int) -> str:
        found = LOCAL_NAME.match(self.markup, self._start[tag] + 1, self._end[tag])
        return found[1].decode(errors="replace").lower() if found else ""


def _plain(tag: re.Match[bytes]) -> bytes:
    return tag[0][:-1].replace(b">", b"&gt;") + b">"


def _brackets(markup: bytes) -> tuple[Places, Places]:
    """Where each ``<`` stands, and each ``>``."""
    signs = np.frombuffer(markup, np.uint8)
    return np.flatnonzero(signs == ord("<")), np.flatnonzero(signs == ord(">"))


def _paired(start: Places, end: Places) -> bool:
    return bool(len(start) == len(end) and (start < end).all() and (end[:-1] < start[1:]).all())


def _first_ends(start: Places, end: Places, size: int) -> tuple[Places, Places]:
    """The beginning and the end of each tag; one that breaks off ends before the next one."""
    following = np.append(start[1:], size)
    nearest = np.append(end, size)[np.searchsorted(end, start)]
    return start, np.minimum(nearest, following - 1)
