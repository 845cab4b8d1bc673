"""Bytes of a FIT file -> one data frame for each kind of message that a ride needs.

The FIT profile (names, scales, enumerations) is the one that fitdecode ships; here stands only
which messages and fields are wanted, and in which form.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from fitdecode import profile
from fitdecode.processors import FIT_UTC_REFERENCE

from ridelab.telemetry.fit.developer import Descriptions, developer_columns
from ridelab.telemetry.fit.frames import Damage
from ridelab.telemetry.fit.framing import frame
from ridelab.telemetry.fit.headertime import HeaderTimes
from ridelab.telemetry.fit.layout import BYTE, message_number
from ridelab.telemetry.fit.table import DTYPES, Table, build
from ridelab.telemetry.fit.values import gather
from ridelab.telemetry.notes import counted

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from numpy.typing import NDArray

    from ridelab.telemetry.fit.frames import Frames
    from ridelab.telemetry.fit.table import Form

#: Unix time of the FIT epoch, 1989-12-31 00:00 UTC.
FIT_EPOCH_S: int = FIT_UTC_REFERENCE

#: message -> field -> form; date_time fields count seconds from the FIT epoch.
WANTED: dict[str, dict[str, Form]] = {
    "file_id": {"type": "name", "serial_number": "code"},
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


@dataclass(frozen=True)
class FitMessages:
    """What a FIT file holds: message name -> data frame, one row a message in file order.

    Every table has the column ``part`` (which of the chained parts, from 0) and the fields of
    ``WANTED``; values that the file marks invalid are null. The table of records also has a column
    for each developer field, its name after ``developer.PREFIX``. ``damage`` is in file order;
    ``broken_at`` is the last after which something could not be read.
    """

    tables: dict[str, pl.DataFrame]
    damage: tuple[Damage, ...] = ()
    broken_at: Damage | None = None

    def __getitem__(self, message: str) -> pl.DataFrame:
        """The table of one kind of message."""
        return self.tables[message]

    def without_parts(self, parts: Collection[int]) -> FitMessages:
        """The same without the messages of some parts."""
        if not parts:
            return self
        kept = {
            name: table.filter([part not in parts for part in table["part"]])
            for name, table in self.tables.items()
        }
        return replace(self, tables=kept)


def enumeration(name: str) -> dict[int, str]:
    """Number -> word of an enumeration of the FIT profile, such as ``antplus_device_type``."""
    known: dict[int, str] = profile.FIELD_TYPES[name].enum
    return known


def decode(content: bytes, wanted: Mapping[str, Mapping[str, Form]] = WANTED) -> FitMessages:
    """Decode as much of a FIT file as can be read; never raises.

    Args:
        content: the whole file.
        wanted: message -> field -> form.
    """
    frames = frame(content)
    starts = frames.starts()
    times = HeaderTimes(content, frames, starts)
    tables = {}
    for name, fields in wanted.items():
        number = message_number(name)
        blocks = [
            gather(content, layout, own)
            for layout, own in zip(frames.layouts, starts, strict=True)
            if layout.message == number and len(own)
        ]
        if not blocks:
            tables[name] = _empty(fields)
            continue
        table = Table(number, blocks)
        part = np.searchsorted(frames.parts, table.starts, "right").astype(np.int32) - 1
        times_s = times.of(table.starts) if times else None
        columns = [pl.Series("part", part)]
        columns += build(table, fields, times_s, partial(_restarts, frames, number))
        if name == "record" and any(rows.layout.developer for rows in blocks):
            columns += developer_columns(table, Descriptions(content, frames, starts))
        tables[name] = pl.DataFrame(columns)
    damage = sorted([*frames.damage, *_odd_sizes(frames, wanted)], key=lambda found: found.offset)
    return FitMessages(tables, tuple(damage), frames.broken_at)


def _empty(fields: Mapping[str, Form]) -> pl.DataFrame:
    return pl.DataFrame(
        schema={"part": pl.Int32, **{name: DTYPES[form] for name, form in fields.items()}}
    )


def _restarts(frames: Frames, number: int) -> NDArray[np.int64]:
    """Where running counts begin again: at each part, and where their field is laid out anew."""
    anew = [at for at, kind in frames.definitions if frames.layouts[kind].message == number]
    return np.array(sorted([*frames.parts, *anew]), np.int64)


def _odd_sizes(frames: Frames, wanted: Mapping[str, Mapping[str, Form]]) -> list[Damage]:
    """Fields of a size that their type cannot have; the framing holds all the same."""
    found: dict[str, Damage] = {}
    first: dict[int, int] = {}
    for offset, kind in frames.definitions:
        first.setdefault(kind, offset)
    for kind, offset in first.items():
        layout = frames.layouts[kind]
        message = profile.MESSAGE_TYPES.get(layout.message)
        if message is None or message.name not in wanted:
            continue
        for field in layout.fields:
            known = message.fields.get(field.number)
            if field.base != BYTE or known is None or known.base_type.identifier == BYTE:
                continue
            name = f"{message.name}.{known.name}"
            size = f"{name} takes {counted(field.size, 'byte')}"
            text = f"{size}, no multiple of its type: read as plain bytes"
            found.setdefault(name, Damage(offset, text))
    return list(found.values())
