"""Where in the bytes of a FIT file which message stands: one pass, nothing decoded.

A data message is a header byte and the fields that the definition in force for its local number
lays out, so its size is known before it is read. A stretch of messages of one kind is found at
once: their header bytes stand evenly apart until one differs.
"""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING, NamedTuple

from fastcrc import crc16

from ridelab.telemetry.fit import regain
from ridelab.telemetry.fit.frames import Damage, Frames
from ridelab.telemetry.fit.layout import (
    COMPRESSED,
    DEFINITION,
    DEVELOPER,
    HEADERS,
    clock_value,
    definition_end,
    local_number,
    parse,
)
from ridelab.telemetry.notes import counted

if TYPE_CHECKING:
    from ridelab.telemetry.fit.layout import Layout

CHECKSUM_BYTES = 2

#: How far a stretch of equal messages is followed at first; then eight times as far, and so on.
LOOK_AHEAD = 32

#: How many of the last times are asked for about when a break happened.
TIMES_ASKED = 16


def frame(content: bytes) -> Frames:
    """Find the messages of a FIT file, over every break after which they can be found again."""
    framer = _Framer(content)
    while framer.pos < len(content):
        framer.part()
    return framer.found


class _Break(NamedTuple):
    """Why no message can be followed, and how many bytes the one there needs, if that is why."""

    text: str
    needs: int = 0


