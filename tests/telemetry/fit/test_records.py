"""Records -> samples: order of time, one row an instant, SI units."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.errors import NotARide
from ridelab.telemetry import fit
from ridelab.telemetry.ride import SAMPLE_SCHEMA, Ride
from tests.telemetry.fitbytes import START, Layout, file_id, fit_file, records, ride, table

SPEED = ("speed", "cadence")


def read(*messages: bytes) -> Ride:
    """Read an activity of the given messages."""
    return fit.read(Path("ride.fit"), fit_file(file_id(), *messages))


def messages_of(found: Ride) -> list[tuple[str, str]]:
    """Severity and text of each problem."""
    return [(problem.severity, problem.message) for problem in found.problems]


def test_samples_have_the_contract_columns_in_si_units() -> None:
    """Speed, distance, altitude, cadence, power and position, by the scales of the FIT profile."""
    fields = ("speed", "cadence", "power", "altitude", "distance", "position_lat", "position_long")
    found = read(records(fields, (0, 5000, 60, 200, 3000, 1000, 2**29, -(2**30)))).samples
    assert found.schema == SAMPLE_SCHEMA
    assert found.row(0) == (0.0, 5.0, 60.0, 200.0, None, 100.0, 10.0, 45.0, -90.0, True)


def test_the_ride_starts_at_its_first_record_in_utc() -> None:
    """FIT seconds count from 1989-12-31 00:00 UTC."""
    found = read(records(SPEED, (0, 5000, 60), (4, 5000, 60)))
    assert found.started_at == datetime(2024, 5, 1, 6, tzinfo=UTC)
    assert found.samples["t_s"].to_list() == [0.0, 4.0]
    assert found.duration_s == 4.0


def test_the_fraction_of_cadence_is_added() -> None:
    """FIT profile: fractional_cadence in 1/128 rpm."""
    found = read(records((*SPEED, "fractional_cadence"), (0, 5000, 60, 64), (1, 5000, 61, None)))
    assert found.samples["cadence_rpm"].to_list() == [60.5, 61.0]
    assert found.cadence_resolution_rpm == 1 / 128


def test_a_fraction_that_is_always_zero_is_no_finer_resolution() -> None:
    """Some units write the field and never use it."""
    found = read(records((*SPEED, "fractional_cadence"), (0, 5000, 60, 0), (1, 5000, 61, 0)))
    assert found.cadence_resolution_rpm == 1.0


def test_fragments_of_one_instant_become_one_sample() -> None:
    """Position in one record, distance in the next, both of the same second: nothing is lost."""
    found = read(
        records(("speed", "cadence"), (0, 5000, 60)),
        records(("distance",), (0, 1200)),
        records(("speed", "cadence"), (1, 5100, 61)),
    )
    assert found.samples["distance_m"].to_list() == [12.0, None]
    assert found.samples["speed_mps"].to_list() == [5.0, 5.1]
    assert ("note", "1 record with the time of another: merged, no value lost") in messages_of(
        found
    )


def test_of_two_values_of_one_instant_the_later_wins_and_it_is_told() -> None:
    """A null never wins over a value."""
    found = read(records(SPEED, (0, 5000, 60), (0, 6000, None), (1, 5000, 60)))
    assert found.samples.row(0)[1:3] == (6.0, 60.0)
    text = "1 record with the time of another: merged, 1 value gave way to a later one"
    assert ("warning", text) in messages_of(found)


def test_records_out_of_order_are_sorted_and_counted() -> None:
    """A clock set back by the satellites makes the times step back."""
    found = read(records(SPEED, (5, 5000, 60), (3, 4000, 61), (6, 6000, 62)))
    assert found.samples["t_s"].to_list() == [0.0, 2.0, 3.0]
    assert found.samples["speed_mps"].to_list() == [4.0, 5.0, 6.0]
    assert ("warning", "the time steps back 1 time: records put in order of time") in messages_of(
        found
    )


def test_records_without_a_time_are_left_out_and_counted() -> None:
    """There is no place for them."""
    found = read(records(SPEED, (0, 5000, 60), (None, 9000, 60), (2, 5000, 60)))
    assert found.samples["t_s"].to_list() == [0.0, 2.0]
    assert ("warning", "1 record without a time: left out") in messages_of(found)


def test_a_file_whose_records_have_no_time_is_no_ride() -> None:
    """The reason says how many there were."""
    with pytest.raises(NotARide, match="none of its 2 records has a time"):
        read(records(SPEED, (None, 5000, 60), (None, 9000, 60)))


@pytest.mark.parametrize(
    ("fields", "row", "text"),
    [
        (("cadence",), (0, 60), "no speed and no distance: no gear can be named"),
        (("cadence", "speed"), (0, 60, 0), "no speed and no distance: no gear can be named"),
        (("speed",), (0, 5000), "no cadence: no gear can be named"),
        (("speed", "cadence"), (0, 5000, 0), "no cadence: no gear can be named"),
    ],
)
def test_a_ride_without_speed_or_cadence_is_read_and_told(
    fields: tuple[str, ...], row: tuple[int, ...], text: str
) -> None:
    """It cannot name a gear, yet it is a ride; a channel that is always 0 counts as missing."""
    assert ("warning", text) in messages_of(read(records(fields, row)))


def test_a_clock_that_was_never_set_is_told() -> None:
    """FIT protocol: a date_time below 0x10000000 counts from when the unit was switched on."""
    layout = Layout("record", ("timestamp", *SPEED))
    found = read(table(layout, (1000, 5000, 60), (1001, 5000, 60)))
    assert found.duration_s == 1.0
    assert any("never set" in text for _, text in messages_of(found))


def test_a_clock_that_is_set_on_the_way_costs_no_time() -> None:
    """The first record moves to just before the first by the clock that was set."""
    layout = Layout("record", ("timestamp", *SPEED))
    rows = [(t, 5000, 60) for t in (1000, 1001, 1002, START, START + 1, START + 2)]
    found = read(table(layout, *rows))
    assert found.samples["t_s"].to_list() == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]
    assert found.started_at == datetime(2024, 5, 1, 5, 59, 57, tzinfo=UTC)
    text = "the clock jumped ahead by 12540 days on being set, 3 s into the ride"
    assert any(text in told for _, told in messages_of(found))


def test_a_clock_set_back_while_riding_takes_the_events_with_it() -> None:
    """The timer stop is told by the old clock, ten minutes ahead; so is a change of gear."""
    rows = [(600 + t if t < 10 else t, 5000, 60, 500 * t) for t in range(20)]
    stop = table(Layout("event", ("timestamp", "event", "event_type")), (START + 605, 0, 1))
    start = table(Layout("event", ("timestamp", "event", "event_type")), (START + 607, 0, 0))
    found = read(records((*SPEED, "distance"), *rows), stop, start)
    assert found.samples["t_s"].to_list() == [float(t) for t in range(20)]
    assert found.started_at == datetime(2024, 5, 1, 6, tzinfo=UTC)
    assert found.pauses.rows() == [(5.0, 7.0)]
    assert any("jumped back by 10 min while riding" in told for _, told in messages_of(found))


def test_a_pause_told_by_events_is_no_jump() -> None:
    """However fast the ride goes on after it."""
    rows = [(t if t < 10 else 600 + t, 5000, 60, 500 * t) for t in range(20)]
    stop = table(Layout("event", ("timestamp", "event", "event_type")), (START + 9, 0, 1))
    start = table(Layout("event", ("timestamp", "event", "event_type")), (START + 610, 0, 0))
    found = read(records((*SPEED, "distance"), *rows), stop, start)
    assert found.duration_s == 619.0
    assert found.pauses.rows() == [(9.0, 610.0)]


def test_an_ordinary_ride_has_no_problems() -> None:
    """But that nothing says its sport, which an ordinary file does."""
    session = table(Layout("session", ("start_time", "sport")), (START, 2))
    assert fit.read(Path("ride.fit"), ride(session)).problems == ()


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 65534) | st.none()), min_size=1))
def test_every_time_comes_once_in_order_with_its_last_value(
    rows: list[tuple[int, int | None]],
) -> None:
    """Whatever the order of records, against a dictionary filled in that order."""
    found = read(records(("speed",), *rows)).samples
    last: dict[int, float | None] = {}
    for t_s, speed in rows:
        last[t_s] = last.get(t_s) if speed is None else speed / 1000
    first = min(last)
    expected = pl.DataFrame(
        [(t_s - first, last[t_s]) for t_s in sorted(last)],
        schema={"t_s": pl.Float64, "speed_mps": pl.Float64},
        orient="row",
    )
    assert found.select("t_s", "speed_mps").equals(expected)
