"""Where in the bytes of a FIT file which message stands: one pass, nothing decoded.

A file is one or more parts, each a header, messages and a checksum; any of these may be damaged.
``walk`` follows the messages, ``regain`` finds them again behind a break.
"""

from __future__ import annotations

import struct

import numpy as np
from fastcrc import crc16

from ridelab.telemetry.fit import regain
from ridelab.telemetry.fit.frames import Damage, Frames
from ridelab.telemetry.fit.layout import message_number
from ridelab.telemetry.fit.values import column, gather
from ridelab.telemetry.fit.walk import Break, Walker
from ridelab.telemetry.notes import counted

CHECKSUM_BYTES = 2

RECORD = message_number("record")


def frame(content: bytes) -> Frames:
    """Find the messages of a FIT file, over every break after which they can be found again.

    Where a checksum is wrong, messages that make no sense are doubted, which finds the ride again
    sooner. Should plain trust find more records of the ride, it is right, for what must not happen
    is that one is lost.
    """
    careful = _Framer(content, doubting=True).all_parts()
    if not careful.doubted:
        return careful
    trusting = _Framer(content, doubting=False).all_parts()
    more = _rightly_read(content, trusting) > _rightly_read(content, careful)
    return trusting if more else careful


def _rightly_read(content: bytes, frames: Frames) -> int:
    """How many records were made soon after the one before them, or do not tell when."""
    at, time_s = [np.empty(0, np.int64)], [np.empty(0)]
    for layout, starts in zip(frames.layouts, frames.starts(), strict=True):
        if layout.message == RECORD:
            clock = layout.clock
            stored = column(gather(content, layout, starts), clock) if clock else None
            at.append(starts)
            time_s.append(np.full(len(starts), np.nan) if stored is None else stored)
    in_order = np.concatenate(time_s)[np.argsort(np.concatenate(at), kind="stable")]
    known = in_order[np.isfinite(in_order)]
    step_s = np.diff(known)
    soon = np.count_nonzero((step_s >= 0) & (step_s <= regain.STEP_S))
    return len(in_order) - len(known) + int(soon)


class _Framer:
    """Walks through a file; ``pos`` is the next byte that nothing is known of."""

    def __init__(self, content: bytes, *, doubting: bool) -> None:
        self.content = content
        self.doubting = doubting
        self.size = len(content)
        self.pos = 0
        self.found = Frames()
        self._walker = Walker(content, self.found)

    def all_parts(self) -> Frames:
        """Read the file from its first byte to its last."""
        while self.pos < self.size:
            self.part()
        return self.found

    def part(self) -> None:
        """Read one part, or step over what is none."""
        start = self.pos
        if not regain.is_header(self.content, start):
            self._foreign()
            return
        self.found.parts.append(start)
        announced = self._header()
        self._walker = Walker(self.content, self.found)
        whole = self.size - CHECKSUM_BYTES
        if announced <= whole and self._sound(start, announced):
            self._sound_part(announced)
        elif self.pos <= whole != announced and self._sound(start, whole):
            wrong = "no size" if announced == self.pos else "a wrong size"
            self._note(start, f"the header gives {wrong}: read up to the end of the file")
            self._sound_part(whole)
        elif self.pos < announced <= whole:
            self._doubt()
            self._unsound_part(announced)
        else:
            self._doubt()
            self._unfinished_part(announced)

    def _doubt(self) -> None:
        self.found.doubted = True
        if self.doubting:
            self._walker.doubt()

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
            on = self._walker.regained(self.pos, self.size)
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

    def _breaks_off(self, announced: int, broken: Break | None) -> None:
        end = max(announced, self.pos + broken.needs if broken else 0)
        text = f"the file breaks off, {counted(end - self.size, 'byte')} too early"
        self._lost(self.pos, text, self.size - self.pos)
        self.pos = self.size

    def _rest_lost(self, broken: Break, end: int) -> None:
        lost = end - self.pos
        self._lost(
            self.pos, f"{broken.text}; the rest, {counted(lost, 'byte')}, was not read", lost
        )

    def _messages(self, end: int, *, chained: bool = True) -> Break | None:
        """Follow the messages up to ``end``, over breaks, or up to the header of another part.

        None: that was reached. Otherwise the break at ``pos`` behind which none was found.
        """
        while True:
            since = self.pos
            self.pos, broken = self._walker.walk(self.pos, end)
            if chained and self.doubting and self._back_to_header(since):
                return None
            if broken is None:
                return None
            on = self._walker.regained(self.pos + 1, end)
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

    def _back_to_header(self, since: int) -> bool:
        """Go back to a header among what was taken for messages: the part before breaks off."""
        header = regain.next_header(self.content, since, self.pos)
        if header is None:
            return False
        cut = self.found.cut(header)
        self._lost(cut, f"another part begins at byte {header}, before this one ends", header - cut)
        self.pos = header
        return True

    def _note(self, offset: int, text: str, lost_bytes: int = 0) -> None:
        self.found.damage.append(Damage(offset, text, lost_bytes))

    def _lost(self, offset: int, text: str, lost_bytes: int) -> None:
        self._note(offset, text, lost_bytes)
        self.found.broken_at = self.found.damage[-1]
