"""Bytes of a FIT file -> one data frame for each kind of message that a ride needs.

The FIT profile (names, scales, enumerations) is the decoder's; here stands only which messages and
fields are wanted, and in which form.
"""

from __future__ import annotations

import io
import math
import struct
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

import fitdecode
import polars as pl
from fitdecode import profile
from fitdecode.processors import FIT_UTC_REFERENCE
from fitdecode.types import BASE_TYPE_BYTE, DevField

from ridelab.telemetry.notes import counted

if TYPE_CHECKING:
    from collections.abc import Container, Iterator

    from fitdecode.records import (
        FitCRC,
        FitDataMessage,
        FitDefinitionMessage,
        FitHeader,
    )
    from fitdecode.types import FieldData

    Frame: TypeAlias = FitHeader | FitDefinitionMessage | FitDataMessage | FitCRC

#: Unix time of the FIT epoch, 1989-12-31 00:00 UTC.
FIT_EPOCH_S: int = FIT_UTC_REFERENCE

#: ``number``: in the unit of the profile, scale and offset applied. ``code``: the stored whole
#: number. ``name``: the word that the profile has for the stored number, ``unknown_N`` without one.
Form = Literal["number", "code", "name"]

DTYPES: dict[Form, type[pl.DataType]] = {
    "number": pl.Float64,
    "code": pl.Int64,
    "name": pl.String,
}

#: message -> field -> form; date_time fields count seconds from the FIT epoch.
WANTED: dict[str, dict[str, Form]] = {
    "file_id": {"type": "name"},
    "record": dict.fromkeys(
        [
            "timestamp",
            "enhanced_speed",
            "speed",
            "cadence",
            "fractional_cadence",
            "power",
            "enhanced_altitude",
            "altitude",
            "distance",
            "position_lat",
            "position_long",
        ],
        "number",
    ),
    "event": {
        "timestamp": "number",
        "event": "name",
        "event_type": "name",
        "front_gear_num": "code",
        "front_gear": "code",
        "rear_gear_num": "code",
        "rear_gear": "code",
    },
    "session": {
        "timestamp": "number",
        "start_time": "number",
        "total_elapsed_time": "number",
        "sport": "name",
        "sub_sport": "name",
    },
    "sport": {"sport": "name", "sub_sport": "name"},
    "device_info": {"device_index": "name", "device_type": "code", "source_type": "name"},
    "bike_profile": {
        "enabled": "code",
        "custom_wheelsize": "number",
        "auto_wheelsize": "number",
    },
}

#: What the decoder raises on malformed input: its own family, and what it does not guard against.
UNREADABLE = (
    fitdecode.FitError,
    ArithmeticError,
    AssertionError,
    AttributeError,
    LookupError,
    TypeError,
    ValueError,
    struct.error,
)


@dataclass(frozen=True)
class Damage:
    """Where a file breaks its format, as a byte offset, and how; nothing after a break is read."""

    offset: int
    text: str


@dataclass(frozen=True)
class FitMessages:
    """What a FIT file holds: message name -> data frame, one row a message in file order.

    Every table has the column ``part`` (which of the chained parts, from 0) and the fields of
    ``WANTED``; values that the file marks invalid are null. ``damage`` is in file order;
    ``broken_at`` is the one after which nothing was read.
    """

    tables: dict[str, pl.DataFrame]
    damage: tuple[Damage, ...] = ()
    broken_at: Damage | None = None

    def __getitem__(self, message: str) -> pl.DataFrame:
        """The table of one kind of message."""
        return self.tables[message]

    def without_parts(self, parts: Container[int]) -> FitMessages:
        """The same without the messages of some parts."""
        kept = {
            name: table.filter([part not in parts for part in table["part"]])
            for name, table in self.tables.items()
        }
        return replace(self, tables=kept)


def enumeration(name: str) -> dict[int, str]:
    """Number -> word of an enumeration of the FIT profile, such as ``antplus_device_type``."""
    known: dict[int, str] = profile.FIELD_TYPES[name].enum
    return known


def decode(content: bytes) -> FitMessages:
    """Decode as much of a FIT file as can be read; never raises."""
    stream = io.BytesIO(content)
    tables = {name: _Table(fields) for name, fields in WANTED.items()}
    watch = _Watch(content)
    for frame in _frames(stream, watch):
        if frame.frame_type == fitdecode.FIT_FRAME_DATA:
            if frame.name in tables:
                tables[frame.name].append(watch.part, frame)
        else:
            watch.look(frame, stream.tell())
        watch.offset = stream.tell()
    return FitMessages(
        {name: table.frame() for name, table in tables.items()},
        tuple(watch.damage),
        watch.broken_at,
    )


