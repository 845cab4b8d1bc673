"""Columns of one kind of message over all its layouts -> one data frame, in file order."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

import numpy as np
import polars as pl
from fitdecode.profile import MESSAGE_TYPES

from ridelab.telemetry.fit.layout import TIMESTAMP
from ridelab.telemetry.fit.values import accumulated, column, component

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from fitdecode.types import ComponentField
    from fitdecode.types import Field as ProfileField
    from numpy.typing import NDArray

    from ridelab.telemetry.fit.values import Rows

#: ``number``: in the unit of the profile, scale and offset applied. ``code``: the stored whole
#: number. ``name``: the word that the profile has for the stored number, ``unknown_N`` without one.
Form: TypeAlias = Literal["number", "code", "name"]

DTYPES: dict[Form, type[pl.DataType]] = {
    "number": pl.Float64,
    "code": pl.Int64,
    "name": pl.String,
}


class Source(NamedTuple):
    """A field some bits of which hold another one, if it means that in this message.

    ``conditions``: (field number, stored number), one of which must hold; none: it always does.
    """

    number: int
    part: ComponentField
    conditions: tuple[tuple[int, int], ...]


@lru_cache(maxsize=1024)
def _field(message: int, name: str) -> ProfileField:
    fields = MESSAGE_TYPES[message].fields.values()
    return next(field for field in fields if field.name == name)


def field_number(message: int, name: str) -> int:
    """Number of a field of the profile."""
    return int(_field(message, name).def_num)


@lru_cache(maxsize=1024)
def _sources(message: int, name: str) -> tuple[Source, ...]:
    """The fields of which parts hold the field of that name.

    The enhanced fields are only wanted where they are stored: unpacked from the narrow ones they
    would tell nothing new.
    """
    if name.startswith("enhanced_"):
        return ()
    wanted = field_number(message, name)
    found: list[Source] = []
    for field in MESSAGE_TYPES[message].fields.values():
        for meaning in (field, *(field.subfields or ())):
            references = getattr(meaning, "ref_fields", None) or ()
            conditions = tuple((ref.def_num, ref.raw_value) for ref in references)
            found += [
                Source(field.def_num, part, conditions)
                for part in meaning.components or ()
                if part.def_num == wanted
            ]
    return tuple(found)


class Table:
    """All messages of one kind: rows of every layout, put in file order."""

    def __init__(self, message: int, blocks: Sequence[Rows]) -> None:
        self.message = message
        self.blocks = blocks
        starts = [rows.starts for rows in blocks]
        self.starts = np.concatenate(starts) if starts else np.empty(0, np.int64)
        self._order: NDArray[np.intp] | None = None
        if len(blocks) > 1:
            self._order = np.argsort(self.starts)
            self.starts = self.starts[self._order]

    def stored(self, number: int) -> NDArray[np.float64] | None:
        """What is stored in a field, in file order; None where no layout has it."""
        return self._joined([_last_known(rows, number) for rows in self.blocks])

    def unpacked(self, source: Source) -> NDArray[np.float64] | None:
        """What the bits of another field hold, as stored numbers; None where no layout has it."""
        return self._joined([_unpacked(rows, source) for rows in self.blocks])

    def _joined(self, found: list[NDArray[np.float64] | None]) -> NDArray[np.float64] | None:
        if all(values is None for values in found):
            return None
        whole = [
            np.full(len(rows.starts), np.nan) if values is None else values
            for rows, values in zip(self.blocks, found, strict=True)
        ]
        if self._order is None:
            return whole[0]
        return np.concatenate(whole)[self._order]


def _last_known(rows: Rows, number: int) -> NDArray[np.float64] | None:
    """A field of a layout; of one that is stored more than once the last known value."""
    found: NDArray[np.float64] | None = None
    for field in rows.layout.stored_as(number):
        values = column(rows, field)
        if values is not None:
            found = values if found is None else np.where(np.isnan(values), found, values)
    return found


def _unpacked(rows: Rows, source: Source) -> NDArray[np.float64] | None:
    for field in rows.layout.stored_as(source.number):
        values = component(rows, field, source.part)
        if values is None:
            continue
        if source.conditions:
            met = np.zeros(len(values), bool)
            for number, wanted in source.conditions:
                told = _last_known(rows, number)
                if told is not None:
                    met |= told == wanted
            values[~met] = np.nan
        return values
    return None


def build(
    table: Table,
    wanted: Mapping[str, Form],
    times_s: NDArray[np.float64] | None,
    restarts: Callable[[], NDArray[np.int64]],
) -> list[pl.Series]:
    """The wanted fields of a table as columns, null where a message does not have them.

    Args:
        table: the messages.
        wanted: field -> form.
        times_s: of each message the time in its header; None if no message has one.
        restarts: gives the offsets from which running counts begin again at 0, sorted.
    """
    columns = []
    for name, form in wanted.items():
        values = _values(table, name, form, restarts)
        if times_s is not None and field_number(table.message, name) == TIMESTAMP:
            values = times_s if values is None else np.where(np.isnan(values), times_s, values)
        columns.append(_series(table, name, form, values))
    return columns


def _values(
    table: Table, name: str, form: Form, restarts: Callable[[], NDArray[np.int64]]
) -> NDArray[np.float64] | None:
    field = _field(table.message, name)
    values = table.stored(field.def_num)
    if values is not None and form == "number":
        values = _scaled(values, field)
    for source in _sources(table.message, name):
        bits = table.unpacked(source)
        if bits is None:
            continue
        if source.part.accumulate:
            section = np.searchsorted(restarts(), table.starts, "right")
            accumulated(bits, source.part.bits, np.diff(section, prepend=0) != 0)
        bits = _scaled(bits, source.part)
        values = bits if values is None else np.where(np.isnan(values), bits, values)
    return values


def _scaled(values: NDArray[np.float64], of: ProfileField | ComponentField) -> NDArray[np.float64]:
    """Into the unit of the profile; in place."""
    if of.scale:
        values /= of.scale
    if of.offset:
        values -= of.offset
    return values


def _series(table: Table, name: str, form: Form, values: NDArray[np.float64] | None) -> pl.Series:
    if values is None:
        return pl.Series(name, [None], DTYPES[form]).new_from_index(0, len(table.starts))
    if form == "name":
        words = _field(table.message, name).type.enum or {}
        told = [None if v != v else words.get(int(v), f"unknown_{int(v)}") for v in values.tolist()]
        return pl.Series(name, told, pl.String)
    series = pl.Series(name, values, nan_to_null=True)
    return series.cast(DTYPES[form], strict=False) if form == "code" else series
