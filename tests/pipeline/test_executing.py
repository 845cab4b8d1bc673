"""Tasks come to the same here and in other processes, also where a process dies of one."""

from __future__ import annotations

import os
import signal
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridelab.errors import NotAccepted, StoreError
from ridelab.pipeline.executing import Lost, Serial, in_order
from ridelab.pipeline.processes import Processes

if TYPE_CHECKING:
    from collections.abc import Iterator


def double(number: int) -> int:
    """What is asked of most workers here."""
    return 2 * number


def end_at_seven(number: int) -> int:
    """Kill the process that works on 7."""
    if number == 7:
        os.kill(os.getpid(), signal.SIGKILL)
    return number


def end_once(path: str) -> str:
    """Kill the process that sees a path first."""
    if path:
        try:
            Path(path).touch(exist_ok=False)
        except FileExistsError:
            return "done again"
        os.kill(os.getpid(), signal.SIGKILL)
    return "done"


def refuse(number: int) -> int:
    """Raise what a task may raise."""
    if number == 3:
        raise StoreError("no room")
    if number == 4:
        raise NotAccepted("three", "two")
    if number == 5:
        raise OSError(28, "No space left on device", "parcel")
    return number


@pytest.fixture(scope="module")
def processes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Processes]:
    """Two workers, for all tests: what one does to them must not hurt the next."""
    made = Processes(2, tmp_path_factory.mktemp("room") / "store.duckdb")
    yield made
    made.close()


@pytest.mark.parametrize("ahead", [0, 1, 24])
def test_results_are_those_of_one_process(processes: Processes, ahead: int) -> None:
    """All of them, each with its own number, several jobs in a row."""
    for count in (0, 1, 50):
        found = list(processes.results(double, range(count), ahead))
        assert sorted(found) == list(Serial().results(double, range(count)))


def test_order_is_that_of_the_tasks() -> None:
    """However they were finished."""
    assert list(in_order([(2, "c"), (0, "a"), (3, "d"), (1, "b")])) == ["a", "b", "c", "d"]


def test_tasks_are_asked_for_as_they_are_needed(processes: Processes) -> None:
    """Not more than wait, and are worked on, beside those that are done."""
    asked: list[int] = []

    def tasks() -> Iterator[int]:
        for number in range(100):
            asked.append(number)
            yield number

    results = processes.results(double, tasks(), ahead=1)
    for done in range(1, 20):
        next(results)
        assert len(asked) <= done + 2 * 2


def test_task_that_kills_its_workers_is_lost_and_the_others_are_done(processes: Processes) -> None:
    """It is tried twice; the words say how it ended."""
    found = dict(processes.results(end_at_seven, range(30), ahead=10))
    assert found.pop(7) == Lost("was killed (killed)")
    assert found == {number: number for number in range(30) if number != 7}


def test_task_whose_worker_was_killed_is_done_again(processes: Processes, tmp_path: Path) -> None:
    """A kill costs time alone."""
    tasks = ["", "", str(tmp_path / "seen"), "", ""]
    found = list(in_order(processes.results(end_once, tasks, ahead=3)))
    assert found == ["done", "done", "done again", "done", "done"]


def test_worker_killed_between_two_jobs_is_replaced(processes: Processes) -> None:
    """Whoever kills processes to make room may take one that rests."""
    list(processes.results(double, range(4), ahead=1))
    os.kill(processes.pids()[0], signal.SIGKILL)
    found = list(in_order(processes.results(double, range(9), ahead=1)))
    assert found == list(range(0, 18, 2))


@pytest.mark.parametrize(
    ("number", "kind", "words"),
    [
        (3, StoreError, "no room"),
        (4, RuntimeError, "NotAccepted: found three; accepted: two"),
        (5, OSError, "No space left on device"),
    ],
)
def test_what_a_task_raises_is_raised_here(
    processes: Processes, number: int, kind: type[Exception], words: str
) -> None:
    """Also what cannot be pickled; the workers are there for the next job."""
    with pytest.raises(kind, match=words):
        list(processes.results(refuse, [0, number, 1, 2], ahead=2))
    assert dict(processes.results(double, [1], ahead=1)) == {0: 2}


def test_nothing_stays_behind(tmp_path: Path) -> None:
    """Neither processes nor folders, of a killed run before neither."""
    left = tmp_path / "store.duckdb.old.parcels"
    left.mkdir()
    (left / "0.half").touch()
    (left / "1.parcel").touch()
    foreign = tmp_path / "store.duckdb.mine.parcels"
    foreign.mkdir()
    (foreign / "notes.txt").touch()
    made = Processes(2, tmp_path / "store.duckdb")
    (made.folder() / "2.parcel").touch()
    assert made.folder().stat().st_mode & 0o777 == 0o700
    list(made.results(double, range(4), ahead=1))
    pids = made.pids()
    made.close()
    assert [path.name for path in tmp_path.iterdir()] == ["store.duckdb.mine.parcels"]
    assert list(foreign.iterdir()) == [foreign / "notes.txt"]
    for pid in pids:
        with pytest.raises(ProcessLookupError):
            os.kill(pid, 0)
