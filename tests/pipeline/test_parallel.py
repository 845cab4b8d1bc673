"""A run comes to the same whoever does the work, and in whatever order it is done."""

from __future__ import annotations

import os
import signal
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from ridelab.campaign import load
from ridelab.pipeline import executors, run
from ridelab.pipeline.measuring import ToMeasure, measured
from ridelab.pipeline.taking import Looking
from tests.pipeline.conftest import QUICK
from tests.telemetry.archives.packing import zip_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from typing import Any

    import polars as pl

    from ridelab.pipeline import Outcome, Progress
    from ridelab.pipeline.measuring import Measured
    from ridelab.pipeline.sighting import Sight
    from ridelab.pipeline.taking import Found
    from ridelab.problems import Problem
    from tests.pipeline.conftest import Bench


class Shuffled:
    """Does all tasks first, and hands the results over in any order."""

    def __init__(self, room: Path, seed: int) -> None:
        self._room, self._random = room, np.random.default_rng(seed)

    def folder(self) -> Path:
        """Parcels are files, as from another process."""
        return self._room

    def results(
        self, work: Callable[[Any], Any], tasks: Iterable[Any], ahead: int
    ) -> Iterator[tuple[int, Any]]:
        """Yield results without order."""
        del ahead
        done = [(number, work(task)) for number, task in enumerate(tasks)]
        self._random.shuffle(done)
        yield from done


@pytest.fixture
def odd(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """Files of all kinds: rides, a copy, an archive, one of no use; workers are always worth it."""
    monkeypatch.setattr(executors, "_WORTH_S", 0.0)
    bench.edit("rides/otter/*.fit", "rides/otter/*")
    bench.put("rides/otter/copy.fit", 0)
    bench.put("rides/otter/useless.fit", b"no ride")
    bench.put("rides/otter/week.zip", zip_of({"b.fit": bench.fits[1], "note.txt": b"note"}))
    return bench


def outcome_of(bench: Bench, workers: int, told: list[Progress] | None = None) -> Outcome:
    """Run over a store that is not there yet."""
    bench.store.unlink(missing_ok=True)
    campaign = load(bench.root / "campaign.toml")
    listen = None if told is None else told.append
    return run(
        bench.pipeline(QUICK),
        campaign,
        bench.store,
        bench.root / "report",
        listen,
        workers=workers,
    )


def rows(bench: Bench) -> dict[str, pl.DataFrame]:
    """Return every relation, by the order of its rows in the store, but for what tells of time."""
    timed = {"runs", "run_stages", "reading_times"}
    return {name: rows for name, rows in bench.content().items() if name not in timed}


def test_store_is_the_same_for_any_number_of_workers(odd: Bench) -> None:
    """To the last bit and in the same order of rows; and nothing is left beside it."""
    first = outcome_of(odd, 1)
    expected = rows(odd)
    assert (first.read, first.duplicates, first.set_aside) == (3, 2, 1)
    for workers in (2, 3):
        found = outcome_of(odd, workers)
        assert (found.read, found.duplicates, found.set_aside) == (3, 2, 1)
        for relation, content in rows(odd).items():
            assert content.equals(expected[relation]), relation
    assert not list(odd.root.glob("*.parcels"))


@pytest.mark.parametrize("seed", range(4))
def test_store_is_the_same_for_any_order(
    odd: Bench, seed: int, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Whichever worker is done first."""
    outcome_of(odd, 1)
    expected = rows(odd)
    room = tmp_path / "room"
    room.mkdir()
    monkeypatch.setattr(executors.Executors, "chosen", lambda *_: Shuffled(room, seed))
    outcome_of(odd, 2)
    for relation, content in rows(odd).items():
        assert content.equals(expected[relation]), relation
    assert not list(room.iterdir())


def test_progress_tells_of_files_in_order_once_they_are_stored(odd: Bench) -> None:
    """What was told is not lost."""
    told: list[Progress] = []
    outcome_of(odd, 2, told)
    items = [one.item for one in told if one.stage == "read"][1:]
    assert items == sorted(items)
    assert len(items) == 6


def test_file_that_ends_its_reader_is_set_aside_and_tried_again(
    odd: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The others are read, the reason is in words, and the next run is not afraid."""
    odd.store.unlink(missing_ok=True)
    with monkeypatch.context() as patch:
        patch.setattr("ridelab.pipeline.reading.Looking", DeadlyLooking)
        assert outcome_of(odd, 2).set_aside == 2
    [message] = [text for path, _, text in odd.told("read") if path == "rides/heron/b.fit"]
    assert message.startswith("the process that read it was killed (killed), twice; the next run ")
    assert "rides/heron/b.fit" not in odd.frame("rides")["path"].to_list()
    assert odd.run().set_aside == 1


def test_vehicle_is_measured_again_where_its_worker_was_killed(
    odd: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once costs time alone; twice it is told of, the others are measured, the next run tries."""
    outcome_of(odd, 1)
    expected = rows(odd)
    monkeypatch.setattr("ridelab.pipeline.measuring.measured", deadly_once)
    assert outcome_of(odd, 2).failed == ()
    for relation, content in rows(odd).items():
        assert content.equals(expected[relation]), relation
    monkeypatch.setattr("ridelab.pipeline.measuring.measured", deadly)
    outcome = outcome_of(odd, 2)
    assert (outcome.measured, outcome.failed) == (("otter",), ("heron",))
    [(path, severity, message)] = odd.told("measure")
    assert (path, severity) == ("heron", "error")
    assert message.startswith("the process that measured it was killed (killed), twice; ")
    monkeypatch.undo()
    assert odd.run().measured == ("heron",)
    assert not list(odd.root.glob("*.parcels"))


def deadly(asked: ToMeasure) -> Measured | Problem:
    """Die of one vehicle."""
    if asked.vehicle.name == "heron":
        os.kill(os.getpid(), signal.SIGKILL)
    return measured(asked)


def deadly_once(asked: ToMeasure) -> Measured | Problem:
    """Die of one vehicle, the first time."""
    assert isinstance(asked.folder, Path)
    seen = asked.folder.parent / "seen"
    if asked.vehicle.name == "heron" and not seen.exists():
        seen.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return measured(asked)


class DeadlyLooking(Looking):
    """Dies of one file."""

    def __call__(self, sight: Sight) -> Iterable[Found]:
        """Kill the process that looks into it."""
        if str(sight.location).endswith("/b.fit"):
            os.kill(os.getpid(), signal.SIGKILL)
        return super().__call__(sight)
