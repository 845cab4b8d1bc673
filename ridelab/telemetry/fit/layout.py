"""Definition messages: how the bytes of the data messages that follow are laid out.

Base types, messages and fields are those of the FIT profile that fitdecode ships; nothing of it is
written down here a second time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from fitdecode.profile import MESSAGE_TYPES
from fitdecode.types import BASE_TYPE_BYTE, BASE_TYPES

#: Bits of the header byte of a message (FIT protocol).
COMPRESSED, DEFINITION, DEVELOPER = 0x80, 0x40, 0x20

#: Bytes of a definition message before its fields, header byte included.
FIXED_BYTES = 6

#: FIT protocol: the field number that means the time in every message.
TIMESTAMP = 253

#: Base type (uint32) and size of a time.
CLOCK = (0x86, 4)

BYTE: int = BASE_TYPE_BYTE.identifier
STRING = 0x07


class Field(NamedTuple):
    """One field as stored; ``start`` counts from the header byte of the data message."""

    number: int
    start: int
    size: int
    base: int


class DeveloperField(NamedTuple):
    """A field whose meaning a field_description message of the same file tells."""

    developer: int
    number: int
    start: int
    size: int


@dataclass(frozen=True, eq=False)
class Layout:
    """How one kind of data message is laid out.

    ``size`` is that of a whole data message, its header byte included. A field whose size is no
    multiple of its type has the base type BYTE, as has one of a type that the protocol lacks.
    """

    message: int
    endian: str
    fields: tuple[Field, ...]
    developer: tuple[DeveloperField, ...]
    size: int

    def stored_as(self, number: int) -> list[Field]:
        """The fields of one number; more than one only in odd files."""
        return [field for field in self.fields if field.number == number]

    def before(self, cut: int) -> Layout:
        """What is left of a message whose bytes from ``cut`` on belong to something else."""
        kept = tuple(field for field in self.fields if field.start + field.size <= cut)
        return Layout(self.message, self.endian, kept, (), cut)

    @property
    def clock(self) -> Field | None:
        """The time, where it is stored as the protocol says: four bytes, unsigned."""
        stored = self.stored_as(TIMESTAMP)
        return next((field for field in stored if (field.base, field.size) == CLOCK), None)


@lru_cache(maxsize=1024)
def message_number(name: str) -> int:
    """Number of a message of the profile."""
    return next(int(number) for number, kind in MESSAGE_TYPES.items() if kind.name == name)


def local_number(header: int) -> int:
    """The local number that the header byte of a message names."""
    return header >> 5 & 0x3 if header & COMPRESSED else header & 0xF


def announcing(local: int) -> list[slice]:
    """The header bytes that announce a data message of a local number.

    Bits 4 and 5 of one without a time mean nothing there. A time in the header leaves room for four
    local numbers.
    """
    plain = slice(local, DEFINITION, 16)
    with_time = slice(COMPRESSED + 32 * local, COMPRESSED + 32 * (local + 1))
    return [plain, with_time] if local < 4 else [plain]


def clock_value(content: bytes, at: int, endian: str) -> int:
    """Four unsigned bytes at an offset."""
    return int.from_bytes(content[at : at + 4], "big" if endian == ">" else "little")


def definition_end(content: bytes, start: int) -> int:
    """Where the definition message that begins at ``start`` ends; it may be past the content."""
    size = len(content)
    if start + FIXED_BYTES > size:
        return start + FIXED_BYTES
    end = start + FIXED_BYTES + 3 * content[start + FIXED_BYTES - 1]
    if content[start] & DEVELOPER:
        end += 1 + (3 * content[end] if end < size else 0)
    return end


@lru_cache(maxsize=1024)
def parse(definition: bytes, has_developer: bool) -> Layout:
    """A complete definition message without its header byte -> the layout that it sets.

    The same units write the same definitions, hence the cache.
    """
    endian = ">" if definition[1] else "<"
    message = int.from_bytes(definition[2:4], "big" if definition[1] else "little")
    start = 1
    fields = []
    end = FIXED_BYTES - 1 + 3 * definition[4]
    for at in range(FIXED_BYTES - 1, end, 3):
        number, size, base = definition[at : at + 3]
        if base not in BASE_TYPES or size % BASE_TYPES[base].size:
            base = BYTE
        fields.append(Field(number, start, size, base))
        start += size
    developer = []
    if has_developer:
        for at in range(end + 1, end + 1 + 3 * definition[end], 3):
            number, size, index = definition[at : at + 3]
            developer.append(DeveloperField(index, number, start, size))
            start += size
    return Layout(message, endian, tuple(fields), tuple(developer), start)
