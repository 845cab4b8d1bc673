"""gzip, RFC 1952: one file, packed in one stream or several that follow each other."""

from __future__ import annotations

import struct
import zlib
from typing import TYPE_CHECKING

from ridelab.telemetry.archives.bounds import MAX_MEMBERS, TOO_LARGE
from ridelab.telemetry.archives.inflate import inflate
from ridelab.telemetry.archives.member import Refused, Unpacked

if TYPE_CHECKING:
    from ridelab.telemetry.archives.bounds import Budget

_MAGIC = b"\x1f\x8b"
_DEFLATED = 8
_HEADER_BYTES = 10
_TRAILER = struct.Struct("<II")  # CRC-32 and size modulo 2**32
_LONGEST_TEXT = 1 << 16
_HCRC, _EXTRA, _NAME, _COMMENT = 2, 4, 8, 16


def sniff(content: bytes) -> bool:
    """Whether the content begins as a gzip stream does."""
    return content[:3] == _MAGIC + bytes([_DEFLATED])


def gunzip(content: memoryview, budget: Budget) -> Unpacked:
    """Unpack all streams, their contents joined as the standard has it.

    Raises:
        Refused: it expands beyond the bounds, or breaks before its first byte.
    """
    limit = budget.allowed(len(content))
    if not limit:
        raise Refused(TOO_LARGE)
    data = bytearray()
    damage: list[str] = []
    at = streams = 0
    while sniff(bytes(content[at : at + 3])):
        if streams == MAX_MEMBERS:
            damage.append(f"more than {streams} gzip streams: those after them are left out")
            break
        streams += 1
        begin = _after_header(content, at)
        found = inflate(content[begin:], limit - len(data))
        budget.spend(limit - len(data) if found.too_large else len(found.data), found.used)
        if found.too_large:
            raise Refused(TOO_LARGE)
        data += found.data
        at = begin + found.used
        if found.damage:
            damage.append(f"the gzip stream {found.damage}: what is before that is read")
            break
        damage += _against_trailer(found.data, content[at : at + _TRAILER.size])
        at += _TRAILER.size
    if damage and not data:
        raise Refused(damage[0].partition(":")[0])
    left = bytes(content[at:])
    if left.strip(b"\0") and not damage:
        damage.append(f"{len(left)} bytes behind the gzip stream are no gzip: left out")
    return Unpacked(bytes(data), tuple(damage))


def _after_header(content: memoryview, at: int) -> int:
    """Return where the deflated data begins, the end of the content if the header breaks off."""
    flags = content[at + 3] if at + 3 < len(content) else 0
    begin = at + _HEADER_BYTES
    if flags & _EXTRA:
        begin += 2 + int.from_bytes(content[begin : begin + 2], "little")
    for flag in (_NAME, _COMMENT):
        if flags & flag:
            end = bytes(content[begin : begin + _LONGEST_TEXT]).find(b"\0")
            begin = begin + end + 1 if end >= 0 else len(content)
    if flags & _HCRC:
        begin += 2
    return min(begin, len(content))


def _against_trailer(data: bytes, trailer: memoryview) -> list[str]:
    if len(trailer) < _TRAILER.size:
        return ["the gzip stream breaks off in its checksum: its content was not checked"]
    if _TRAILER.unpack(trailer) != (zlib.crc32(data), len(data) & 0xFFFFFFFF):
        return ["the checksum of the gzip stream is wrong: some of the content may be"]
    return []
