"""Where which message stands, and how reading goes on where bytes make no sense."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from fastcrc import crc16 as compiled
from hypothesis import assume, given
from hypothesis import strategies as st

from ridelab.telemetry.fit.framing import frame
from ridelab.telemetry.fit.messages import decode
from tests.telemetry.fit import reference
from tests.telemetry.fitbytes import (
    START,
    Layout,
    Raw,
    crc16,
    file_id,
    fit_file,
    records,
    ride,
    table,
)

if TYPE_CHECKING:
    import polars as pl

LAYOUT = Layout("record", ("timestamp", "speed", "cadence"))
DEFINED = LAYOUT.definition()
HEADER = 14


def row(t_s: int) -> bytes:
    """A record of eight bytes, so many seconds after START."""
    return LAYOUT.data(START + t_s, 5000 + t_s, 60)


def times(content: bytes) -> list[int]:
    """The times of the records, in seconds after START."""
    return [int(time_s) - START for time_s in decode(content)["record"]["timestamp"].to_list()]


@given(st.binary(max_size=300))
def test_the_checksum_is_that_of_the_fit_protocol(content: bytes) -> None:
    """The compiled CRC-16/ARC beside the protocol's own algorithm, half byte by half byte."""
    assert compiled.arc(content) == crc16(content)
    assert compiled.arc(content + crc16(content).to_bytes(2, "little")) == 0


@pytest.mark.parametrize("count", [1, 2, 31, 32, 33, 34, 300, 3000])
def test_a_stretch_of_equal_messages_is_found_whole(count: int) -> None:
    """Of any length, whatever the steps in which it is searched; here eight bytes apart."""
    found = frame(fit_file(DEFINED, *(row(t_s) for t_s in range(count))))
    assert (found.counts, found.firsts) == ([count], [HEADER + len(DEFINED)])
    (starts,) = found.starts()
    assert starts.tolist() == [HEADER + len(DEFINED) + 8 * n for n in range(count)]


@given(st.lists(st.sampled_from(["record", "other", "defined"]), max_size=40))
def test_messages_may_come_in_any_order(kinds: list[str]) -> None:
    """Two kinds of one size, and definitions between them: every one is found in its place."""
    other = Layout(0xFF01, (Raw(0, 7, 0x0D),), local=5)
    pieces = [DEFINED, other.definition()]
    pieces += [
        {"record": row(t_s), "other": other.data(bytes(7)), "defined": DEFINED}[kind]
        for t_s, kind in enumerate(kinds)
    ]
    expected = [t_s for t_s, kind in enumerate(kinds) if kind == "record"]
    content = fit_file(*pieces)
    assert times(content) == expected
    assert frame(content).damage == []


def test_a_message_of_the_header_byte_alone_is_stepped_over() -> None:
    """A definition may have no field at all."""
    empty = Layout("event", (), local=3)
    content = fit_file(DEFINED, empty.definition(), row(0), empty.data(), empty.data(), row(1))
    assert times(content) == [0, 1]


def test_a_size_of_zero_in_the_header_is_not_believed() -> None:
    """A unit writes the size last; without power it never does. The checksum may be missing."""
    pieces = (file_id(), DEFINED, *map(row, range(6)))
    for content in (fit_file(*pieces, body_size=0), fit_file(*pieces, body_size=0)[:-2]):
        assert times(content) == [0, 1, 2, 3, 4, 5]
        assert any("the header gives no size" in damage.text for damage in frame(content).damage)
        assert frame(content).broken_at is None


@pytest.mark.parametrize("body_size", [1, 40, 60, 10_000])
def test_a_wrong_size_in_the_header_is_not_believed_if_the_checksum_is_right(
    body_size: int,
) -> None:
    """Too small or too large: the checksum of the whole file proves where the messages end."""
    content = fit_file(file_id(), DEFINED, *map(row, range(9)), body_size=body_size)
    assert times(content) == list(range(9))
    (damage,) = frame(content).damage
    assert "the header gives a wrong size" in damage.text


@pytest.mark.parametrize("body_size", [50, 51, 58])
def test_a_header_that_says_too_little_does_not_end_the_reading(body_size: int) -> None:
    """Nor does a wrong checksum besides, where messages plainly go on."""
    content = fit_file(file_id(), DEFINED, *map(row, range(20)), body_size=body_size, crc=1)
    assert times(content) == list(range(20))
    assert any("the header gives a wrong size" in damage.text for damage in frame(content).damage)


def test_a_header_of_any_length_that_holds_its_sign_is_stepped_over() -> None:
    """The protocol lets headers grow."""
    body = DEFINED + row(0)
    header = bytes((16, 0x20, 52, 8)) + len(body).to_bytes(4, "little") + b".FIT" + bytes(4)
    whole = header + body
    assert times(whole + crc16(whole).to_bytes(2, "little")) == [0]


