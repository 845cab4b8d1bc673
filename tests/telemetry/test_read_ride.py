"""The one door: identity, formats, and files that are no rides."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import ridelab.telemetry
from ridelab.errors import DamagedFile, NotARide, RideError
from ridelab.telemetry import Problem, Ride, fit, read_ride, sha256_of
from tests.telemetry.fitbytes import CYCLING, file_id, fit_file, records, ride

_PATH = Path("ride.fit")


def written(tmp_path: Path, content: bytes, name: str = "ride.fit") -> Path:
    """A file of that content."""
    path = tmp_path / name
    path.write_bytes(content)
    return path


def test_the_door_exports_what_it_says() -> None:
    """Nothing in ``__all__`` is missing."""
    for name in ridelab.telemetry.__all__:
        assert hasattr(ridelab.telemetry, name)


def test_a_ride_is_known_by_its_content(tmp_path: Path) -> None:
    """SHA-256, the same from the ride and from the file; the name plays no part."""
    content = ride(CYCLING)
    path = written(tmp_path, content, "no-extension")
    found = read_ride(path)
    assert found.sha256 == hashlib.sha256(content).hexdigest() == sha256_of(path)
    assert (found.path, found.format) == (path, "fit")


def test_a_path_may_be_given_as_text(tmp_path: Path) -> None:
    """Callers with a string need no conversion."""
    assert read_ride(str(written(tmp_path, ride(CYCLING)))).duration_s == 4.0


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "not a ride file: is empty; accepted: FIT"),
        (b"time,speed,cadence\n0,5.0,60\n", "not a ride file: begins with b'time';"),
        (ride()[:11], "not a ride file: begins with"),
        (ride()[:14], "@ 14: the file breaks off, "),
        (fit_file(b"\x07rest"), "local message 7 not defined"),
        (fit_file(header_size=15), "bytes of no FIT data; no record before that"),
    ],
)
def test_a_file_that_cannot_be_read_is_damaged(tmp_path: Path, content: bytes, reason: str) -> None:
    """One message that names the file, and the byte where the format breaks."""
    path = written(tmp_path, content)
    with pytest.raises(DamagedFile) as caught:
        read_ride(path)
    assert str(caught.value).startswith(f"{path}")
    assert reason in str(caught.value)


def test_a_path_that_cannot_be_opened_is_told_plainly(tmp_path: Path) -> None:
    """Vanished, or a folder: the system's own words, no traceback of it."""
    gone, folder = tmp_path / "gone.fit", tmp_path / "folder.fit"
    folder.mkdir()
    for path, reason in ((gone, "No such file"), (folder, "Is a directory")):
        for door in (read_ride, sha256_of):
            with pytest.raises(DamagedFile, match=f"{path.name}: cannot be read: {reason}"):
                door(path)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        (2, "a settings"),
        (5, "a workout"),
        (9, "a weight"),
        (20, "an activity summary"),
        (32, "a monitoring"),
    ],
)
def test_a_file_of_another_kind_is_no_ride(tmp_path: Path, kind: int, words: str) -> None:
    """FIT profile, type ``file``; the reason says which kind it is."""
    path = written(tmp_path, fit_file(file_id(kind)))
    with pytest.raises(NotARide, match=f": {words} file, not an activity"):
        read_ride(path)


def test_an_activity_without_records_is_no_ride(tmp_path: Path) -> None:
    """Switched on and off again."""
    with pytest.raises(NotARide, match="an activity without a single record"):
        read_ride(written(tmp_path, fit_file(file_id())))


def test_a_file_that_does_not_say_its_kind_is_read(tmp_path: Path) -> None:
    """Its records speak for it."""
    found = read_ride(written(tmp_path, fit_file(records(("cadence",), (0, 60)), CYCLING)))
    assert len(found.samples) == 1
    assert any("what kind of file" in problem.message for problem in found.problems)


def test_settings_chained_to_an_activity_are_left_out(tmp_path: Path) -> None:
    """And that is told."""
    path = written(tmp_path, ride(CYCLING) + fit_file(file_id(2)))
    assert Problem(str(path), "read", "note", "the file also holds settings: left out") in (
        read_ride(path).problems
    )


def test_records_in_a_part_that_is_no_activity_are_left_out(tmp_path: Path) -> None:
    """A course may hold records that nobody rode."""
    course = fit_file(file_id(6), records(("distance",), (100, 5), (101, 6)))
    assert len(read_ride(written(tmp_path, ride(CYCLING) + course)).samples) == 5
    with pytest.raises(NotARide, match="a course file"):
        read_ride(written(tmp_path, course))


def test_chained_activities_are_one_ride(tmp_path: Path) -> None:
    """Here the same one twice: every instant comes once."""
    found = read_ride(written(tmp_path, ride(CYCLING) * 2))
    assert len(found.samples) == 5
    assert any("2 activities are chained" in problem.message for problem in found.problems)


def test_damage_becomes_a_problem_with_its_byte(tmp_path: Path) -> None:
    """Used, and told as a warning."""
    whole = ride(CYCLING)
    path = written(tmp_path, whole[:-2] + b"\0\0")
    (problem,) = read_ride(path).problems
    assert (problem.path, problem.stage, problem.severity) == (str(path), "read", "warning")
    assert problem.message.startswith(f"at byte {len(whole) - 2}: ")


def outcome(path: Path, content: bytes) -> Ride | RideError:
    """What reading gives; any other error fails the test."""
    try:
        return fit.read(path, content)
    except RideError as error:
        return error


def test_a_file_cut_at_any_byte_keeps_every_complete_record(tmp_path: Path) -> None:
    """A shorter file never has more samples, and each cut is a ride or a plain reason."""
    whole = ride(CYCLING, seconds=4)
    first_record = whole.index(records(("speed", "cadence", "distance"), (0, 5000, 60, 0))[-12:])
    size = 12
    for cut in range(14, len(whole)):
        found = outcome(tmp_path / "cut.fit", whole[:cut])
        complete = min(max(cut - first_record, 0) // size, 4)
        if complete:
            assert isinstance(found, Ride)
            assert len(found.samples) == complete
            assert any(problem.message.startswith("at byte") for problem in found.problems)
        else:
            assert isinstance(found, DamagedFile)


@given(st.binary(max_size=200))
def test_random_bytes_are_a_ride_or_a_reason(content: bytes) -> None:
    """Behind a good header, so that the decoder is reached."""
    outcome_of = outcome(_PATH, fit_file(content))
    assert isinstance(outcome_of, Ride | RideError)


@given(st.data())
def test_a_file_with_flipped_bytes_is_a_ride_or_a_reason(data: st.DataObject) -> None:
    """Damage in definitions, sizes, types and values alike."""
    content = bytearray(ride(CYCLING))
    for _ in range(data.draw(st.integers(1, 4))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    assert isinstance(outcome(_PATH, bytes(content)), Ride | RideError)


def test_what_no_memory_holds_is_refused_unread(tmp_path: Path) -> None:
    """A sparse file of 2 GiB and a byte, and a device without an end: both at once."""
    sparse = tmp_path / "endless.fit"
    with sparse.open("wb") as file:
        file.truncate((2 << 30) + 1)
    for path in (sparse, Path("/dev/zero")):
        with pytest.raises(DamagedFile, match=r"too large for a ride, .*up to 2 GiB"):
            read_ride(path)
