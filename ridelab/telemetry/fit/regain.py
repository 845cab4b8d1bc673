"""Finding the messages again behind bytes that make no sense.

Two things stand out of noise: a definition message, whose every field has a type that exists and a
size that fits it, and a data message with the time of the ride at the place where its layout keeps
the time. Either must be followed by more messages that can be followed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from fitdecode.profile import MESSAGE_TYPES
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

#: So many messages must follow each other, or reach the end.
FOLLOWING = 4

#: What may stand behind the last message: the checksum of the part, or a piece of it.
CHECKSUM_BYTES = 2

#: FIT profile, mesg_num: from here on makers number messages of their own.
OWN_MESSAGES = 0xFF00


def is_header(content: bytes, at: int) -> bool:
    """Whether a part begins there."""
    signed = content[at + SIGN_AT : at + SIGN_AT + len(SIGN)] == SIGN
    return signed and HEADER_BYTES <= content[at] <= len(content) - at


def next_header(content: bytes, start: int, end: int) -> int | None:
    """Offset of the first header of a part that begins at ``start`` or later, before ``end``."""
    sign = content.find(SIGN, start + SIGN_AT, end + SIGN_AT)
    while sign >= 0:
        if is_header(content, sign - SIGN_AT):
            return sign - SIGN_AT
        sign = content.find(SIGN, sign + 1, end + SIGN_AT)
    return None


def next_message(
    content: bytes, start: int, end: int, local: Mapping[int, Layout], time_s: int | None
) -> int | None:
    """Offset from which messages follow each other again, at ``start`` or later; None without.

    Args:
        content: the whole file.
        start: where the search begins.
        end: where the messages end.
        local: the layouts in force.
        time_s: about when the messages before were made, in FIT seconds; None if nothing tells.
    """
    window = WINDOW_BYTES
    while start < end:
        stop = min(start + window, end)
        bounds = None if time_s is None else (time_s - EARLIER_S, time_s + LATER_S)
        candidates = _definitions(content, start, stop)
        if bounds is not None:
            candidates = np.concatenate([candidates, *_timed(content, start, stop, local, bounds)])
        for at in np.unique(candidates).tolist():
            if follows(content, at, end, local):
                return int(at)
        start, window = stop, 2 * window
    return None


def follows(content: bytes, at: int, end: int, local: Mapping[int, Layout]) -> bool:
    """Whether several messages in a row make sense from ``at`` on."""
    known = dict(local)
    for followed in range(FOLLOWING):
        if followed and at >= end - CHECKSUM_BYTES:
            return at <= end
        if at >= end:
            return False
        header = content[at]
        if header & (COMPRESSED | DEFINITION) == DEFINITION:
            after = definition_end(content, at)
            if after > end or not _sensible(content, at, after):
                return False
            layout = parse(content[at + 1 : after], bool(header & DEVELOPER))
            known[local_number(header)] = layout
        elif local_number(header) in known and (header & COMPRESSED or header < 16):
            after = at + known[local_number(header)].size
        else:
            return False
        at = after
    return at <= end


def _sensible(content: bytes, at: int, after: int) -> bool:
    """Whether a definition message is one that a unit would write."""
    header, reserved, big_endian, _, _, fields = content[at : at + FIXED_BYTES]
    if header & 0x10 or reserved or big_endian > 1 or not fields:
        return False
    layout = parse(content[at + 1 : after], bool(header & DEVELOPER))
    if layout.message not in MESSAGE_TYPES and layout.message < OWN_MESSAGES:
        return False
    stop = at + FIXED_BYTES + 3 * fields
    return all(
        base in BASE_TYPES and size and size % BASE_TYPES[base].size == 0
        for size, base in zip(
            content[at + FIXED_BYTES + 1 : stop : 3],
            content[at + FIXED_BYTES + 2 : stop : 3],
            strict=True,
        )
    )


def _definitions(content: bytes, start: int, stop: int) -> NDArray[np.int64]:
    """Where bytes look like the first three of a definition message."""
    seen = np.frombuffer(content, np.uint8)[start : stop + 2]
    header = (seen[:-2] & (COMPRESSED | DEFINITION | 0x10)) == DEFINITION
    return np.flatnonzero(header & (seen[1:-1] == 0) & (seen[2:] <= 1)) + start


def _timed(
    content: bytes, start: int, stop: int, local: Mapping[int, Layout], bounds: tuple[int, int]
) -> Iterator[NDArray[np.int64]]:
    """Where bytes look like a data message of a layout in force, made within these times."""
    everything = np.frombuffer(content, np.uint8)
    for number, layout in local.items():
        clock = layout.clock
        if clock is None:
            continue
        last = min(stop, len(content) - clock.start - clock.size + 1)
        if last <= start:
            continue
        at = np.flatnonzero(everything[start:last] == number) + start
        stored = everything[at[:, None] + (clock.start + np.arange(clock.size))]
        time_s = stored.view(f"{layout.endian}u4")[:, 0]
        yield at[(time_s >= bounds[0]) & (time_s <= bounds[1])]
