"""Developer fields: what apps and sensors add to the records, described in the file itself.

They are kept by the name that the file gives them and never taken for a field of the profile,
whatever they are called.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import polars as pl
from fitdecode.types import BASE_TYPES

from ridelab.telemetry.fit.layout import BYTE, STRING, Field, message_number
from ridelab.telemetry.fit.table import field_number
from ridelab.telemetry.fit.values import Rows, column, gather, text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from ridelab.telemetry.fit.frames import Frames
    from ridelab.telemetry.fit.layout import DeveloperField
    from ridelab.telemetry.fit.table import Table

#: Columns of developer fields in the table of records begin with this.
PREFIX = "developer."

DESCRIPTION = message_number("field_description")


class Description(NamedTuple):
    """What a field_description message tells of one field, from its offset on."""

    offset: int
    label: str
    base: int


class Descriptions:
    """What the file says of its developer fields."""

    def __init__(self, content: bytes, frames: Frames, starts: Sequence[NDArray[np.int64]]) -> None:
        self._parts = frames.parts
        self._of: dict[tuple[int, int, int], list[Description]] = {}
        told = [
            row
            for layout, own in zip(frames.layouts, starts, strict=True)
            if layout.message == DESCRIPTION
            for row in _told(gather(content, layout, own))
        ]
        taken: dict[tuple[int, str], tuple[int, int]] = {}
        for offset, developer, number, base, label in sorted(told):
            part = self._part(offset)
            own_label, again = label, 1
            while taken.setdefault((part, own_label), (developer, number)) != (developer, number):
                again += 1
                own_label = f"{label} #{again}"
            known = self._of.setdefault((part, developer, number), [])
            known.append(Description(offset, own_label, base))

    def _part(self, offset: int) -> int:
        return int(np.searchsorted(self._parts, offset, "right"))

    def sections(
        self, field: DeveloperField, starts: NDArray[np.int64]
    ) -> Iterator[tuple[Description, slice]]:
        """The stretches of these messages in which the field has one description."""
        for (part, developer, number), known in self._of.items():
            if (developer, number) != (field.developer, field.number):
                continue
            part_end = self._parts[part] if part < len(self._parts) else np.inf
            ends = [*(later.offset for later in known[1:]), part_end]
            for description, end in zip(known, ends, strict=True):
                first, last = np.searchsorted(starts, [description.offset, end])
                if first < last:
                    yield description, slice(int(first), int(last))


def _told(rows: Rows) -> Iterator[tuple[int, int, int, int, str]]:
    """Offset, developer index, field number, base type and label of each description."""

    def codes(name: str) -> list[float]:
        fields = rows.layout.stored_as(field_number(DESCRIPTION, name))
        values = column(rows, fields[-1]) if fields else None
        return [np.nan] * len(rows.starts) if values is None else values.tolist()

    def words(name: str) -> list[str]:
        fields = rows.layout.stored_as(field_number(DESCRIPTION, name))
        return text(rows, fields[-1]) if fields else [""] * len(rows.starts)

    for offset, developer, number, base, name, unit in zip(
        rows.starts.tolist(),
        codes("developer_data_index"),
        codes("field_definition_number"),
        codes("fit_base_type_id"),
        words("field_name"),
        words("units"),
        strict=True,
    ):
        if developer == developer and number == number:
            label = name or f"field {int(number)} of developer {int(developer)}"
            known = int(base) if base in BASE_TYPES else BYTE
            yield offset, int(developer), int(number), known, f"{label} [{unit}]" if unit else label


def developer_columns(table: Table, descriptions: Descriptions) -> list[pl.Series]:
    """A column for each described developer field of a table, in the order of their first use.

    Numbers as stored, of an array the first known; text as text. Fields that the file does not
    describe have no name and are left out.
    """
    numbers: dict[str, NDArray[np.float64]] = {}
    words: dict[str, list[str | None]] = {}
    for rows in table.blocks:
        for field in rows.layout.developer:
            for described, own in descriptions.sections(field, rows.starts):
                part = Rows(rows.layout, rows.starts[own], rows.stored[own])
                at = np.searchsorted(table.starts, part.starts)
                stored = _stored(field, described.base)
                if stored.base == STRING:
                    whole = words.setdefault(described.label, [None] * len(table.starts))
                    for index, word in zip(at.tolist(), text(part, stored), strict=True):
                        whole[index] = word or None
                    continue
                values = column(part, stored)
                if values is not None:
                    blank = np.full(len(table.starts), np.nan)
                    numbers.setdefault(described.label, blank)[at] = values
    found: list[tuple[str, Any]] = [*numbers.items(), *words.items()]
    return [pl.Series(f"{PREFIX}{label}", whole, nan_to_null=True) for label, whole in found]


def _stored(field: DeveloperField, base: int) -> Field:
    fits = field.size % BASE_TYPES[base].size == 0
    return Field(field.number, field.start, field.size, base if fits else BYTE)
