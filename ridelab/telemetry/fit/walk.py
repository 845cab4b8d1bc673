"""Following the messages of one part, from one to the next.

A data message is a header byte and the fields that the definition in force for its local number
lays out, so its size is known before it is read. A stretch of messages of one kind is found at
once: their header bytes stand evenly apart until one differs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from ridelab.telemetry.fit import regain
from ridelab.telemetry.fit.layout import (
    COMPRESSED,
    DEFINITION,
    DEVELOPER,
    announcing,
    clock_value,
    definition_end,
    local_number,
    parse,
)

if TYPE_CHECKING:
    from ridelab.telemetry.fit.frames import Frames
    from ridelab.telemetry.fit.layout import Layout

#: How far a stretch of equal messages is followed at first; then eight times as far, and so on.
LOOK_AHEAD = 32

#: How many of the last times are asked for about when a break happened.
TIMES_ASKED = 16

#: A part in which this many odd messages turned out to be meant is not doubted any further.
DOUBTS = 100


class Break(NamedTuple):
    """Why no message can be followed, and how many bytes the one there needs, if that is why."""

    text: str
    needs: int = 0


class Walker:
    """Follows the messages of one part by the definitions met on the way.

    Where the checksum is wrong, sight of the messages may be lost long before one makes no sense at
    all. A message with a time in its header, or one that no unit would write, is then only believed
    if no run of messages that makes sense begins among its bytes.
    """

    def __init__(self, content: bytes, found: Frames) -> None:
        self.content = content
        self.found = found
        self._doubts = 0
        self._kind_of = {layout: kind for kind, layout in enumerate(found.layouts)}
        self._local: dict[int, Layout] = {}
        self._announced: set[int] = set()  # the local numbers by other header bytes than their own
        self._sizes = [0] * 256  # of the data message that a header byte announces; 0: none
        self._kinds = [0] * 256

    def doubt(self) -> None:
        """Take nothing for granted from here on: the checksum is wrong."""
        self._doubts = DOUBTS

    def walk(self, pos: int, end: int) -> tuple[int, Break | None]:
        """Follow the messages from ``pos`` to ``end`` or to what cannot be followed, and why."""
        content, sizes, kinds = self.content, self._sizes, self._kinds
        firsts, counts, own = self.found.firsts, self.found.counts, self.found.kinds
        while pos < end:
            header = content[pos]
            size = sizes[header]
            if not size:
                passed = self._unusual(pos, end)
                if isinstance(passed, Break):
                    return pos, passed
                pos = passed
                continue
            after, count = pos + size, 1
            if after < end and content[after] == header:
                count = _stretch(content, pos, size, end)
                after = pos + count * size
            elif after > end:
                return pos, Break("a message runs past the end of the data", size)
            firsts.append(pos)
            counts.append(count)
            own.append(kinds[header])
            pos = after
        return pos, None

    def _unusual(self, pos: int, end: int) -> int | Break:
        """Pass a definition, or a data message with an unusual header; return where it ends."""
        header = self.content[pos]
        local = local_number(header)
        if header & (COMPRESSED | DEFINITION) == DEFINITION:
            after = definition_end(self.content, pos)
            if after > end:
                return Break("a definition runs past the end of the data", after - pos)
            doubted = self._doubts and not regain.well_formed(self.content, pos)
            if doubted and self._overlooked(pos, after, end):
                return Break("a definition that no unit would write")
            self._define(pos, after, local)
            return after
        layout = self._local.get(local)
        if layout is None:
            return Break(f"local message {local} not defined")
        after = pos + layout.size
        if after > end:
            return Break("a message runs past the end of the data", layout.size)
        if not self._doubts:
            self._announce(local)
        elif self._overlooked(pos, after, end):
            return Break("a message that is none")
        self.found.firsts.append(pos)
        self.found.counts.append(1)
        self.found.kinds.append(self._kind_of[layout])
        return after

    def _overlooked(self, pos: int, after: int, end: int) -> bool:
        """Whether a run of messages that makes sense begins among the bytes of this one."""
        self._doubts -= 1
        return self.regained(pos + 1, end, upto=after) is not None

    def _define(self, pos: int, after: int, local: int) -> None:
        definition = self.content[pos + 1 : after]
        layout = parse(definition, bool(self.content[pos] & DEVELOPER))
        kind = self._kind_of.setdefault(layout, len(self._kind_of))
        if kind == len(self.found.layouts):
            self.found.layouts.append(layout)
        self.found.definitions.append((pos, kind))
        self._local[local] = layout
        self._sizes[local], self._kinds[local] = layout.size, kind
        if local in self._announced:
            self._announce(local)

    def _announce(self, local: int) -> None:
        """Let all header bytes that mean a data message of this local number announce one."""
        self._announced.add(local)
        layout = self._local[local]
        for headers in announcing(local):
            count = len(range(256)[headers])
            self._sizes[headers] = [layout.size] * count
            self._kinds[headers] = [self._kind_of[layout]] * count

    def regained(self, start: int, end: int, upto: int | None = None) -> int | None:
        """The next byte from ``start`` on, before ``upto``, where messages can be followed."""
        search = regain.Search(self.content, end, self._local, self._time_s())
        return search.next_message(start, end if upto is None else upto)

    def _time_s(self) -> int | None:
        """About when the messages before ``pos`` were made: the median of the last few times."""
        found = self.found
        times: list[int] = []
        for first, count, kind in zip(
            reversed(found.firsts), reversed(found.counts), reversed(found.kinds), strict=True
        ):
            layout = found.layouts[kind]
            clock = layout.clock
            if first < found.parts[-1] or len(times) >= TIMES_ASKED:
                break
            if clock is None:
                continue
            for number in range(count - 1, max(count - TIMES_ASKED, 0) - 1, -1):
                at = first + number * layout.size + clock.start
                times.append(clock_value(self.content, at, layout.endian))
        return sorted(times)[len(times) // 2] if times else None


def _stretch(content: bytes, first: int, size: int, end: int) -> int:
    """How many whole messages of one size, with the same header byte, follow each other."""
    header = content[first : first + 1]
    most = (end - first) // size
    count, ahead = 1, LOOK_AHEAD
    while count < most:
        upto = min(count + ahead, most)
        seen = content[first + count * size : first + upto * size : size]
        differs = len(seen.lstrip(header))
        count += len(seen) - differs
        if differs:
            break
        ahead *= 8
    return count
