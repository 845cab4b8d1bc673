"""Generated FIT files: any messages, layouts and values that the protocol allows.

Each comes with what reading it must give, worked out here from the numbers that were packed.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass, field

from fitdecode import profile
from fitdecode.types import BASE_TYPES, Field, MessageType
from hypothesis import strategies as st

from tests.telemetry.fitbytes import INVALID, Layout, Raw, Value, fit_file

#: Also filled from bits of another field.
UNPACKED = ("speed", "distance")

#: message -> fields that hold one number of their own, whatever type it is stored in.
PLAIN = {
    kind.name: [
        known.name
        for known in kind.fields.values()
        if not (known.components or known.subfields or known.type.enum)
        and known.base_type.name not in ("string", "byte")
        and known.name not in UNPACKED
    ]
    for kind in profile.MESSAGE_TYPES.values()
    if kind.name in ("record", "session", "event", "lap")
}

TYPES = sorted(set(INVALID) - {0x0D})


@dataclass
class Expected:
    """Rows by message, in file order: part, and of each field the number in the profile's unit."""

    rows: dict[str, list[dict[str, float | None]]] = field(default_factory=dict)


def numbers(base: int) -> st.SearchStrategy[Value]:
    """Stored numbers of a base type; None is the one that means "not known"."""
    code, invalid = INVALID[base]
    if code in "fd":
        return st.none() | st.floats(width=32 if code == "f" else 64, allow_nan=False)
    size = BASE_TYPES[base].size
    low = -(1 << 8 * size - 1) if code.islower() else 0
    high = (1 << 8 * size - code.islower()) - 1
    return st.none() | st.integers(low, high).map(lambda n: None if n == invalid else n)


@st.composite
def fields(draw: st.DrawFn, message: str) -> tuple[Raw, ...]:
    """Some fields of a message, of any type and with up to three elements."""
    known = {f.name: f for f in _message(message).fields.values()}
    names = draw(st.lists(st.sampled_from(PLAIN[message]), unique=True, max_size=6))
    found = []
    for name in names:
        base = draw(st.sampled_from(TYPES))
        count = draw(st.sampled_from((1, 1, 1, 2, 3)))
        found.append(Raw(known[name].def_num, count * BASE_TYPES[base].size, base))
    return tuple(found)


@st.composite
def layouts(draw: st.DrawFn) -> Layout:
    """A definition; also of messages that only their maker knows, and with developer fields."""
    message = draw(st.sampled_from([*PLAIN, 0xFF77]))
    stored = draw(fields(message)) if isinstance(message, str) else (Raw(3, 5, 0x02),)
    developer = draw(st.lists(st.tuples(st.integers(0, 9), st.integers(1, 9)), max_size=2))
    return Layout(
        message,
        stored,
        local=draw(st.integers(0, 15)),
        big_endian=draw(st.booleans()),
        developer=tuple((number, size, 0) for number, size in developer),
    )


@st.composite
def parts(draw: st.DrawFn, part: int, expected: Expected) -> bytes:
    """One whole file; its rows are added to what is expected."""
    pieces = []
    for _ in range(draw(st.integers(0, 6))):
        layout = draw(layouts())
        pieces.append(layout.definition())
        rows = draw(st.integers(0, 4))
        pieces += [_data(draw, layout, part, expected) for _ in range(rows)]
    return fit_file(*pieces, header_size=draw(st.sampled_from((12, 14))))


@st.composite
def files(draw: st.DrawFn) -> tuple[bytes, Expected]:
    """One to three parts, and what reading them must give."""
    expected = Expected()
    content = b"".join(draw(parts(part, expected)) for part in range(draw(st.integers(1, 3))))
    return content, expected


def _data(draw: st.DrawFn, layout: Layout, part: int, expected: Expected) -> bytes:
    extra = bytes(sum(size for _, size, _ in layout.developer))
    if not isinstance(layout.message, str):
        return layout.data(bytes(5), extra=extra)
    known = _message(layout.message).fields
    row: dict[str, float | None] = {"part": part}
    packed: list[Value] = []
    for stored in layout.raw():
        count = stored.size // BASE_TYPES[stored.base_type].size
        elements = [draw(numbers(stored.base_type)) for _ in range(count)]
        packed.append(_bytes(stored, elements, layout.endian))
        row[known[stored.number].name] = _value(known[stored.number], elements)
    expected.rows.setdefault(layout.message, []).append(row)
    return layout.data(*packed, extra=extra)


def _bytes(stored: Raw, elements: list[Value], endian: str) -> bytes:
    code, invalid = INVALID[stored.base_type]
    told = [invalid if element is None else element for element in elements]
    return struct.pack(f"{endian}{len(told)}{code}", *told)


def _value(known: Field, elements: list[Value]) -> float | None:
    """The first known element, in the unit of the profile."""
    first = next((element for element in elements if element is not None), None)
    if not isinstance(first, int | float) or not math.isfinite(first):
        return None
    value = float(first)
    if known.scale:
        value /= known.scale
    return value - known.offset if known.offset else value


def _message(name: str) -> MessageType:
    return next(kind for kind in profile.MESSAGE_TYPES.values() if kind.name == name)
