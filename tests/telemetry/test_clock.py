"""Records on one clock, in order, one an instant; and what is told of the time between them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.gears import observations
from ridelab.telemetry import clock
from ridelab.telemetry.clock import Settled, settled, tell_silences
from ridelab.telemetry.notes import Notes
from ridelab.telemetry.ride import PAUSE_SCHEMA

TIMES = st.floats(0, 100) | st.integers(0, 50) | st.floats(0, 4e9)
RECORDS = st.lists(st.tuples(TIMES, st.none() | st.floats(0, 1e6)), min_size=1, max_size=60)


def settle(
    rows: list[tuple[float, float | None]], set_from_s: float = -np.inf
) -> tuple[Settled, list[str]]:
    """Times and metres -> what comes of them, and what is told."""
    records = pl.DataFrame(
        {
            "timestamp": [float(t) for t, _ in rows],
            "metres": [m for _, m in rows],
            "row": range(len(rows)),
        },
        schema_overrides={"metres": pl.Float64},
    )
    notes = Notes(Path("ride"))
    found = settled(
        records,
        lambda: records["metres"].fill_null(np.nan).to_numpy(),
        lambda: np.zeros(len(records), dtype=bool),
        notes,
        set_from_s=set_from_s,
    )
    return found, [problem.message for problem in notes.problems]


def silences(t_s: list[float], *pauses: tuple[float, float]) -> list[str]:
    """What is told of these times."""
    notes = Notes(Path("ride"))
    tell_silences(pl.Series(t_s), pl.DataFrame(pauses, schema=PAUSE_SCHEMA, orient="row"), notes)
    assert {problem.severity for problem in notes.problems} <= {"note"}
    return [problem.message for problem in notes.problems]


@given(RECORDS, st.just(-np.inf) | st.floats(0, 1e9))
def test_time_runs_on_and_no_record_is_lost_but_merged_ones(
    rows: list[tuple[float, float | None]], set_from_s: float
) -> None:
    """Whatever the clock did: strictly increasing, and each loss is told as a merger."""
    found, told = settle(rows, set_from_s)
    times = found.records["timestamp"].to_numpy()
    assert (np.diff(times) > 0).all()
    merged = [int(text.split()[0]) for text in told if "with the time of another" in text]
    assert len(times) + sum(merged) == len(rows)
    assert set(found.records["row"]) <= set(range(len(rows)))


@given(st.integers(4, 15), st.integers(10, 10**9))
def test_what_else_the_device_told_moves_with_its_records(row: int, size: int) -> None:
    """The times of the records themselves, moved, are the times of the records settled."""
    told = [float(t if t < row else t + size) for t in range(20)]
    found, _ = settle([(t, 5.0 * k) for k, t in enumerate(told)])
    assert found.records["timestamp"].to_list() == [float(t + size) for t in range(20)]
    assert found.moved(pl.Series(told)).equals(found.records["timestamp"])


def test_an_ordinary_recording_is_handed_back_as_it_is() -> None:
    """Nothing moved, nothing told."""
    rows: list[tuple[float, float | None]] = [(float(t), 5.0 * t) for t in range(20)]
    found, told = settle(rows)
    assert told == []
    assert found.moved(pl.Series([3.0, None])).to_list() == [3.0, None]


def test_times_before_a_jump_move_to_the_clock_as_set() -> None:
    """Nineteen steps of a second, by the later clock; events of before the jump move along."""
    rows: list[tuple[float, float | None]] = [
        (t if t < 10 else t + 500, 5.0 * t) for t in range(20)
    ]
    found, told = settle(rows)
    assert found.records["timestamp"].to_list() == [500.0 + t for t in range(20)]
    text = "the clock jumped ahead by 8 min while riding went on, 10 s into the ride"
    assert told == [f"{text}: times before that were moved to the later clock"]
    events = pl.Series("t", [-1.0, 0.0, 5.5, 9.0, 200.0, 510.0, 519.0, 530.0, None])
    assert found.moved(events).to_list() == [
        *(499.0, 500.0, 505.5, 509.0, 509.0),
        *(510.0, 519.0, 530.0, None),
    ]


def test_an_event_between_two_clocks_belongs_to_the_nearer_stretch() -> None:
    """The clock set back by ten minutes; the old one told 600 to 609, the new one 10 to 29."""
    rows: list[tuple[float, float | None]] = [
        (t + 600 if t < 10 else t, 5.0 * t) for t in range(30)
    ]
    found, _ = settle(rows)
    events = pl.Series([600.0, 605.0, 590.0, 20.0, 35.0])
    assert found.moved(events).to_list() == [0.0, 5.0, -10.0, 20.0, 35.0]


def test_many_jumps_are_counted() -> None:
    """Three are told, the others in one line."""
    rows: list[tuple[float, float | None]] = [(t + 100 * (t // 10), 5.0 * t) for t in range(70)]
    _, told = settle(rows)
    assert len(told) == 4
    assert told[-1] == "the clock jumped 3 more times: likewise"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (2.5, "2.5 s"),
        (119, "119 s"),
        (130, "2 min"),
        (7199, "120 min"),
        (86_400, "24 h"),
        (2e5, "2 days"),
    ],
)
def test_lengths_of_time_are_told_in_a_unit_that_fits(seconds: float, words: str) -> None:
    """Two or more of the largest unit."""
    assert clock._span(seconds) == words


def test_an_even_recording_has_nothing_to_tell() -> None:
    """With a pause in it; a single record has nothing to tell either."""
    assert silences([0, 1, 2, 3, 60, 61, 62], (3, 60)) == []
    assert silences([0.0]) == []


def test_missing_records_and_silences_are_counted_apart_from_pauses() -> None:
    """A step counts as a pause if any part of it was one."""
    t_s = [*range(50), *range(52, 80), *range(200, 230), *range(400, 450)]
    text = "records are missing at 1 place: up to 3 s without one, 1 s being usual"
    assert silences(t_s, (229.5, 399)) == [
        text,
        "1 silence of more than 10 s outside pauses, the longest 2 min: nothing is computed across",
    ]
    assert silences(t_s, (100, 110), (229.5, 399)) == [text]


def test_uneven_recording_is_told_as_such() -> None:
    """A unit that writes a record where something changed."""
    t_s = np.cumsum([1, 2, 7, 3, 1, 2, 2, 4, 6, 2, 1, 7]).tolist()
    assert silences(t_s) == ["records come unevenly, 1 to 7 s apart"]


def test_a_slow_recording_is_not_all_silence() -> None:
    """A record every half minute is what the unit was set to."""
    assert silences([30.0 * k for k in range(20)]) == []


def test_a_silence_is_what_the_gears_take_for_a_gap() -> None:
    """Two rooms, one number."""
    assert clock.GAP_S == observations.GAP_S