def test_behind_garbage_the_next_record_of_the_ride_is_found() -> None:
    """The bytes that were skipped are told, and where reading goes on."""
    before, after = [*map(row, range(5))], [*map(row, range(9, 15))]
    garbage = b"\xfe\x3c\x99" * 11
    content = fit_file(file_id(), DEFINED, *before, garbage, *after)
    assert times(content) == [0, 1, 2, 3, 4, 9, 10, 11, 12, 13, 14]
    (damage,) = frame(content).damage
    broken = HEADER + len(file_id()) + len(DEFINED) + 40
    assert (damage.offset, damage.lost_bytes) == (broken, 33)
    assert "local message 3 not defined" in damage.text
    assert f"33 bytes skipped, reading goes on at byte {broken + 33}" in damage.text


def test_behind_garbage_the_next_definition_is_found() -> None:
    """Also where no time tells what belongs to this ride."""
    content = fit_file(file_id(), b"\x0c" * 9, table(Layout("sport", ("sport",)), (2,), (2,)))
    assert decode(content)["sport"]["sport"].to_list() == ["cycling", "cycling"]
    assert [damage.lost_bytes for damage in frame(content).damage] == [9]


def test_bytes_that_only_look_like_a_record_are_not_taken_for_one() -> None:
    """The time of the ride in the midst of noise, with nothing behind it that can be followed."""
    decoy = row(7) + b"\x3f" * 20
    content = fit_file(file_id(), DEFINED, *map(row, range(5)), b"\x0b", decoy)
    assert times(content) == [0, 1, 2, 3, 4]
    broken = frame(content).broken_at
    assert broken is not None
    assert (broken.lost_bytes, "was not read" in broken.text) == (1 + len(decoy), True)


def test_a_part_behind_one_that_breaks_off_is_read() -> None:
    """The first lost its end; the second is whole.

    Of the record that is cut through the fields are kept that stand before the cut, and nothing is
    made of bytes that belong to the next header.
    """
    whole = ride()
    found = decode(whole[:-6] + ride(seconds=3))
    records_found = found["record"]
    assert records_found["part"].to_list() == [0] * 5 + [1] * 3
    assert records_found["cadence"].to_list() == [60.0] * 8
    assert records_found["distance"].to_list() == [0.0, 5.0, 10.0, 15.0, None, 0.0, 5.0, 10.0]
    assert "another part begins" in found.damage[0].text


def test_a_part_behind_bytes_of_no_fit_data_is_read() -> None:
    """Padding between two chained files."""
    found = decode(ride() + bytes(100) + ride(seconds=3))
    assert len(found["record"]) == 8
    assert [damage.text for damage in found.damage] == ["100 bytes of no FIT data"]


def test_definitions_do_not_hold_in_the_next_part() -> None:
    """A data message there needs a definition of its own."""
    content = fit_file(DEFINED, row(0)) + fit_file(row(1))
    assert times(content) == [0]
    assert "local message 0 not defined" in frame(content).damage[0].text


@given(st.integers(0, 400), st.binary(min_size=1, max_size=60), st.integers(0, 60))
def test_damage_costs_no_record_that_it_does_not_touch_much(
    at: int, garbage: bytes, lost: int
) -> None:
    """Bytes are overwritten, put in or taken out: records well before and well behind are read.

    "Well behind" leaves room for one record that a damaged one swallowed.
    """
    start = HEADER + len(file_id()) + len(DEFINED)
    whole = fit_file(file_id(), DEFINED, *map(row, range(60)))
    place = start + at
    content = whole[:place] + garbage + whole[place + lost :]
    assume(crc16(content))  # a right checksum, by accident, would leave nothing to doubt
    first, behind = (place - start) // 8, (place - start + lost) // 8 + 2
    expected = {*range(first), *range(behind, 60)}
    assert expected <= set(times(content))


@given(st.data())
def test_reading_always_comes_to_an_end_and_goes_forward(data: st.DataObject) -> None:
    """Whatever the bytes: stretches in file order that do not overlap, damage in file order."""
    content = bytearray(ride() + ride(seconds=3))
    for _ in range(data.draw(st.integers(1, 6))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    found = frame(bytes(content))
    ends = [
        first + count * found.layouts[kind].size
        for first, count, kind in zip(found.firsts, found.counts, found.kinds, strict=True)
    ]
    assert all(end <= first for end, first in zip(ends, found.firsts[1:], strict=False))
    assert all(end <= len(content) for end in ends)
    assert all(a < b for a, b in pairwise(found.parts))


@given(st.data())
def test_never_fewer_records_than_fitdecode_yields(data: st.DataObject) -> None:
    """Of a file with flipped bytes, in its lenient mode; a record from another day is misread."""
    content = bytearray(ride(records(("speed",), (9, 4000), (10, 4000))))
    for _ in range(data.draw(st.integers(1, 4))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    theirs = reference.tables(bytes(content))["record"]["timestamp"]
    ours = decode(bytes(content))["record"]["timestamp"]
    assert near(ours) >= near(theirs)


def near(times_s: pl.Series) -> int:
    """How many of these times are of the day of START."""
    return int((times_s - START).abs().lt(86_400).sum())
