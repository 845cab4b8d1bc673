"""Ways in which the bytes of a ride file get damaged; each returns a new, damaged content."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from random import Random

#: Where a FIT header keeps its own size and that of the messages.
HEADER_SIZES = (0, 4, 5, 6, 7)


def flip_bits(content: bytes, random: Random) -> bytes:
    """A few bits anywhere."""
    out = bytearray(content)
    for _ in range(random.choice((1, 1, 2, 4, 16))):
        at = random.randrange(len(out)) if out else 0
        if out:
            out[at] ^= 1 << random.randrange(8)
    return bytes(out)


def flip_early_bits(content: bytes, random: Random) -> bytes:
    """A few bits near the start, where headers and definitions stand."""
    head = min(len(content), 400)
    return flip_bits(content[:head], random) + content[head:]


def truncate(content: bytes, random: Random) -> bytes:
    """The end is missing."""
    return content[: random.randrange(len(content) + 1)]


def lose_start(content: bytes, random: Random) -> bytes:
    """The first bytes behind the header are missing."""
    return content[:14] + content[14 + random.randrange(64) :]


def cut_out(content: bytes, random: Random) -> bytes:
    """A piece is missing."""
    at = random.randrange(len(content) + 1)
    return content[:at] + content[at + random.choice((1, 2, 3, 7, 64, 4096)) :]


def repeat(content: bytes, random: Random) -> bytes:
    """A piece stands twice."""
    at, length = random.randrange(len(content) + 1), random.choice((1, 4, 20, 512))
    return content[: at + length] + content[at:]


def move(content: bytes, random: Random) -> bytes:
    """A piece of the file overwrites another, as when blocks of a disk are mixed up."""
    length = random.choice((16, 128, 512, 4096))
    source, target = random.randrange(len(content) + 1), random.randrange(len(content) + 1)
    piece = content[source : source + length]
    return content[:target] + piece + content[target + len(piece) :]


def chain(content: bytes, random: Random) -> bytes:
    """Another copy of the file, or a piece of it, follows."""
    return content + content[: random.randrange(len(content) + 1)]


def blank(content: bytes, random: Random) -> bytes:
    """A piece is all zeros or all ones, as where a disk was never written."""
    at, length = random.randrange(len(content) + 1), random.choice((4, 64, 512, 4096))
    filled = random.choice((b"\0", b"\xff")) * len(content[at : at + length])
    return content[:at] + filled + content[at + length :]


def noise(content: bytes, random: Random) -> bytes:
    """A piece is random."""
    at, length = random.randrange(len(content) + 1), random.choice((1, 16, 512))
    return content[:at] + random.randbytes(length) + content[at + length :]


def sizes(content: bytes, random: Random) -> bytes:
    """The sizes in the header are wrong."""
    out = bytearray(content)
    for at in random.sample(HEADER_SIZES, random.choice((1, 2, 4))):
        if at < len(out):
            out[at] = random.choice((0, 1, 12, 14, 127, 255, random.randrange(256)))
    return bytes(out)


def definitions(content: bytes, random: Random) -> bytes:
    """A definition message gets another size, type, number or count of fields."""
    places = [at for at in range(len(content) - 6) if content[at] & 0xD0 == 0x40]
    places = [at for at in places if content[at + 1] == 0 and content[at + 2] <= 1]
    if not places:
        return flip_bits(content, random)
    out = bytearray(content)
    at = random.choice(places)
    fields = 3 * out[at + 5]
    chosen = at + random.choice((0, 2, 3, 5, 6 + random.randrange(max(fields, 1))))
    if chosen < len(out):
        out[chosen] = random.choice((0, 1, 255, random.randrange(256)))
    return bytes(out)


ALL = (
    flip_bits,
    flip_early_bits,
    truncate,
    lose_start,
    cut_out,
    repeat,
    move,
    chain,
    blank,
    noise,
    sizes,
    definitions,
)
