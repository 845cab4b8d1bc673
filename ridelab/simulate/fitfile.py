"""Tables -> the bytes of a FIT file, fast enough for thousands of rides.

The reverse of ``ridelab.telemetry.fit.messages``: a table is a message name of the FIT profile and
a data frame whose columns are fields of that message, in the profile's own units. Field numbers,
types, scales and enumerations come from the profile that the decoder ships.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import polars as pl
from fitdecode import profile
from fitdecode.processors import FIT_UTC_REFERENCE

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    #: Message name and its rows; a null stands for the field's invalid value.
    Table: TypeAlias = tuple[str, pl.DataFrame]

#: Unix time of the FIT epoch, 1989-12-31 00:00 UTC.
FIT_EPOCH_S: int = FIT_UTC_REFERENCE

_HEADER_BYTES = 14
_PROTOCOL = 0x20  # 2.0
_PROFILE = 2117  # release of the profile, 21.17
_DEFINITION = 0x40
_LOCAL_TYPES = 16
_POLYNOMIAL = 0xA001  # CRC-16/ARC, bits reversed


def fit_bytes(tables: Iterable[Table]) -> bytes:
    """Return a FIT file with the rows of all tables, in the order given.

    Raises:
        ValueError: a message, field or word that the profile does not have, or a number that its
            field cannot hold.
    """
    body = b"".join(_messages(tables))
    start = struct.pack("<BBHI4s", _HEADER_BYTES, _PROTOCOL, _PROFILE, len(body), b".FIT")
    content = start + struct.pack("<H", crc16(start)) + body
    return content + struct.pack("<H", crc16(content))


def by_time(tables: Iterable[Table]) -> list[Table]:
    """Cut tables so that their rows follow each other by ``timestamp``, as a unit writes them.

    At equal times the table named first comes first. Each table is in order of time already.
    """
    sources = list(tables)
    times = np.concatenate([frame["timestamp"].to_numpy() for _, frame in sources])
    owner = np.concatenate([np.full(len(frame), i) for i, (_, frame) in enumerate(sources)])
    owner = owner[np.lexsort((owner, times))]
    edges = [0, *(np.flatnonzero(np.diff(owner)) + 1).tolist(), len(owner)]
    written = [0] * len(sources)
    cut: list[Table] = []
    for start, stop in pairwise(edges):
        if start == stop:
            continue
        source = int(owner[start])
        name, frame = sources[source]
        cut.append((name, frame.slice(written[source], stop - start)))
        written[source] += stop - start
    return cut


def crc16(content: bytes) -> int:
    """Checksum of a FIT file: CRC-16/ARC. Over content and its own checksum it is 0."""
    crc = 0
    table = _crc_table()
    for byte in content:
        crc = (crc >> 8) ^ table[(crc ^ byte) & 0xFF]
    return crc


@cache
def _crc_table() -> tuple[int, ...]:
    def divided(crc: int) -> int:
        for _ in range(8):
            crc = (crc >> 1) ^ (_POLYNOMIAL if crc & 1 else 0)
        return crc

    return tuple(divided(byte) for byte in range(256))


@dataclass(frozen=True)
class _Column:
    """How one field is stored: its number, its type, and how many bytes it takes."""

    name: str
    field: Any  # fitdecode's Field
    size: int

    @property
    def base(self) -> str:
        return str(self.field.base_type.name)

    @property
    def stored(self) -> np.dtype[Any]:
        form = f"S{self.size}" if self.base == "string" else f"<{self.field.base_type.fmt}"
        return np.dtype(form)

    def layout(self) -> bytes:
        """The three bytes that a definition message has for this field."""
        return bytes((self.field.def_num, self.size, self.field.base_type.identifier))


def _messages(tables: Iterable[Table]) -> Iterator[bytes]:
    """Definition and data messages; a layout is defined again only after its number was taken."""
    slots: list[tuple[int, tuple[_Column, ...]] | None] = [None] * _LOCAL_TYPES
    taken = 0
    for name, frame in tables:
        number, columns = _columns(name, frame)
        if (number, columns) not in slots:
            slots[taken % _LOCAL_TYPES] = (number, columns)
            yield _definition(taken % _LOCAL_TYPES, number, columns)
            taken += 1
        yield _rows(slots.index((number, columns)), name, columns, frame)


def _definition(local: int, number: int, columns: Sequence[_Column]) -> bytes:
    little_endian = 0
    head = struct.pack("<BBBHB", _DEFINITION | local, 0, little_endian, number, len(columns))
    return head + b"".join(column.layout() for column in columns)


def _rows(local: int, name: str, columns: Sequence[_Column], frame: pl.DataFrame) -> bytes:
    rows = np.zeros(len(frame), [("", "u1"), *((column.name, column.stored) for column in columns)])
    rows["f0"] = local
    for column in columns:
        rows[column.name] = _stored(name, column, frame[column.name])
    return rows.tobytes()


def _columns(name: str, frame: pl.DataFrame) -> tuple[int, tuple[_Column, ...]]:
    number, fields = _message(name)
    columns = []
    for column in frame.columns:
        if column not in fields:
            raise ValueError(f"message {name} of the FIT profile has no field {column}")
        field = fields[column]
        size = int(field.base_type.size)
        if field.base_type.name == "string":
            size = 1 + int(frame[column].str.len_bytes().max() or 0)  # type: ignore[arg-type]
        columns.append(_Column(column, field, size))
    return number, tuple(columns)


@cache
def _message(name: str) -> tuple[int, dict[str, Any]]:
    for message in profile.MESSAGE_TYPES.values():
        if message.name == name:
            return message.mesg_num, {field.name: field for field in message.fields.values()}
    raise ValueError(f"the FIT profile has no message {name}")


def _stored(message: str, column: _Column, values: pl.Series) -> NDArray[Any]:
    """Values in the profile's unit -> as stored, invalid where null."""
    if column.base == "string":
        return np.array([(text or "").encode() for text in values], column.stored)
    if values.dtype == pl.String:
        words = {word: code for code, word in column.field.type.enum.items()}
        unknown = set(values.drop_nulls()) - set(words)
        if unknown:
            raise ValueError(f"{message}.{column.name} of the FIT profile knows no {min(unknown)}")
        values = values.replace_strict(words, return_dtype=pl.Float64)
    scale, offset = column.field.scale or 1, column.field.offset or 0
    numbers = (values.cast(pl.Float64).to_numpy() + offset) * scale
    known = np.isfinite(numbers)
    whole = np.rint(numbers[known]) if column.stored.kind in "iu" else numbers[known]
    _check_bounds(message, column, whole)
    stored = np.full(len(numbers), _invalid(column), column.stored)
    stored[known] = whole.astype(column.stored)
    return stored


def _check_bounds(message: str, column: _Column, whole: NDArray[np.float64]) -> None:
    if column.stored.kind not in "iu" or not len(whole):
        return
    bounds, invalid = np.iinfo(column.stored), _invalid(column)
    low = bounds.min + (invalid == bounds.min)
    high = bounds.max - (invalid == bounds.max)
    if whole.min() < low or whole.max() > high:
        scale, offset = column.field.scale or 1, column.field.offset or 0
        found = whole.min() if whole.min() < low else whole.max()
        raise ValueError(
            f"{message}.{column.name} cannot hold {found / scale - offset:g}; it takes "
            f"{low / scale - offset:g} to {high / scale - offset:g}"
        )


def _invalid(column: _Column) -> float:
    """What the FIT protocol stores for "not known" in a type."""
    if column.base.endswith("z"):
        return 0
    return float("nan") if column.stored.kind == "f" else int(np.iinfo(column.stored).max)
