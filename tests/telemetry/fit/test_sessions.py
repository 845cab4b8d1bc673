"""Which records of a file are a cycling ride."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridelab.errors import NotARide
from ridelab.telemetry import fit
from tests.telemetry.fitbytes import START, Layout, Value, file_id, fit_file, records, table

if TYPE_CHECKING:
    from ridelab.telemetry.ride import Ride

#: FIT profile, type ``sport``.
GENERIC, RUNNING, CYCLING, TRANSITION, SWIMMING, E_BIKING = 0, 1, 2, 3, 5, 21

TEN_RECORDS = records(("speed", "cadence"), *((t, 5000 + t, 60) for t in range(10)))


def sessions(*rows: tuple[Value, ...]) -> bytes:
    """Session messages of (start, sport), the start counted from START."""
    timed = [(START + int(start), sport) for start, sport in rows if start is not None]
    return table(Layout("session", ("start_time", "sport")), *timed)


def sports(*numbers: int) -> bytes:
    """Sport messages."""
    return table(Layout("sport", ("sport",)), *((number,) for number in numbers))


def read(*messages: bytes) -> Ride:
    """Read an activity of ten records and further messages."""
    return fit.read(Path("ride.fit"), fit_file(file_id(), TEN_RECORDS, *messages))


def texts(found: Ride) -> str:
    """All problems as one text."""
    return "; ".join(problem.message for problem in found.problems)


@pytest.mark.parametrize("sport", [CYCLING, E_BIKING])
def test_a_cycling_session_is_kept_whole(sport: int) -> None:
    """Also the records before its start: units start a session late."""
    found = read(sessions((4, sport)))
    assert len(found.samples) == 10
    assert found.problems == ()


def test_of_several_sports_the_cycling_records_are_kept() -> None:
    """A record belongs to the last session that began at or before it."""
    found = read(sessions((0, SWIMMING), (3, CYCLING), (7, RUNNING)))
    assert found.samples["speed_mps"].to_list() == [5.003, 5.004, 5.005, 5.006]
    assert found.started_at.second == 3
    assert "set aside (" in texts(found)
    assert "swimming: 3" in texts(found)
    assert "running: 3" in texts(found)


def test_two_cycling_sessions_of_one_file_are_one_ride() -> None:
    """With the other sport between them left out."""
    found = read(sessions((0, CYCLING), (3, TRANSITION), (7, CYCLING)))
    assert found.samples["t_s"].to_list() == [0, 1, 2, 7, 8, 9]


def test_session_messages_may_stand_in_any_order() -> None:
    """Their start decides, not their place in the file."""
    found = read(sessions((7, RUNNING), (0, SWIMMING), (3, CYCLING)))
    assert len(found.samples) == 4


@pytest.mark.parametrize(
    ("numbers", "named"),
    [((RUNNING,), "only running"), ((SWIMMING, TRANSITION), "only swimming, transition")],
)
def test_only_other_sports_are_no_ride(numbers: tuple[int, ...], named: str) -> None:
    """The reason names them."""
    with pytest.raises(NotARide, match=f"ride.fit: no cycling session, {named}"):
        read(sessions(*((i, number) for i, number in enumerate(numbers))))


def test_a_file_that_names_no_sport_is_read_as_a_ride() -> None:
    """And it is told; a generic session says as little as none."""
    for found in (read(), read(sessions((0, GENERIC)))):
        assert len(found.samples) == 10
        assert "nothing says which sport" in texts(found)


def test_generic_beside_another_sport_is_kept() -> None:
    """It is the only part that may be a ride."""
    found = read(sessions((0, GENERIC), (4, RUNNING)))
    assert len(found.samples) == 4


def test_generic_beside_cycling_is_set_aside() -> None:
    """The ride is where the file says so."""
    assert len(read(sessions((0, GENERIC), (4, CYCLING))).samples) == 6


def test_without_sessions_the_sport_message_tells() -> None:
    """A recording that broke off has no session."""
    assert texts(read(sports(CYCLING))) == ""
    with pytest.raises(NotARide, match="only running"):
        read(sports(RUNNING))


def test_several_sports_without_sessions_cannot_be_told_apart() -> None:
    """All is kept, and that is told."""
    found = read(sports(SWIMMING, CYCLING))
    assert len(found.samples) == 10
    assert "no telling which records are which sport: all kept (swimming, cycling)" in texts(found)


def test_the_sport_that_was_going_on_when_the_recording_broke_off_is_kept() -> None:
    """Sport messages without a session of their own: what follows the last session is theirs."""
    done = table(
        Layout("session", ("start_time", "timestamp", "sport")), (START, START + 6, SWIMMING)
    )
    found = read(sports(SWIMMING, CYCLING), done)
    assert found.samples["speed_mps"].to_list() == [5.006, 5.007, 5.008, 5.009]


def test_a_cycling_session_without_records_is_no_ride() -> None:
    """It was announced and not ridden."""
    with pytest.raises(NotARide, match="no record in its cycling session"):
        read(sessions((0, RUNNING), (60, CYCLING)))


def test_an_indoor_bicycle_is_cycling() -> None:
    """FIT profile: fitness_equipment (4) with sub_sport indoor_cycling (6)."""
    layout = Layout("session", ("start_time", "sport", "sub_sport"))
    assert len(read(table(layout, (START, 4, 6))).samples) == 10
