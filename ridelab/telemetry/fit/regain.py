"""Finding the messages again behind bytes that make no sense.

Two things stand out of noise: a definition message, whose every field has a type that exists and a
size that fits it, and a data message with the time of the ride at the place where its layout keeps
the time. Either must be followed by more messages that can be followed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from fitdecode.types import BASE_TYPES

from ridelab.telemetry.fit.layout import (
    COMPRESSED,
    DEFINITION,
    DEVELOPER,
    FIXED_BYTES,
    definition_end,
    local_number,
    parse,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from ridelab.telemetry.fit.layout import Layout

SIGN = b".FIT"
SIGN_AT = 8
HEADER_BYTES = 12

#: How far is searched at first; then twice as far, and so on, so that a near place costs little.
WINDOW_BYTES = 4096

#: The time of a message behind a break: at most this much before, or after, the last one known.
EARLIER_S, LATER_S = 60, 86_400

#: Two messages of one layout, one behind the other, are at most so far apart in time. It must be
#: less than 256 s: that is what a second looks like if it is read one byte too early.
STEP_S = 120

#: FIT protocol: what stands for a time that is not known.
INVALID_TIME = 0xFFFFFFFF

#: So many messages must follow each other, or reach the end.
FOLLOWING = 4

#: What may stand behind the last message: the checksum of the part, or a piece of it.
CHECKSUM_BYTES = 2

#: FIT profile, mesg_num: from here on makers number messages of their own.
OWN_MESSAGES = 0xFF00

#: All other messages, those too that the profile does not publish, have lower numbers than this.
LAST_MESSAGE = 0x3FF

#: The bit of the header byte of a definition that means nothing yet.
RESERVED = 0x10


def is_header(content: bytes, at: int) -> bool:
    """Whether a part begins there."""
    signed = content[at + SIGN_AT : at + SIGN_AT + len(SIGN)] == SIGN
    return signed and HEADER_BYTES <= content[at] <= len(content) - at


def next_header(content: bytes, start: int, end: int) -> int | None:
    """Offset of the first header of a part that begins at ``start`` or later, before ``end``.

    Where none is due, the sign alone is not enough: a definition message must follow.
    """
    sign = content.find(SIGN, start + SIGN_AT, end + SIGN_AT)
    while sign >= 0:
        at = sign - SIGN_AT
        if is_header(content, at):
            body = at + content[at]
            first = content[body : body + 3]
            header, reserved, big_endian = first if len(first) == 3 else (DEFINITION, 0, 0)
            if header & 0xF0 == DEFINITION and not reserved and big_endian <= 1:
                return at
        sign = content.find(SIGN, sign + 1, end + SIGN_AT)
    return None


class Search:
    """Looks for the place from which messages can be followed again.

    Args:
        content: the whole file.
        end: where the messages end.
        local: the layouts in force, by local number.
        time_s: about when the messages before were made, in FIT seconds; None if nothing tells.
    """

    def __init__(
        self, content: bytes, end: int, local: Mapping[int, Layout], time_s: int | None
    ) -> None:
        self._content, self._end, self._local, self._time_s = content, end, local, time_s
        self._everything = np.frombuffer(content, np.uint8)

    def next_message(self, start: int, upto: int) -> int | None:
        """Offset of the first such place at ``start`` or later, before ``upto``; None without."""
        window = WINDOW_BYTES
        while start < upto:
            stop = min(start + window, upto)
            found = [self._definitions(start, stop)]
            for number, layout in self._local.items():
                found += self._timed(number, layout, start, stop)
            for at in np.unique(np.concatenate(found)).tolist():
                if self._follow(at):
                    return int(at)
            start, window = stop, 2 * window
        return None

    def _follow(self, at: int) -> bool:
        """Whether several messages in a row make sense from ``at`` on."""
        content, end, known = self._content, self._end, dict(self._local)
        for followed in range(FOLLOWING):
            if followed and at >= end - CHECKSUM_BYTES:
                return at <= end
            if at >= end:
                return False
            header = content[at]
            local = local_number(header)
            if header & (COMPRESSED | DEFINITION) == DEFINITION:
                after = definition_end(content, at)
                if after > end or not _sensible(content, at):
                    return False
                known[local] = parse(content[at + 1 : after], bool(header & DEVELOPER))
            elif local in known and (header & COMPRESSED or header == local):
                after = at + known[local].size
            else:
                return False
            at = after
        return at <= end

    def _definitions(self, start: int, stop: int) -> NDArray[np.int64]:
        """Where bytes look like the first three of a definition message."""
        seen = self._everything[start : stop + 2]
        header = (seen[:-2] & (COMPRESSED | DEFINITION | RESERVED)) == DEFINITION
        return np.flatnonzero(header & (seen[1:-1] == 0) & (seen[2:] <= 1)) + start

    def _timed(
        self, number: int, layout: Layout, start: int, stop: int
    ) -> Iterator[NDArray[np.int64]]:
        """Where bytes look like a message of this layout, made when it should have been.

        Either about the time that is known, or just before another one that follows it.
        """
        clock = layout.clock
        if clock is None:
            return
        room = len(self._content) - clock.start - clock.size + 1
        if min(stop, room) <= start:
            return
        at = np.flatnonzero(self._everything[start : min(stop, room)] == number) + start
        own_s = self._times(at, layout, clock.start)
        if self._time_s is not None:
            low, high = self._time_s - EARLIER_S, self._time_s + LATER_S
            yield at[(own_s >= low) & (own_s <= high)]
        after = at + layout.size
        paired = (after < room) & (own_s > 0) & (own_s < INVALID_TIME)
        at, own_s, after = at[paired], own_s[paired], after[paired]
        step_s = self._times(after, layout, clock.start) - own_s
        yield at[(self._everything[after] == number) & (step_s >= 0) & (step_s <= STEP_S)]

    def _times(self, at: NDArray[np.int64], layout: Layout, offset: int) -> NDArray[np.int64]:
        stored = self._everything[at[:, None] + np.arange(offset, offset + 4)]
        time_s: NDArray[np.uint32] = stored.view(f"{layout.endian}u4")[:, 0]
        return time_s.astype(np.int64)


def well_formed(content: bytes, at: int) -> bool:
    """Whether a definition message at ``at`` has only types that exist, and nothing reserved.

    Units with odd sizes of fields do exist; those are not held against it.
    """
    header, reserved, big_endian, _, _, fields = content[at : at + FIXED_BYTES]
    if header & RESERVED or reserved or big_endian > 1:
        return False
    types = content[at + FIXED_BYTES + 2 : at + FIXED_BYTES + 3 * fields : 3]
    return all(base in BASE_TYPES for base in types)


def _sensible(content: bytes, at: int) -> bool:
    """Whether a definition message is one that every unit could write."""
    fields = content[at + FIXED_BYTES - 1]
    if not fields or not well_formed(content, at):
        return False
    message = int.from_bytes(content[at + 3 : at + 5], "big" if content[at + 2] else "little")
    stop = at + FIXED_BYTES + 3 * fields
    sizes = content[at + FIXED_BYTES + 1 : stop : 3]
    types = content[at + FIXED_BYTES + 2 : stop : 3]
    return not LAST_MESSAGE < message < OWN_MESSAGES and all(
        size and size % BASE_TYPES[base].size == 0 for size, base in zip(sizes, types, strict=True)
    )