def _frames(stream: io.BytesIO, watch: _Watch) -> Iterator[Frame]:
    """The decoder's frames up to the end or the first break, which is handed to the watch."""
    reader = fitdecode.FitReader(
        stream,
        processor=None,
        check_crc=fitdecode.CrcCheck.READONLY,
        error_handling=fitdecode.ErrorHandling.IGNORE,
    )
    frames = iter(reader)
    while True:
        try:
            frame = next(frames)
        except StopIteration:
            return
        except UNREADABLE as exc:
            watch.broke(exc)
            return
        yield frame


class _Watch:
    """Follows the framing of a file, to say where and how it breaks."""

    def __init__(self, content: bytes) -> None:
        self.size = len(content)
        self.offset = 0  # of the frame that is read next
        self.part = -1
        self.body_end = 0
        self.between_parts = True
        self.damage: list[Damage] = []
        self.broken_at: Damage | None = None
        self._odd_fields: set[tuple[str, str]] = set()

    def look(self, frame: Frame, end: int) -> None:
        """Take note of a header, a definition or a checksum that ends at byte ``end``."""
        if frame.frame_type == fitdecode.FIT_FRAME_HEADER:
            self.part += 1
            self.body_end, self.between_parts = end + frame.body_size, False
            if frame.crc_matched is False:
                self._note("the header does not match its own checksum")
        elif frame.frame_type == fitdecode.FIT_FRAME_CRC:
            self.between_parts = True
            if not frame.matched:
                self._note("the content does not match its checksum: some values may be wrong")
        elif frame.name in WANTED:
            self._odd_sizes(frame)

    def broke(self, exc: Exception) -> None:
        """Take note of what ended the reading."""
        self._note(self._reason(exc))
        self.broken_at = self.damage[-1]

    def _note(self, text: str) -> None:
        self.damage.append(Damage(self.offset, text))

    def _odd_sizes(self, definition: FitDefinitionMessage) -> None:
        for field in definition.field_defs:
            if field.field is None or field.base_type is not BASE_TYPE_BYTE:
                continue
            key = (definition.name, field.name)
            if field.field.base_type is not BASE_TYPE_BYTE and key not in self._odd_fields:
                self._odd_fields.add(key)
                size = f"{definition.name}.{field.name} takes {counted(field.size, 'byte')}"
                self._note(f"{size}, no multiple of its type: read as plain bytes")

    def _reason(self, exc: Exception) -> str:
        rest = self.size - self.offset
        lost = f"the rest, {counted(rest, 'byte')}, was not read"
        if self.between_parts:
            return f"{counted(rest, 'byte')} of no FIT data"
        if self.offset >= self.body_end:
            return "the closing checksum is missing"
        if isinstance(exc, fitdecode.FitEOFError):
            missing = max(self.body_end - self.size, exc.expected - exc.got)
            return f"the file breaks off, {counted(missing, 'byte')} too early"
        if isinstance(exc, fitdecode.FitParseError):
            return f"{str(exc).partition(': ')[2]}; {lost}"
        return f"a message there breaks the format; {lost}"


class _Table:
    """Grows the columns of one kind of message."""

    def __init__(self, fields: dict[str, Form]) -> None:
        self._fields = fields
        self._part: list[int] = []
        self._columns: dict[str, list[float | str | None]] = {name: [] for name in fields}

    def append(self, part: int, message: FitDataMessage) -> None:
        row: dict[str, float | str] = {}
        for data in message.fields:
            # A developer's field may bear the name of one of the profile and mean another thing.
            if data.field is None or isinstance(data.field, DevField):
                continue
            name = (data.parent_field or data.field).name
            form = self._fields.get(name)
            if form is None or (data.is_expanded and _idle(name, row)):
                continue
            value = _value(data, form)
            if value is not None:
                row[name] = value
        self._part.append(part)
        for name, column in self._columns.items():
            column.append(row.get(name))

    def frame(self) -> pl.DataFrame:
        columns: list[pl.Series] = [pl.Series("part", self._part, pl.Int32)]
        for name, form in self._fields.items():
            stored = pl.String if form == "name" else pl.Float64
            series = pl.Series(name, self._columns[name], stored)
            columns.append(series.cast(DTYPES[form], strict=False))
        return pl.DataFrame(columns)


def _idle(name: str, row: dict[str, float | str]) -> bool:
    """Whether a value that the decoder unpacked from another field is of no use.

    One that is stored as such beats it; and the enhanced fields are only wanted where they are
    stored: the decoder also fills them from the narrow ones, of an array with nonsense.
    """
    return name in row or name.startswith("enhanced_")


def _value(data: FieldData, form: Form) -> float | str | None:
    """One value in the form that is wanted, or None; of an array the first valid element."""
    value = data.value if form == "number" else data.raw_value
    if isinstance(value, tuple):
        if data.base_type is BASE_TYPE_BYTE and len(value) > 1:
            return None
        value = next((element for element in value if element is not None), None)
    if not isinstance(value, int | float) or not math.isfinite(value):
        return None
    if form == "name":
        word = data.field.render(value)
        return word if isinstance(word, str) else f"unknown_{word}"
    return float(value)
