"""Timer stops and recorded gear changes."""

from __future__ import annotations

from pathlib import Path

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from ridelab.telemetry import fit
from ridelab.telemetry.fit import events
from ridelab.telemetry.ride import GEAR_CHANGE_SCHEMA, PAUSE_SCHEMA, Ride
from tests.telemetry.fitbytes import START, Layout, Raw, file_id, fit_file, records, table

#: FIT profile, type ``event_type``.
START_TYPE, STOP, STOP_ALL, STOP_DISABLE, STOP_DISABLE_ALL = 0, 1, 4, 8, 9

#: FIT profile, type ``event``.
TIMER, FRONT_GEAR_CHANGE, REAR_GEAR_CHANGE = 0, 42, 43

TEN_RECORDS = records(("speed", "cadence"), *((t, 5000, 60) for t in range(10)))


def timer(*rows: tuple[int, int]) -> bytes:
    """Timer events of (t_s, event_type)."""
    layout = Layout("event", ("timestamp", "event", "event_type"))
    return table(layout, *((START + t, TIMER, kind) for t, kind in rows))


def read(*messages: bytes) -> Ride:
    """Read an activity of ten records, one a second, and further messages."""
    return fit.read(Path("ride.fit"), fit_file(file_id(), TEN_RECORDS, *messages))


def paused(found: Ride) -> list[float]:
    """Times at which the timer did not run."""
    return found.samples.filter(~pl.col("timer_running"))["t_s"].to_list()


def test_every_kind_of_stop_stops_the_timer() -> None:
    """stop, stop_all, stop_disable and stop_disable_all of the FIT profile."""
    for kind in (STOP, STOP_ALL, STOP_DISABLE, STOP_DISABLE_ALL):
        found = read(timer((0, START_TYPE), (3, kind), (6, START_TYPE)))
        assert found.pauses.rows() == [(3.0, 6.0)]
        assert found.pauses.schema == PAUSE_SCHEMA


def test_a_record_at_the_very_stop_or_start_counts_as_running() -> None:
    """Times are whole seconds, so a record of the second of the stop may precede it."""
    assert paused(read(timer((0, START_TYPE), (3, STOP), (6, START_TYPE)))) == [4.0, 5.0]


def test_a_second_stop_does_not_move_the_first() -> None:
    """Units write stop again when they are switched off while paused."""
    assert read(timer((3, STOP), (5, STOP_ALL), (7, START_TYPE))).pauses.rows() == [(3.0, 7.0)]


def test_a_stop_after_the_last_record_is_no_pause() -> None:
    """It is the end of the ride."""
    for at in (9, 12):
        assert read(timer((0, START_TYPE), (at, STOP_ALL))).pauses.is_empty()


def test_a_stop_without_a_start_lasts_to_the_last_record() -> None:
    """The unit went on recording with its timer stopped."""
    found = read(timer((0, START_TYPE), (6, STOP_ALL)))
    assert found.pauses.rows() == [(6.0, 9.0)]
    assert paused(found) == [7.0, 8.0, 9.0]


def test_events_are_put_in_order_of_time() -> None:
    """Some units write all events at the end, or at the beginning."""
    assert read(timer((6, START_TYPE), (3, STOP), (0, START_TYPE))).pauses.rows() == [(3.0, 6.0)]


def test_other_events_do_not_stop_the_timer() -> None:
    """Only event 0, timer, does: here a power_down (5)."""
    layout = Layout("event", ("timestamp", "event", "event_type"))
    assert read(table(layout, (START + 3, 5, STOP_ALL))).pauses.is_empty()


@given(st.lists(st.tuples(st.integers(-3, 14), st.booleans()), max_size=12))
def test_pauses_are_apart_in_order_and_inside_the_ride(rows: list[tuple[int, bool]]) -> None:
    """Whatever the events say; and exactly the records inside a pause are marked."""
    found = read(timer(*((t, START_TYPE if start else STOP) for t, start in rows)))
    edges = [edge for row in found.pauses.iter_rows() for edge in row]
    assert edges == sorted(edges)
    assert all(0 <= edge <= 9 for edge in edges)
    marked = set(paused(found))
    for t in range(1, 9):
        inside = any(start < t < end for start, end in found.pauses.iter_rows())
        assert (float(t) in marked) == inside


def gear_events(*rows: tuple[int, int, int, int, int, int]) -> bytes:
    """Gear events of (t_s, event, rear number, rear teeth, front number, front teeth).

    FIT profile, gear_change_data: these four parts from the lowest byte up.
    """
    layout = Layout("event", ("timestamp", "event", "event_type", "data"))
    return table(
        layout,
        *(
            (START + t, event, 3, int.from_bytes(bytes(parts), "little"))
            for t, event, *parts in rows
        ),
    )


def test_gear_changes_are_unpacked() -> None:
    """Position and teeth, front and rear."""
    found = read(
        gear_events((2, REAR_GEAR_CHANGE, 5, 17, 2, 50), (4, FRONT_GEAR_CHANGE, 5, 17, 1, 34))
    ).gear_changes
    assert found.schema == GEAR_CHANGE_SCHEMA
    assert found.rows() == [(2.0, 2, 50, 5, 17), (4.0, 1, 34, 5, 17)]


def test_gears_that_the_system_does_not_tell_are_null() -> None:
    """0 and 255 stand for not known: here a hub gear without teeth and without a front gear."""
    found = read(gear_events((2, REAR_GEAR_CHANGE, 7, 0, 255, 255))).gear_changes
    assert found.rows() == [(2.0, None, None, 7, None)]


def test_a_gear_told_before_the_first_record_is_kept() -> None:
    """It says in which gear the ride began."""
    assert read(gear_events((-5, REAR_GEAR_CHANGE, 3, 21, 1, 34))).gear_changes["t_s"][0] == -5.0


def test_a_gear_event_without_data_has_no_gears() -> None:
    """The data field may be left invalid."""
    layout = Layout("event", ("timestamp", "event", "event_type", "data"))
    found = read(table(layout, (START + 1, REAR_GEAR_CHANGE, 3, None))).gear_changes
    assert found.rows() == [(1.0, None, None, None, None)]


def test_gear_fields_that_are_stored_as_such_are_read() -> None:
    """Numbers 9 to 12 of the event message, beside or without the packed field."""
    layout = Layout("event", ("timestamp", "event", Raw(9, 1, 10), Raw(10, 1, 10), Raw(11, 1, 10)))
    found = read(table(layout, (START + 1, FRONT_GEAR_CHANGE, 2, 50, 4))).gear_changes
    assert found.rows() == [(1.0, 2, 50, 4, None)]


def test_running_without_pauses_is_always() -> None:
    """An empty table of pauses stops nothing."""
    times = pl.Series([0.0, 1.0])
    assert events.running(times, PAUSE_SCHEMA.to_frame()).to_list() == [True, True]
