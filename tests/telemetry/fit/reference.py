"""The same tables as ``decode`` gives, made message by message from what fitdecode reads.

fitdecode in its lenient mode, up to the first byte that it cannot read on from.
"""

from __future__ import annotations

import math
import struct
from typing import TYPE_CHECKING

import fitdecode
import polars as pl
from fitdecode import profile
from fitdecode.types import BASE_TYPE_BYTE, DevField

from ridelab.telemetry.fit.messages import WANTED
from ridelab.telemetry.fit.table import DTYPES, Form

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from fitdecode.records import FitDataMessage
    from fitdecode.types import FieldData

#: What fitdecode raises on malformed input: its own family, and what it does not guard against.
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


def data_messages(
    content: bytes, *, check_crc: bool = False
) -> Iterator[tuple[int, FitDataMessage]]:
    """Part and message of every data message up to the end or the first break."""
    reader = fitdecode.FitReader(
        content,
        processor=None,
        check_crc=fitdecode.CrcCheck.READONLY if check_crc else fitdecode.CrcCheck.DISABLED,
        error_handling=fitdecode.ErrorHandling.IGNORE,
    )
    part = -1
    frames = iter(reader)
    while True:
        try:
            frame = next(frames)
        except (StopIteration, *UNREADABLE):
            return
        part += frame.frame_type == fitdecode.FIT_FRAME_HEADER
        if frame.frame_type == fitdecode.FIT_FRAME_DATA:
            yield part, frame


def tables(
    content: bytes,
    wanted: Mapping[str, Mapping[str, Form]] = WANTED,
    *,
    check_crc: bool = False,
) -> dict[str, pl.DataFrame]:
    """What ``decode(content, wanted).tables`` should be."""
    rows: dict[str, list[dict[str, float | str]]] = {name: [] for name in wanted}
    for part, message in data_messages(content, check_crc=check_crc):
        if message.name in wanted:
            rows[message.name].append({"part": part, **_row(message, wanted[message.name])})
    return {name: _frame(rows[name], fields) for name, fields in wanted.items()}


def developer_fields(content: bytes, name: str) -> dict[str, list[float | None]]:
    """Developer fields of one kind of message, by their name; one value a message."""
    rows = [
        {data.name: data.value for data in message.fields if isinstance(data.field, DevField)}
        for _, message in data_messages(content)
        if message.name == name
    ]
    labels = dict.fromkeys(label for row in rows for label in row)
    return {label: [row.get(label) for row in rows] for label in labels}


def every_field() -> dict[str, dict[str, Form]]:
    """All numeric fields of all messages of the profile.

    A field with several meanings is asked for as stored, since its scale depends on which one it
    has; so is one with words of its own. ``hr.event_timestamp`` is left out: fitdecode adds the
    time of another message to it.
    """
    return {
        message.name: {
            field.name: _form(field)
            for field in message.fields.values()
            if field.base_type.name != "string"
            and (message.name, field.name) != ("hr", "event_timestamp")
        }
        for message in profile.MESSAGE_TYPES.values()
    }


def _form(field: fitdecode.types.Field) -> Form:
    if field.subfields:
        return "code"
    if field.type.enum:
        return "name" if field.base_type.name == "enum" else "code"
    return "number"


def _row(message: FitDataMessage, fields: Mapping[str, Form]) -> dict[str, float | str]:
    row: dict[str, float | str] = {}
    for data in message.fields:
        # A developer's field may bear the name of one of the profile and mean another thing.
        if data.field is None or isinstance(data.field, DevField):
            continue
        name = (data.parent_field or data.field).name
        form = fields.get(name)
        # A stored value beats one that was unpacked from another field.
        if form is None or (data.is_expanded and (name in row or name.startswith("enhanced_"))):
            continue
        value = _value(data, form)
        if value is not None:
            row[name] = value
    return row


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


def _frame(rows: list[dict[str, float | str]], fields: Mapping[str, Form]) -> pl.DataFrame:
    columns = [pl.Series("part", [row["part"] for row in rows], pl.Int32)]
    for name, form in fields.items():
        stored = pl.String if form == "name" else pl.Float64
        series = pl.Series(name, [row.get(name) for row in rows], stored)
        columns.append(series.cast(DTYPES[form], strict=False))
    return pl.DataFrame(columns)
