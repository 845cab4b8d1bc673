"""Ways in which an archive gets damaged, beyond those of any file; each returns a new content."""

from __future__ import annotations

import gzip
import struct
import zipfile
from typing import TYPE_CHECKING

from tests.benchmarks import mutations
from tests.telemetry.archives.packing import zip_of
from tests.telemetry.fitbytes import CYCLING, ride

if TYPE_CHECKING:
    from random import Random

LOCAL, ENTRY, END = b"PK\x03\x04", b"PK\x01\x02", b"PK\x05\x06"
#: Offsets of the fields of each header behind its signature, and their widths.
FIELDS = {
    LOCAL: ((6, 2), (8, 2), (14, 4), (18, 4), (22, 4), (26, 2), (28, 2)),
    ENTRY: (
        (4, 2), (8, 2), (10, 2), (16, 4), (20, 4), (24, 4), (28, 2), (30, 2), (32, 2), (38, 4),
        (42, 4),
    ),
    END: ((4, 2), (8, 2), (10, 2), (12, 4), (16, 4), (20, 2)),
}  # fmt: skip
NUMBERS = (0, 1, 2, 8, 9, 12, 255, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0xFFFFFFFF)


def seeds() -> list[bytes]:
    """The files that get damaged: both kinds, stored and deflated, in one another, and bombs."""
    short, long = ride(CYCLING), ride(CYCLING, seconds=600)
    several = {"a.fit": short, "sub/": b"", "sub/b.fit": long, "note.txt": b"words" * 90}
    return [
        gzip.compress(long),
        gzip.compress(short) + gzip.compress(long),
        zip_of(several),
        zip_of(several, zipfile.ZIP_STORED),
        zip_of({"a.fit.gz": gzip.compress(long), "b.zip": zip_of(several)}),
        zip_of({"b.zip": zip_of(several)}, zipfile.ZIP_STORED),
        gzip.compress(zip_of({"a.fit": gzip.compress(short)})),
        zip_of(
            {"zeros": bytes(4 << 20), "a.fit": short, "zeros.gz": gzip.compress(bytes(4 << 20))}
        ),
    ]


def change_header(content: bytes, random: Random) -> bytes:
    """A field of some header holds another number."""
    out = bytearray(content)
    for _ in range(random.choice((1, 1, 2, 5))):
        signature = random.choice((LOCAL, ENTRY, END))
        places = [at for at in range(len(content) - 46) if content[at : at + 4] == signature]
        if not places:
            continue
        offset, width = random.choice(FIELDS[signature])
        at = random.choice(places) + offset
        number = random.choice((*NUMBERS, random.randrange(len(content) + 1)))
        out[at : at + width] = struct.pack("<I", number)[:width]
    return bytes(out)


def change_gzip_header(content: bytes, random: Random) -> bytes:
    """Flags and lengths of a gzip header."""
    at = content.find(b"\x1f\x8b\x08")
    if at < 0:
        return change_header(content, random)
    out = bytearray(content)
    for place in random.sample(range(at + 3, at + 24), 3):
        if place < len(out):
            out[place] = random.randrange(256)
    return bytes(out)


def entry_twice(content: bytes, random: Random) -> bytes:
    """The directory lists a member many times."""
    at = content.rfind(ENTRY)
    end = content.find(END, at)
    if at < 0 or end < 0 or end + 22 > len(content):
        return mutations.chain(content, random)
    times = random.choice((2, 50, 3000))
    more = content[at:end] * times
    tail = bytearray(content[end:])
    number, size = (
        struct.unpack_from("<H2xI", tail, 10 - 2)[0],
        struct.unpack_from("<I", tail, 12)[0],
    )
    number = min(number + times, 0xFFFF)
    struct.pack_into("<HHI", tail, 8, number, number, (size + len(more)) & 0xFFFFFFFF)
    return content[:end] + more + bytes(tail)


def pack_again(content: bytes, random: Random) -> bytes:
    """Packed once more, or often."""
    for _ in range(random.choice((1, 1, 2, 6))):
        content = random.choice((gzip.compress, lambda one: zip_of({"inner": one})))(content)
    return content


ALL = (
    mutations.flip_bits, mutations.flip_early_bits, mutations.truncate, mutations.cut_out,
    mutations.repeat, mutations.move, mutations.chain, mutations.blank, mutations.noise,
    change_header, change_header, change_gzip_header, entry_twice, pack_again,
)  # fmt: skip