class _Framer:
    """Walks through a file; ``pos`` is the next byte that nothing is known of."""

    def __init__(self, content: bytes) -> None:
        self.content = content
        self.size = len(content)
        self.pos = 0
        self.found = Frames()
        self._kind_of: dict[Layout, int] = {}
        self._forget()

    def _forget(self) -> None:
        """Definitions hold within one part only."""
        self._local: dict[int, Layout] = {}
        self._sizes = [0] * 256  # of the data message that a header byte announces; 0: none
        self._kinds = [0] * 256

    def part(self) -> None:
        """Read one part, or step over what is none."""
        start = self.pos
        if not regain.is_header(self.content, start):
            self._foreign()
            return
        self._forget()
        self.found.parts.append(start)
        announced = self._header()
        whole = self.size - CHECKSUM_BYTES
        if announced <= whole and self._sound(start, announced):
            self._sound_part(announced)
        elif self.pos <= whole != announced and self._sound(start, whole):
            self._note(start, "the header gives a wrong size: read up to the end of the file")
            self._sound_part(whole)
        elif self.pos < announced <= whole:
            self._unsound_part(announced)
        else:
            self._unfinished_part(announced)

    def _foreign(self) -> None:
        """Bytes where a part should begin: step over them to the next part."""
        start = self.pos
        self.pos = regain.next_header(self.content, start + 1, self.size) or self.size
        lost = self.pos - start
        self._lost(start, f"{counted(lost, 'byte')} of no FIT data", lost)

    def _header(self) -> int:
        """Step over the header; return where the messages end by its word."""
        start = self.pos
        header_size, _, _, body_size, _ = struct.unpack_from("<BBHI4s", self.content, start)
        self.pos = start + header_size
        if header_size >= 14:
            checksum = int.from_bytes(self.content[start + 12 : start + 14], "little")
            if checksum and crc16.arc(self.content[start : start + 12]) != checksum:
                self._note(start, "the header does not match its own checksum")
        return int(self.pos + body_size)

    def _sound(self, start: int, end: int) -> bool:
        """Whether two bytes at ``end`` are the checksum (CRC-16/ARC) of what stands before.

        The checksum of content and its own checksum is 0.
        """
        whole = memoryview(self.content)[start : end + CHECKSUM_BYTES]
        return bool(crc16.arc(whole) == 0)

    def _sound_part(self, end: int) -> None:
        """A part whose checksum is right; if its messages break, the unit wrote them so."""
        broken = self._messages(end, chained=False)
        if broken:
            self._rest_lost(broken, end)
        self.pos = end + CHECKSUM_BYTES

    def _unsound_part(self, announced: int) -> None:
        """A part with a wrong checksum; if no other part follows, its size may be wrong too."""
        broken = self._messages(announced)
        if broken is None and self.pos < announced:
            return
        after = announced + CHECKSUM_BYTES
        if after < self.size and not regain.is_header(self.content, after):
            on = self._regained(self.pos, self.size)
            if on is not None:
                text = f"the header gives a wrong size: reading goes on at byte {on}"
                self._note(self.pos, text, on - self.pos)
                self.pos = on
                self._to_the_end(on)
                return
        if broken and after == self.size < self.pos + broken.needs:
            self._breaks_off(announced, broken)
            return
        if broken:
            self._rest_lost(broken, announced)
        self._note(announced, "the content does not match its checksum: some values may be wrong")
        self.pos = after

    def _unfinished_part(self, announced: int) -> None:
        """A part without its checksum: cut short, or given no size in its header."""
        if announced == self.pos:
            text = "the header gives no size: read up to the end of the file"
            self._note(self.found.parts[-1], text)
        self._to_the_end(announced)

    def _to_the_end(self, announced: int) -> None:
        """Read what there is; ``announced``, if it is not behind, is where the part should end."""
        sized = announced > self.pos
        end = min(announced, self.size) if sized else self.size
        broken = self._messages(end)
        if broken is None and self.pos < end:
            return
        if broken and not broken.needs:
            self._rest_lost(broken, self.size)
        elif sized and announced <= self.size and not broken:
            self._lost(self.pos, "the closing checksum is missing", 0)
        elif sized or self.size - self.pos > CHECKSUM_BYTES:
            self._breaks_off(announced, broken)
        self.pos = self.size

    def _breaks_off(self, announced: int, broken: _Break | None) -> None:
        end = max(announced, self.pos + broken.needs if broken else 0)
        text = f"the file breaks off, {counted(end - self.size, 'byte')} too early"
        self._lost(self.pos, text, self.size - self.pos)
        self.pos = self.size

    def _rest_lost(self, broken: _Break, end: int) -> None:
        lost = end - self.pos
        self._lost(
            self.pos, f"{broken.text}; the rest, {counted(lost, 'byte')}, was not read", lost
        )

    def _messages(self, end: int, *, chained: bool = True) -> _Break | None:
        """Follow the messages up to ``end``, over breaks, or up to the header of another part.

        None: that was reached. Otherwise the break at ``pos`` behind which none was found.
        """
        while True:
            broken = self._walk(end)
            if broken is None:
                return None
            on = self._regained(self.pos + 1, end)
            if chained:
                on = regain.next_header(self.content, self.pos, on or end) or on
            if on is None:
                return broken
            lost = on - self.pos
            goes_on = f"{counted(lost, 'byte')} skipped, reading goes on at byte {on}"
            self._note(self.pos, f"{broken.text}; {goes_on}", lost)
            self.pos = on
            if chained and regain.is_header(self.content, on):
                return None

    def _walk(self, end: int) -> _Break | None:
        """Follow the messages up to ``end`` or to what cannot be followed."""
        content, sizes, kinds = self.content, self._sizes, self._kinds
        firsts, counts, own = self.found.firsts, self.found.counts, self.found.kinds
        pos, broken = self.pos, None
        while pos < end:
            header = content[pos]
            size = sizes[header]
            if not size:
                defined = self._define(pos, end)
                if isinstance(defined, _Break):
                    broken = defined
                    break
                pos = defined
                continue
            after, count = pos + size, 1
            if after < end and content[after] == header:
                count = _stretch(content, pos, size, end)
                after = pos + count * size
            elif after > end:
                broken = _Break("a message runs past the end of the data", size)
                break
            firsts.append(pos)
            counts.append(count)
            own.append(kinds[header])
            pos = after
        self.pos = pos
        return broken

    def _define(self, pos: int, end: int) -> int | _Break:
        """Take the definition at ``pos``, if it is one; return where it ends."""
        header = self.content[pos]
        local = local_number(header)
        if header & (COMPRESSED | DEFINITION) != DEFINITION:
            return _Break(f"local message {local} not defined")
        after = definition_end(self.content, pos)
        if after > end:
            return _Break("a definition runs past the end of the data", after - pos)
        layout = parse(self.content[pos + 1 : after], bool(header & DEVELOPER))
        kind = self._kind_of.setdefault(layout, len(self._kind_of))
        if kind == len(self.found.layouts):
            self.found.layouts.append(layout)
        self.found.definitions.append((pos, kind))
        if self._local.get(local) is not layout:
            self._local[local] = layout
            for headers in HEADERS[local]:
                own = slice(headers.start, headers.stop, headers.step)
                self._sizes[own] = [layout.size] * len(headers)
                self._kinds[own] = [kind] * len(headers)
        return after

    def _regained(self, start: int, end: int) -> int | None:
        """The next byte from ``start`` on where messages can be followed again."""
        return regain.next_message(self.content, start, end, self._local, self._time_s())

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

    def _note(self, offset: int, text: str, lost_bytes: int = 0) -> None:
        self.found.damage.append(Damage(offset, text, lost_bytes))

    def _lost(self, offset: int, text: str, lost_bytes: int) -> None:
        self._note(offset, text, lost_bytes)
        self.found.broken_at = self.found.damage[-1]


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
