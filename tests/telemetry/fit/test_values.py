"""Bytes -> numbers: components of a field, running counts, and values that no unit would write."""

from __future__ import annotations

import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.telemetry.fit.messages import decode
from ridelab.telemetry.fit.values import accumulated
from tests.telemetry.fit import reference
from tests.telemetry.fitbytes import START, Layout, Raw, Value, fit_file

SPEED_DISTANCE = Layout("record", ("timestamp", Raw(8, 3, 0x0D)))
GEARS = Layout("event", ("timestamp", "event", Raw(3, 4, 0x86)))


def packed(speed_cms: int, distance_16th_m: int) -> bytes:
    """Twelve bits of each, the lowest first."""
    return (speed_cms | distance_16th_m % 4096 << 12).to_bytes(3, "little")


@given(st.lists(st.integers(0, 4000), max_size=20))
def test_the_running_distance_of_a_packed_field_rolls_over(steps: list[int]) -> None:
    """Twelve bits of sixteenths of a metre: every 256 m the count begins again."""
    total = np.cumsum(steps, dtype=np.int64).tolist()
    rows = [SPEED_DISTANCE.data(START + t, packed(700, d)) for t, d in enumerate(total)]
    found = decode(fit_file(SPEED_DISTANCE.definition(), *rows))["record"]
    assert found["distance"].to_list() == [d / 16 for d in total]
    assert found["speed"].to_list() == [7.0] * len(total)


def test_a_packed_field_that_is_not_known_does_not_disturb_the_count() -> None:
    """All bits set; the next one counts on from the last that was known."""
    rows = [packed(700, 4000), b"\xff\xff\xff", packed(700, 4100)]
    content = fit_file(
        SPEED_DISTANCE.definition(), *(SPEED_DISTANCE.data(START, row) for row in rows)
    )
    assert decode(content)["record"]["distance"].to_list() == [250.0, None, 256.25]


def test_the_count_begins_again_where_the_field_is_laid_out_anew() -> None:
    """As in fitdecode; and so it does in each part."""
    once = [SPEED_DISTANCE.definition(), SPEED_DISTANCE.data(START, packed(700, 4000))]
    content = fit_file(*once, *once) + fit_file(*once)
    assert decode(content)["record"]["distance"].to_list() == [250.0] * 3
    theirs = reference.tables(content)["record"]
    assert decode(content)["record"].equals(theirs)


@given(st.lists(st.tuples(st.integers(0, 255), st.booleans(), st.booleans())))
def test_running_counts_against_counting_one_by_one(
    counter: list[tuple[int, bool, bool]],
) -> None:
    """Eight bits, with values that are not known and new beginnings."""
    values = np.array([float(n) if known else np.nan for n, known, _ in counter])
    restarts = np.array([restart for _, _, restart in counter], bool)
    expected, total = [], 0
    for n, known, restart in counter:
        if restart:
            total = 0
        if known:
            total += (n - total) % 256
        expected.append(float(total) if known else None)
    accumulated(values, 8, restarts)
    assert [None if np.isnan(v) else v for v in values.tolist()] == expected


@pytest.mark.parametrize("event", [42, 43])
def test_gears_are_unpacked_from_the_data_of_a_gear_change(event: int) -> None:
    """FIT profile, gear_change_data: rear number, rear teeth, front number, front teeth."""
    data = 5 | 17 << 8 | 2 << 16 | 34 << 24
    content = fit_file(GEARS.definition(), GEARS.data(START, event, data))
    row = decode(content)["event"].row(0, named=True)
    assert (row["rear_gear_num"], row["rear_gear"]) == (5, 17)
    assert (row["front_gear_num"], row["front_gear"]) == (2, 34)


def test_the_data_of_another_event_holds_no_gears() -> None:
    """The same field means a trigger of the timer, a level of a battery, and so on."""
    content = fit_file(GEARS.definition(), GEARS.data(START, 0, 5), GEARS.data(START, 42, 5))
    assert decode(content)["event"]["rear_gear_num"].to_list() == [None, 5]


def test_a_gear_that_is_stored_beats_one_that_is_unpacked() -> None:
    """Newer units write both."""
    layout = Layout("event", ("timestamp", "event", Raw(3, 4, 0x86), "rear_gear_num"))
    content = fit_file(
        layout.definition(), layout.data(START, 43, 5, 7), layout.data(START, 43, 5, None)
    )
    assert decode(content)["event"]["rear_gear_num"].to_list() == [7, 5]


def test_data_too_short_for_a_part_leaves_that_part_unknown() -> None:
    """Two bytes hold the rear gear only; fitdecode makes the front ones 0, which is no gear."""
    layout = Layout("event", ("timestamp", "event", Raw(3, 2, 0x84)))
    content = fit_file(layout.definition(), layout.data(START, 43, 5 | 17 << 8))
    row = decode(content)["event"].row(0, named=True)
    assert (row["rear_gear_num"], row["rear_gear"]) == (5, 17)
    assert (row["front_gear_num"], row["front_gear"]) == (None, None)


@pytest.mark.parametrize("value", [float("inf"), -float("inf"), float("nan"), None])
def test_floats_that_are_no_number_are_null(value: Value) -> None:
    """Nor does a not-a-number of unusual bits cause a warning."""
    layout = Layout("record", (Raw(6, 4, 0x88),))
    odd = struct.pack("<I", 0x7F800001)
    content = fit_file(layout.definition(), layout.data(value), layout.data(odd))
    assert decode(content)["record"]["speed"].to_list() == [None, None]


def test_a_field_of_no_bytes_is_no_value() -> None:
    """A definition may claim it; fitdecode gives up there."""
    layout = Layout("record", ("timestamp", Raw(6, 0, 0x84), "cadence"))
    content = fit_file(layout.definition(), layout.data(START, b"", 77))
    row = decode(content)["record"].row(0, named=True)
    assert (row["speed"], row["cadence"]) == (None, 77.0)


def test_of_a_field_stored_twice_the_last_known_value_counts() -> None:
    """Some units write a coarse value and then a fine one under the same number."""
    layout = Layout("record", (Raw(4, 1, 0x02), Raw(4, 2, 0x84)))
    content = fit_file(layout.definition(), layout.data(60, 61), layout.data(62, None))
    assert decode(content)["record"]["cadence"].to_list() == [61.0, 62.0]


def test_numbers_of_eight_bytes_are_read() -> None:
    """Unsigned and signed, in both byte orders."""
    for big_endian in (False, True):
        layout = Layout("record", (Raw(7, 8, 0x8F), Raw(6, 8, 0x8E)), big_endian=big_endian)
        content = fit_file(layout.definition(), layout.data(2**40, -(2**40)))
        row = decode(content)["record"].row(0, named=True)
        assert (row["power"], row["speed"]) == (2**40, -(2**40) / 1000)
