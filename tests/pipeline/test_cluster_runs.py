"""Runs on a Dask cluster: the store of one process, to the last row, whoever is killed."""

from __future__ import annotations

import os
import signal
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import load
from ridelab.errors import ClusterError
from ridelab.pipeline import run
from ridelab.pipeline.executors import Executors
from ridelab.pipeline.taking import Looking
from ridelab.pipeline.visible import MarkedFolder, RideFile
from tests.pipeline.conftest import QUICK

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridelab.pipeline import Outcome
    from ridelab.pipeline.sighting import Sight
    from ridelab.pipeline.taking import Found
    from tests.pipeline.conftest import Bench
    from tests.pipeline.farm import Farm

pytest.importorskip("distributed", reason="the extra `cluster` is not installed")


class DeadlyLooking(Looking):
    """Dies of one file, the first time."""

    def __call__(self, sight: Sight) -> Iterable[Found]:
        """Kill the worker that looks into it, once it is read and its parcel lies there."""
        looked = super().__call__(sight)
        seen = Path(str(sight.location)).with_suffix(".seen")
        if seen.name == "b.seen" and not seen.exists():
            seen.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return looked


def outcome_of(bench: Bench, scheduler: str | None) -> Outcome:
    """Run over a store that is not there yet."""
    bench.store.unlink(missing_ok=True)
    campaign, report = load(bench.root / "campaign.toml"), bench.root / "report"
    return run(bench.pipeline(QUICK), campaign, bench.store, report, scheduler=scheduler)


def test_store_is_that_of_one_process(
    bench: Bench, farm: Farm, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To the last bit and in the same order of rows, with a worker killed on the way or without."""
    bench.put("rides/otter/useless.fit", b"no ride")
    expected = outcome_of(bench, None)
    content = bench.content()
    for looking in (Looking, DeadlyLooking):
        monkeypatch.setattr("ridelab.pipeline.reading.Looking", looking)
        found = outcome_of(bench, farm.address)
        assert (found.read, found.set_aside, found.measured) == (3, 1, expected.measured)
        for relation, rows in bench.content().items():
            assert rows.equals(content[relation]), relation
    assert (bench.root / "rides/heron/b.seen").exists()
    assert bench.frame("runs")["workers"].to_list() == [2]
    assert not list(bench.root.glob("*.parcels"))


def test_cluster_that_is_not_there_leaves_no_store(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is begun that could not go on."""
    monkeypatch.setattr("ridelab.pipeline.connecting._PATIENCE_S", 1.0)
    with pytest.raises(ClusterError, match="no scheduler answers"):
        outcome_of(bench, "tcp://127.0.0.1:1")
    assert not bench.store.exists()


class Blind(RideFile):
    """Is seen by the process that made it alone."""

    def fault(self) -> str:
        """Look for it where it is not."""
        return RideFile(self.path.with_name("elsewhere.fit"), self.size_bytes).fault()


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (
            lambda bench: Blind(bench.root / "rides/heron/a.fit", 1),
            "does not see the ride file /.*: No such file or directory; accepted: one place that ",
        ),
        (
            lambda bench: RideFile(bench.root / "rides/heron/a.fit", 1),
            "sees another file under the name /.*/rides/heron/a.fit; accepted: one place that ",
        ),
        (
            lambda bench: MarkedFolder(bench.root / "away" / "a.parcel", "mine"),
            "does not see /.*/away, beside the store: No such file or directory; accepted: ",
        ),
        (
            lambda bench: MarkedFolder(bench.root / "campaign.toml", "mine"),
            "sees another folder under the name /.*; accepted: ",
        ),
    ],
)
def test_worker_that_does_not_see_the_same_is_told(
    bench: Bench, farm: Farm, made: object, words: str
) -> None:
    """Which worker, what it does not see, and what would do."""
    from ridelab.pipeline.cluster import Cluster

    cluster = Cluster.at(farm.address, bench.store)
    with pytest.raises(ClusterError, match=f"worker tcp://127.0.0.1:.* {words}"):
        cluster.must_see(made(bench))  # type: ignore[operator]
    cluster.close()


def test_first_file_of_each_folder_is_looked_at(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before any task is sent."""
    asked: list[Path] = []

    class Asked:
        """A cluster that only notes what must be seen."""

        def must_see(self, *files: RideFile) -> None:
            asked.extend(file.path.relative_to(bench.root) for file in files)
            raise ClusterError("enough")

        slots = 1

        def close(self) -> None:
            """Nothing to do."""

    executors = Executors(1, bench.store, Asked())  # type: ignore[arg-type]
    monkeypatch.setattr("ridelab.pipeline.running.Executors", lambda *_: executors)
    with pytest.raises(ClusterError, match="enough"):
        outcome_of(bench, None)
    assert list(map(str, asked)) == ["rides/heron/a.fit", "rides/otter/c.fit"]
