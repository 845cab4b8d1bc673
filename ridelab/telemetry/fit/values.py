"""Data messages of one layout -> whole columns: one numpy operation a field, not one a value.

Columns are float64 with NaN for "not known". Whole numbers up to 2**53 are exact in them; no field
that a ride needs is larger.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from fitdecode.types import BASE_TYPES

from ridelab.telemetry.fit.layout import BYTE, STRING

if TYPE_CHECKING:
    from fitdecode.types import ComponentField
    from numpy.typing import NDArray

    from ridelab.telemetry.fit.layout import Field, Layout

#: Elements of an array that a component can reach: it is read from a 64-bit number.
REACHED = 8


class Rows(NamedTuple):
    """Data messages of one layout: their offsets, and their bytes as an array (messages, size)."""

    layout: Layout
    starts: NDArray[np.int64]
    stored: NDArray[np.uint8]

    def elements(self, field: Field) -> NDArray[Any]:
        """A field as (messages, elements), in its own type."""
        kind = np.dtype(f"{self.layout.endian}{BASE_TYPES[field.base].fmt}")
        return self.stored[:, field.start : field.start + field.size].view(kind)


def gather(content: bytes, layout: Layout, starts: NDArray[np.int64]) -> Rows:
    """The bytes of the messages at these offsets."""
    if not len(starts):  # the layout may then be larger than the file
        return Rows(layout, starts, np.empty((0, layout.size), np.uint8))
    everything = np.frombuffer(content, np.uint8)
    windows = np.lib.stride_tricks.sliding_window_view(everything, layout.size)
    return Rows(layout, starts, windows[starts])


def column(rows: Rows, field: Field) -> NDArray[np.float64] | None:
    """The stored numbers of a field, or None of what holds no number; of an array the first known.

    Several plain bytes are no number.
    """
    if field.base == STRING or not field.size or (field.base == BYTE and field.size > 1):
        return None
    elements = rows.elements(field)
    missing = unknown(elements, field.base)
    if elements.shape[1] == 1:
        elements, missing = elements[:, 0], missing[:, 0]
    else:
        known = np.argmin(missing, axis=1)[:, None]
        elements = np.take_along_axis(elements, known, axis=1)[:, 0]
        missing = np.take_along_axis(missing, known, axis=1)[:, 0]
    with np.errstate(invalid="ignore"):  # raised by a NaN whose bits no unit would write
        values = elements.astype(np.float64)
    if elements.dtype.kind == "f":
        missing = ~np.isfinite(values)
    values[missing] = np.nan
    return values


def unknown(elements: NDArray[Any], base: int) -> NDArray[np.bool_]:
    """Which elements are the value that the FIT protocol reserves for "not known".

    0 in the types whose name ends in z, else the largest number of the type, and NaN of floats.
    """
    found: NDArray[np.bool_]
    if elements.dtype.kind == "f":
        found = np.isnan(elements)
    else:
        from_zero = BASE_TYPES[base].name.endswith("z")
        found = elements == (0 if from_zero else np.iinfo(elements.dtype).max)
    return found


def text(rows: Rows, field: Field) -> list[str]:
    """The words of a field, up to the first zero byte; bytes that are no UTF-8 are replaced."""
    stored = rows.stored[:, field.start : field.start + field.size].tobytes()
    whole = (stored[at : at + field.size] for at in range(0, len(stored), max(field.size, 1)))
    return [one.split(b"\0", 1)[0].decode(errors="replace") for one in whole] or [""] * len(
        rows.starts
    )


def component(rows: Rows, field: Field, part: ComponentField) -> NDArray[np.float64] | None:
    """The bits of a field that hold another one, as a stored number; None if it is too short.

    An array is one number, its first element the lowest.
    """
    if field.base == STRING or not field.size or part.bit_offset >= 8 * field.size:
        return None
    elements = rows.elements(field)
    if elements.dtype.kind == "f":
        return None
    missing = unknown(elements, field.base)
    width = 8 * elements.dtype.itemsize
    packed = np.zeros(len(elements), np.uint64)
    for number in range(min(elements.shape[1], REACHED // elements.dtype.itemsize)):
        packed |= elements[:, number].astype(np.uint64) << np.uint64(width * number)
    bits = packed >> np.uint64(part.bit_offset) & np.uint64((1 << part.bits) - 1)
    values = bits.astype(np.float64)
    values[missing.all(axis=1)] = np.nan
    return values


def accumulated(values: NDArray[np.float64], bits: int, restarts: NDArray[np.bool_]) -> None:
    """Turn a counter of so many bits, which rolls over, into a running count; in place.

    Args:
        values: the counter, NaN where it is not known.
        bits: its width.
        restarts: where the count begins again at 0.
    """
    known = np.isfinite(values)
    counter = values[known].astype(np.int64)
    if not len(counter):
        return
    section = np.cumsum(restarts)[known]
    first = np.concatenate([[True], section[1:] != section[:-1]])
    step = np.diff(counter, prepend=0) % (1 << bits)
    step[first] = counter[first]
    total = np.cumsum(step)
    before = (total - step)[first]
    values[known] = total - before[np.cumsum(first) - 1]
