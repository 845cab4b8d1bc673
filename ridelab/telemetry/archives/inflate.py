"""Deflated data -> bytes, never more than allowed, and as far as the data is whole.

Deflate is RFC 1951; the library is zlib. A damage costs what comes after it, not what is before.
"""

from __future__ import annotations

import zlib
from typing import NamedTuple

_CHUNK_BYTES = 1 << 16
_RAW = -zlib.MAX_WBITS  # without the header and checksum of a container


class Inflated(NamedTuple):
    """What came out.

    Attributes:
        data: the bytes, up to the end, the damage or the limit.
        used: packed bytes taken; the container goes on behind them.
        damage: what ended it before its time, in words; empty if it is whole.
        too_large: it would expand to more than the limit.
    """

    data: bytes
    used: int
    damage: str = ""
    too_large: bool = False


def inflate(packed: memoryview, limit: int) -> Inflated:
    """Unpack one deflated stream, at most ``limit`` bytes of it."""
    stream = zlib.decompressobj(_RAW)
    out = bytearray()
    fed = 0
    while not stream.eof:
        chunk = stream.unconsumed_tail
        if not chunk:
            chunk = bytes(packed[fed : fed + _CHUNK_BYTES])
            fed += len(chunk)
        if not chunk:
            return Inflated(bytes(out), fed, damage="breaks off")
        before = stream.copy()
        try:
            out += stream.decompress(chunk, limit - len(out) + 1)
        except zlib.error:
            intact = _up_to_damage(before, chunk, out, limit)
            at = fed - len(chunk) + intact
            return Inflated(bytes(out[:limit]), at, damage=f"is damaged at its packed byte {at}")
        if len(out) > limit:
            return Inflated(b"", fed, too_large=True)
    return Inflated(bytes(out), fed - len(stream.unused_data))


def _up_to_damage(stream: zlib._Decompress, chunk: bytes, out: bytearray, limit: int) -> int:
    """Add to ``out`` what a damaged chunk still yields; return how many bytes of it are good.

    The damage is closed in on by halves, on copies of the stream.
    """
    good, length = 0, len(chunk)
    while length > 1:
        half = length // 2
        trial = stream.copy()
        try:
            more = trial.decompress(chunk[good : good + half], max(limit - len(out), 0) + 1)
        except zlib.error:
            length = half
            continue
        if trial.unconsumed_tail:
            return good
        out += more
        stream, good, length = trial, good + half, length - half
    return good
