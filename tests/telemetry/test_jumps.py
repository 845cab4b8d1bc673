"""Jumps of the clock: told from pauses, silences, and records out of order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.telemetry.jumps import MOST_JUMPS, find_jumps, usual_interval_s

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


def sizes(
    t_s: ArrayLike, travelled_m: ArrayLike, broken: Sequence[int] = (), set_from_s: float = -np.inf
) -> dict[int, float]:
    """Row -> size of each jump; ``broken`` are rows before which riding may have stopped."""
    times, metres = np.asarray(t_s, dtype=float), np.asarray(travelled_m, dtype=float)
    flags = np.isin(np.arange(len(times)), broken)
    found = find_jumps(times, lambda: metres, lambda: flags, set_from_s)
    return {jump.row: jump.size_s for jump in found}


def never() -> Floats:
    """Stands for what must not be asked for."""
    raise AssertionError


@st.composite
def rides(draw: st.DrawFn) -> tuple[Floats, Floats]:
    """Times and metres of riding on, one record a second, 3.5 to 12 m/s."""
    speed = draw(st.floats(3.5, 12))
    metres = [0.0]
    for change in draw(st.lists(st.floats(-0.5, 0.5), min_size=12, max_size=60)):
        speed = min(max(speed + change, 3.5), 12.0)
        metres.append(metres[-1] + speed)
    return np.arange(len(metres), dtype=float), np.array(metres)


@given(rides(), st.data())
def test_a_jump_added_to_a_ride_is_found_where_and_as_large_as_it_is(
    ride: tuple[Floats, Floats], data: st.DataObject
) -> None:
    """Ahead by ten seconds or more, back by two or more; up to decades."""
    t_s, metres = ride
    row = data.draw(st.integers(4, len(t_s) - 4))
    size = data.draw(st.integers(10, 10**9) | st.integers(-(10**9), -2))
    assert sizes(np.where(np.arange(len(t_s)) < row, t_s, t_s + size), metres) == {row: size}


@given(rides(), st.data())
def test_records_by_a_clock_of_their_own_are_found(
    ride: tuple[Floats, Floats], data: st.DataObject
) -> None:
    """The clock is off for a while and comes back: two jumps that cancel each other."""
    t_s, metres = ride
    first = data.draw(st.integers(2, len(t_s) - 3))
    last = data.draw(st.integers(first, len(t_s) - 3))
    size = data.draw(st.integers(100, 10**9) | st.integers(-(10**9), -100))
    there = (np.arange(len(t_s)) >= first) & (np.arange(len(t_s)) <= last)
    assert sizes(t_s + size * there, metres) == {first: size, last + 1: -size}


@given(rides(), st.data())
def test_a_silence_in_which_the_ride_went_on_is_no_jump(
    ride: tuple[Floats, Floats], data: st.DataObject
) -> None:
    """Records are missing, but the metres of that time are there: a tunnel."""
    t_s, metres = ride
    row = data.draw(st.integers(4, len(t_s) - 4))
    size = data.draw(st.integers(10, 10_000))
    after = np.arange(len(t_s)) >= row
    assert sizes(t_s + size * after, metres + size * metres[-1] / len(metres) * after) == {}


@pytest.mark.parametrize("wait_s", [12, 60, 3600])
def test_a_stop_at_a_light_is_no_jump(wait_s: int) -> None:
    """Nothing is recorded while standing, and nothing tells of a pause.

    Braking at 3 m/s2 and starting at 1 m/s2 (common practice, no source), a record a second.
    """
    speeds = [8, 8, 8, 8, 5, 2, 0, 1, 2, 3, 4, 5, 6, 7, 8, 8, 8]
    t_s = np.arange(len(speeds), dtype=float) + wait_s * (np.arange(len(speeds)) > 6)
    assert sizes(t_s, np.cumsum(speeds)) == {}


def test_a_stop_between_two_records_seconds_apart_is_no_jump() -> None:
    """Taken from a recording by a unit that writes a record where the course changes."""
    t_s = [0, 2, 4, 11, 13, 19, 33, 35, 37, 39]
    metres = [0, 18.3, 35.8, 98.2, 114.2, 157.3, 205.9, 222.1, 233.6, 250.7]
    assert sizes(t_s, metres) == {}


def test_a_pause_is_no_jump_however_fast_the_ride_goes_on() -> None:
    """The reader says that the timer stood, or that a segment ended there."""
    t_s = np.arange(20.0) + 500 * (np.arange(20) >= 10)
    assert sizes(t_s, 5.0 * np.arange(20)) == {10: 500.0}
    assert sizes(t_s, 5.0 * np.arange(20), broken=[10]) == {}


def test_a_ride_repeated_behind_itself_is_no_jump() -> None:
    """The metres begin anew."""
    assert sizes([*range(10), *range(10)], [*range(0, 50, 5), *range(0, 50, 5)]) == {}


@pytest.mark.parametrize(
    "order", [[0, 1, 2, 4, 3, 5, 6], [0, 3, 4, 1, 2, 5, 6], [0, 5, 1, 2, 3, 4, 6]]
)
def test_records_written_late_or_early_are_no_jumps(order: list[int]) -> None:
    """Here while standing, so that the metres do not tell."""
    assert sizes(order, [0.0] * 7) == {}


def test_a_clock_set_back_while_standing_is_found() -> None:
    """Waiting for the satellites: the time cannot run back, and nothing was ridden."""
    assert sizes([*range(600, 610), *range(30)], [0.0] * 40) == {10: -610.0 + 0}


def test_without_metres_nothing_is_taken_for_a_jump() -> None:
    """No evidence, no correction."""
    assert sizes([0, 1, 2, 600, 601, 5, 6], [np.nan] * 7) == {}


def test_a_clock_that_was_not_set_jumps_whatever_the_metres_say() -> None:
    """Standing, riding or unknown."""
    t_s = [3, 4, 5, 1000, 1001, 1002]
    assert sizes(t_s, [np.nan] * 6, set_from_s=100) == {3: 994.0}
    assert sizes(t_s, [np.nan] * 6, broken=[3], set_from_s=100) == {3: 994.0}


def test_a_clock_set_all_the_time_is_left_alone() -> None:
    """Its records are only sorted."""
    saw = np.tile([0.0, 1, 2, 3, 4], MOST_JUMPS + 2)
    assert sizes(saw, np.arange(len(saw)) * 5.0) == {}


def test_a_fragment_between_is_part_of_its_instant() -> None:
    """Some units write one instant as several records; the distance stands in one of them."""
    t_s = np.repeat(np.arange(20.0) + 500 * (np.arange(20) >= 10), 2)
    metres = np.repeat(5.0 * np.arange(20), 2)
    metres[::2] = np.nan
    assert sizes(t_s, metres) == {20: 500.0}


def test_an_ordinary_recording_is_looked_at_no_further() -> None:
    """Neither metres nor pauses are asked for."""
    assert find_jumps(np.arange(50.0), never, never) == []  # type: ignore[arg-type]


def test_the_usual_interval_is_that_of_the_steps_ahead() -> None:
    """None where there is none."""
    assert usual_interval_s(np.array([0.0, 2, 4, 1, 3, 3, 60])) == 2.0
    assert usual_interval_s(np.array([5.0, 5.0])) is None
    assert usual_interval_s(np.array([5.0])) is None
