"""Ways in which a CSV file gets damaged, beyond those of any file; each returns a new content."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ridelab.campaign.loggers import TimeColumn
from tests.benchmarks import mutations
from tests.telemetry.logs.logged import logger, table

if TYPE_CHECKING:
    from random import Random

#: What programs and accidents put into a field.
FIELDS = (
    b"", b" ", b"NaN", b"-nan", b"inf", b"-1", b"1e999", b"1e-999", b"1,5", b"1.5", b"0x10", b"--",
    b"9" * 400, b"-0", b'"', b'""', b'"a', b"a\"b", b"'", b"\0", b"\xff", b"\xc3", b"#N/A", b"=1+1",
    b"2031-02-30T00:00:00Z", b"9999-12-31T23:59:59Z", b"0001-01-01T00:00:00Z", b"24:00:00",
    b"1970-01-01T00:00:00", b"2031-05-04T08:00:00+99:99", b"1e18", b"-1e18", b"1e300", b"65536",
)  # fmt: skip
LINES = (
    b"", b",", b";", b",,,,,,,,", b"t,speed,cadence", b"\r", b"\n\n\n", b'"', b"# comment",
    b"sep=;", b"," * 5000, b"x" * 70_000, b"\0" * 512, b"\xef\xbb\xbf", b"\x1a",
)  # fmt: skip
ENCODINGS = ("utf-16", "utf-16-le", "utf-8-sig", "iso-8859-1", "utf-32", "cp037")

_ISO = TimeColumn("when", "iso", "Europe/Lisbon")
_PATTERN = TimeColumn("clock", "%d.%m.%Y %H:%M:%S%.f")
LOGGERS = (
    logger(speed=1 / 3.6, cadence=1.0),
    replace(
        logger(name="iso", wheel_rpm=1.0, distance=1000.0, latitude=1.0, longitude=1.0), time=_ISO
    ),
    replace(
        logger(name="counts", wheel_pulses=1 / 6, crank_pulses=1.0, power=1000.0),
        delimiter=";", decimal=",", time=_PATTERN, encoding="windows-1252", skip_rows=1,
    ),
    replace(
        logger(name="unix", altitude=1.0, cadence=1.0, wheel_pulses=1.0),
        time=TimeColumn("unix", "unix milliseconds"), delimiter="\t",
    ),
)  # fmt: skip
ROLLOUT_M = 2.1


def seeds() -> list[bytes]:
    """The files that get damaged: each logger's own, at several rates."""
    plain = [(n / 4, 20 + n % 7 / 10, 60 + n % 5) for n in range(300)]
    iso = [
        (f"2031-05-04T08:{n // 60:02}:{n % 60:02}", 120 + n % 9, n / 200, 38.7 + n / 1e5, -9.1)
        for n in range(300)
    ]
    pulses = [
        (f"04.05.2031 08:00:{n // 100:02},{n % 100:02}", n // 5, n // 80, "" if n % 50 else "0,2")
        for n in range(2000)
    ]
    unix = [
        (1935648000000 + 100 * n, 100 + n / 50, "" if n % 10 else 75, n // 3) for n in range(900)
    ]
    return [
        table("t,speed,cadence", plain).encode(),
        table("t,speed,cadence,note", [(*row, '"a, b"') for row in plain]).encode(),
        table("when,wheel_rpm,distance,latitude,longitude", iso).encode(),
        b"bench 7\n" + table("clock;wheel_pulses;crank_pulses;power", pulses, ";").encode(),
        table("unix\taltitude\tcadence\twheel_pulses", unix, "\t").encode(),
    ]


def _lines(content: bytes) -> list[bytes]:
    return content.split(b"\n")


def change_field(content: bytes, random: Random) -> bytes:
    """A few fields hold something else."""
    lines = _lines(content)
    for _ in range(random.choice((1, 1, 4, 40))):
        at = random.randrange(len(lines))
        for delimiter in (b",", b";", b"\t"):
            fields = lines[at].split(delimiter)
            if len(fields) > 1:
                fields[random.randrange(len(fields))] = random.choice(FIELDS)
                lines[at] = delimiter.join(fields)
                break
    return b"\n".join(lines)


def change_column(content: bytes, random: Random) -> bytes:
    """One column holds the same throughout."""
    lines, value = _lines(content), random.choice(FIELDS)
    place = random.randrange(4)
    for at, line in enumerate(lines[2:], 2):
        for delimiter in (b",", b";", b"\t"):
            fields = line.split(delimiter)
            if place < len(fields) > 1:
                fields[place] = value
                lines[at] = delimiter.join(fields)
                break
    return b"\n".join(lines)


def put_line(content: bytes, random: Random) -> bytes:
    """A line that does not belong."""
    lines = _lines(content)
    lines.insert(
        random.randrange(min(len(lines), random.choice((4, 10_000))) + 1), random.choice(LINES)
    )
    return b"\n".join(lines)


def shuffle(content: bytes, random: Random) -> bytes:
    """Lines in another order, the header left in front mostly."""
    lines = _lines(content)
    begin = random.choice((0, 2, 2, 2))
    body = lines[begin:]
    random.shuffle(body)
    return b"\n".join(lines[:begin] + body)


def repeat_lines(content: bytes, random: Random) -> bytes:
    """Lines stand twice."""
    lines = _lines(content)
    at = random.randrange(len(lines))
    return b"\n".join(lines[: at + random.choice((1, 3, 100))] + lines[at:])


def change_signs(content: bytes, random: Random) -> bytes:
    """Another delimiter, decimal sign or line end."""
    old, new = random.choice(
        ((b",", b";"), (b";", b","), (b".", b","), (b",", b"."), (b"\n", b"\r"), (b"\n", b"\r\n"))
    )
    return content.replace(old, new)


def encode(content: bytes, random: Random) -> bytes:
    """Written in an encoding that nobody announced."""
    return content.decode("utf-8", "replace").encode(random.choice(ENCODINGS), "replace")


ALL = (
    mutations.flip_bits, mutations.flip_early_bits, mutations.truncate, mutations.cut_out,
    mutations.repeat, mutations.move, mutations.blank, mutations.noise, change_field, change_field,
    change_column, put_line, shuffle, repeat_lines, change_signs, encode,
)  # fmt: skip
