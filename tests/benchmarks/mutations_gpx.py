"""Ways in which a GPX file gets damaged, beyond those of any file; each returns a new content."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmarks import mutations
from tests.real_rides import REAL_RIDES
from tests.telemetry.gpxtext import gpx as whole
from tests.telemetry.gpxtext import one_track, point, ride, segment, track

if TYPE_CHECKING:
    from random import Random

PATH = Path("damaged.gpx")

#: Of larger files this much is taken, so that the inputs are many and not large.
LARGEST_BYTES = 1 << 15

TAG = re.compile(rb"<[^<>]*>")
VALUE = re.compile(rb"(?<=>)[^<>]+(?=<)|(?<=\")[^<>\"]*(?=\")")
TIME = re.compile(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d")
ELEMENT = re.compile(rb"<(\w+)[^<>]*>[^<>]*</\1>\s*")

#: What programs and accidents put where it does not belong.
MARKUP = (
    b"<!--", b"-->", b"<![CDATA[", b"]]>", b"<?x", b"?>", b"&amp;", b"&", b"&nbsp;", b"&#0;",
    b"&#x110000;", b"<", b">", b'"', b"'", b"/", b"</trkpt>", b"<trkpt>", b"</trkseg>", b"<trkseg>",
    b'<trkpt lat="1" lon="2"/>', b"</gpx>", b"<gpx>", b"<!DOCTYPE gpx>", b"<?xml version='1.0'?>",
    b'<!DOCTYPE a [<!ENTITY b "c">]>', b"\0", b"\xff\xfe", b"\xef\xbb\xbf", b"\n", b"<a>" * 500,
)  # fmt: skip
VALUES = (
    b"", b" ", b"NaN", b"-1", b"1e999", b"1,5", b"0x10", b"9" * 400, b"-0", b"90.0000001", b"\xc3",
    b"2024-02-30T00:00:00Z", b"9999-12-31T23:59:59Z", b"0001-01-01T00:00:00Z", b"24:00:00",
    b"1970-01-01T00:00:00Z", b"2024-05-01T06:00:00", b"2024-05-01T06:00:00+99:99", b"&#49;",
)  # fmt: skip
ENCODINGS = ("utf-16", "utf-16-le", "utf-16-be", "utf-8-sig", "iso-8859-1", "utf-32")
DECLARED = (b"UTF-8", b"UTF-16", b"ISO-8859-1", b"ascii", b"zlib", b"x-none", b"utf_7", b"idna")


def seeds() -> list[bytes]:
    """The files that get damaged: real ones where they are, and made ones."""
    named = "<extensions><x:PowerInWatts>200</x:PowerInWatts></extensions><ele>1</ele>"
    rich = [point(t, 5.0 * t, "<speed>5</speed>", named, cad=60) for t in range(40)]
    made = [
        one_track(ride(60)),
        whole(track(segment(ride(20)), segment(ride(20, start_s=60))), track(segment(*rich))),
        whole(track(segment(ride(30)), kind="running"), track(segment(*rich))).replace("n>", "n >"),
    ]
    real = sorted((REAL_RIDES / "good").glob("*.gpx"))
    return [*(text.encode() for text in made), *(_shortened(file.read_bytes()) for file in real)]


def _shortened(content: bytes) -> bytes:
    end = content.rindex(b"</trkpt>", 0, LARGEST_BYTES) + len(b"</trkpt>")
    return content[:end] + b"</trkseg></trk></gpx>"


def put_in(content: bytes, random: Random) -> bytes:
    """Markup where it does not belong."""
    at = random.randrange(len(content) + 1)
    return content[:at] + random.choice(MARKUP) + content[at:]


def lose_tag(content: bytes, random: Random) -> bytes:
    """A tag is missing."""
    return _replaced(TAG, content, random, b"")


def change_value(content: bytes, random: Random) -> bytes:
    """A value that cannot be, or one of another element."""
    return _replaced(VALUE, content, random, random.choice(VALUES))


def change_times(content: bytes, random: Random) -> bytes:
    """From some point on the clock is another one; now and then only for some points."""
    found = list(TIME.finditer(content))
    if not found:
        return content
    first = random.choice(found).start()
    last = min(first + random.choice((100, 4000, len(content))), len(content))
    old, new = random.choice((b"20", b"T1", b":0", b"-0")), random.choice((b"19", b"T0", b":1"))
    return content[:first] + content[first:last].replace(old, new) + content[last:]


def swap_elements(content: bytes, random: Random) -> bytes:
    """Two elements change places, such as two times."""
    found = list(ELEMENT.finditer(content))
    if len(found) < 2:
        return content
    one, two = sorted(random.sample(found, 2), key=lambda match: match.start())
    if one.end() > two.start():
        return content
    return b"".join(
        (
            content[: one.start()],
            two[0],
            content[one.end() : two.start()],
            one[0],
            content[two.end() :],
        )
    )


def rename(content: bytes, random: Random) -> bytes:
    """An element is called another thing throughout, or gets another prefix."""
    names = (b"trkpt", b"trkseg", b"trk", b"time", b"ele", b"gpx", b"cad", b"power", b"speed")
    old, new = random.choice(names), random.choice((*names, b"rtept", b"n:trkpt", b"q"))
    return content.replace(old, new)


def recode(content: bytes, random: Random) -> bytes:
    """The whole file in another encoding, whatever it declares."""
    return content.decode("utf-8", errors="replace").encode(
        random.choice(ENCODINGS), errors="replace"
    )


def declare(content: bytes, random: Random) -> bytes:
    """The file declares another encoding."""
    declaration = b'<?xml version="1.0" encoding="%s"?>' % random.choice(DECLARED)
    return declaration + re.sub(rb"<\?xml[^>]*>", b"", content, count=1)


def _replaced(pattern: re.Pattern[bytes], content: bytes, random: Random, new: bytes) -> bytes:
    found = list(pattern.finditer(content))
    if not found:
        return content
    one = random.choice(found)
    return content[: one.start()] + new + content[one.end() :]


ALL = (
    mutations.flip_bits,
    mutations.flip_early_bits,
    mutations.truncate,
    mutations.cut_out,
    mutations.repeat,
    mutations.move,
    mutations.chain,
    mutations.blank,
    mutations.noise,
    put_in,
    lose_tag,
    change_value,
    change_times,
    swap_elements,
    rename,
    recode,
    declare,
)
