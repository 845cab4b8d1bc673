"""Packs FIT files byte by byte, right or wrong on purpose.

Names, numbers and base types of messages and fields are looked up in the profile that fitdecode
generates from the FIT profile; the framing is written from the FIT protocol. Values are the stored
numbers, before scale and offset; None is the invalid value of the type.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import TypeAlias

from fitdecode import utils
from fitdecode.types import BASE_TYPES

Value: TypeAlias = int | float | bytes | None

#: 2024-05-01 06:00:00 UTC in FIT seconds: 1714543200 - 631065600.
START = 1_083_477_600

#: FIT protocol: table of the CRC-16, one entry for each half byte.
CRC_TABLE = (
    0x0000, 0xCC01, 0xD801, 0x1400, 0xF001, 0x3C00, 0x2800, 0xE401,
    0xA001, 0x6C00, 0x7800, 0xB401, 0x5000, 0x9C01, 0x8801, 0x4400,
)  # fmt: skip

#: FIT protocol: base type -> struct code and the value that means "not known".
INVALID: dict[int, tuple[str, Value]] = {
    0x00: ("B", 0xFF), 0x01: ("b", 0x7F), 0x02: ("B", 0xFF), 0x83: ("h", 0x7FFF),
    0x84: ("H", 0xFFFF), 0x85: ("i", 0x7FFFFFFF), 0x86: ("I", 0xFFFFFFFF),
    0x88: ("f", float("nan")), 0x89: ("d", float("nan")), 0x0A: ("B", 0), 0x8B: ("H", 0),
    0x8C: ("I", 0), 0x0D: ("B", 0xFF), 0x8E: ("q", 2**63 - 1), 0x8F: ("Q", 2**64 - 1),
    0x90: ("Q", 0),
}  # fmt: skip


def crc16(content: bytes) -> int:
    """The CRC-16 of the FIT protocol, half byte by half byte."""
    crc = 0
    for byte in content:
        for half in (byte & 0xF, byte >> 4):
            crc = (crc >> 4) ^ CRC_TABLE[(crc ^ half) & 0xF]
    return crc


@dataclass(frozen=True)
class Raw:
    """A field as a definition stores it, when it should differ from the profile."""

    number: int
    size: int
    base_type: int


@dataclass(frozen=True)
class Layout:
    """A definition message: which message, which fields in which order, at which local number."""

    message: str | int
    fields: tuple[str | Raw, ...]
    local: int = 0
    big_endian: bool = False
    developer: tuple[tuple[int, int, int], ...] = ()  # (field number, size, developer index)

    @property
    def endian(self) -> str:
        """The struct sign of the byte order."""
        return ">" if self.big_endian else "<"

    def raw(self) -> list[Raw]:
        """The fields as stored."""
        return [f if isinstance(f, Raw) else _of_profile(self.message, f) for f in self.fields]

    def definition(self) -> bytes:
        """The definition message."""
        number = self.message if isinstance(self.message, int) else _number(self.message)
        flags = 0x40 | (0x20 if self.developer else 0)
        fields = self.raw()
        out = struct.pack(
            f"{self.endian}BBBHB", flags | self.local, 0, self.big_endian, number, len(fields)
        )
        for field in fields:
            out += bytes((field.number, field.size, field.base_type))
        if self.developer:
            out += bytes((len(self.developer),))
            out += b"".join(bytes(field) for field in self.developer)
        return out

    def data(self, *values: Value, extra: bytes = b"") -> bytes:
        """A data message; ``extra`` holds the developer fields."""
        return bytes((self.local,)) + self._payload(values) + extra

    def compressed(self, offset_s: int, *values: Value) -> bytes:
        """A data message with the time in its header: the low five bits of the second."""
        return bytes((0x80 | self.local << 5 | offset_s & 0x1F,)) + self._payload(values)

    def _payload(self, values: tuple[Value, ...]) -> bytes:
        fields = self.raw()
        assert len(values) == len(fields), "one value a field"
        return b"".join(
            _packed(field, value, self.endian) for field, value in zip(fields, values, strict=True)
        )


def fit_file(
    *messages: bytes,
    header_size: int = 14,
    header_crc: int | None = None,
    body_size: int | None = None,
    crc: int | None = None,
) -> bytes:
    """Header, messages, checksum; what is None is put right."""
    body = b"".join(messages)
    announced = len(body) if body_size is None else body_size
    header = struct.pack("<BBHI4s", header_size, 0x20, 2100, announced, b".FIT")
    if header_size == 14:
        header += struct.pack("<H", crc16(header) if header_crc is None else header_crc)
    whole = header + body
    return whole + struct.pack("<H", crc16(whole) if crc is None else crc)


def table(layout: Layout, *rows: tuple[Value, ...]) -> bytes:
    """A definition and its data messages."""
    return layout.definition() + b"".join(layout.data(*row) for row in rows)


def file_id(kind: int = 4) -> bytes:
    """A file_id message; 4 is an activity (FIT profile, type ``file``)."""
    return table(Layout("file_id", ("type",)), (kind,))


def records(fields: tuple[str | Raw, ...], *rows: tuple[Value, ...]) -> bytes:
    """Record messages; the first field is the timestamp, counted from START."""
    timed = [(None if row[0] is None else START + int(row[0]), *row[1:]) for row in rows]
    return table(Layout("record", ("timestamp", *fields)), *timed)


def ride(*more: bytes, seconds: int = 5) -> bytes:
    """An activity of some seconds at 5 m/s and 60 rpm, with further messages after its records."""
    rows = [(t, 5000, 60, 500 * t) for t in range(seconds)]
    return fit_file(file_id(), records(("speed", "cadence", "distance"), *rows), *more)


def _number(message: str) -> int:
    number: int = utils.get_mesg_num(message)
    return number


def _of_profile(message: str | int, name: str) -> Raw:
    field = next(f for f in utils.get_mesg_type(message).fields.values() if f.name == name)
    base = field.base_type
    return Raw(field.def_num, base.size, base.identifier)


def _packed(field: Raw, value: Value, endian: str) -> bytes:
    if isinstance(value, bytes):
        return value.ljust(field.size, b"\0")
    code, invalid = INVALID[field.base_type]
    count = field.size // BASE_TYPES[field.base_type].size
    return struct.pack(f"{endian}{count}{code}", *[invalid if value is None else value] * count)


#: A sport message; 2 is cycling (FIT profile, type ``sport``).
CYCLING = table(Layout("sport", ("sport",)), (2,))
