"""A few runs that are killed, and that the benchmark would see what it looks for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb
import pytest

from ridelab.campaign import load
from ridelab.pipeline import load as load_pipeline
from ridelab.pipeline import run
from ridelab.store import Store
from tests.benchmarks.durability import figures
from tests.benchmarks.durability_campaign import BEFORE, NOW, write_campaign, write_rides
from tests.benchmarks.durability_content import content, differing, faults
from tests.benchmarks.durability_kills import trials

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ridelab.store import ReadFile


def test_killed_runs_lose_nothing_and_finish_alike(tmp_path: Path) -> None:
    """Five kills, one of each way to run; ``tests.benchmarks.durability`` has two hundred."""
    tallies = [tally for _, tally in trials(tmp_path, kills=5, seed=1, seconds=120)]
    assert [tally.wrong for tally in tallies] == [[]] * 5
    assert [row["met"] for row in figures(tallies, 5)] == [True] * 7


@pytest.fixture
def finished(tmp_path: Path) -> Path:
    """The store of a finished run."""
    write_rides(tmp_path / "rides-made", seconds=120)
    return finished_by(tmp_path, NOW)


def finished_by(folder: Path, settings: dict[str, str]) -> Path:
    """Run the campaign with these settings to its end; return its store."""
    file = write_campaign(folder / "campaign", folder / "rides-made", settings)
    quick = load_pipeline(file.parent / "quick.toml")
    store = file.parent / "ridelab.duckdb"
    run(quick, load(file), store, file.parent / "report")
    return store


@pytest.mark.parametrize(
    ("damage", "told"),
    [
        ("delete from recorded_samples where n = 7 and ride in (from first)", "as it was read"),
        ("update recorded_samples set speed_mps = 0 where n = 7", "as it was read"),
        ("delete from recorded_rides where ride in (from first)", "as it was read"),
        ("delete from engaged_samples where n = 7", "vehicles"),
        ("delete from measured_gears", "vehicles"),
        ("delete from ridden_gears", "derived"),
    ],
)
def test_what_is_half_stored_is_seen(finished: Path, damage: str, told: str) -> None:
    """A store from which a row was taken is not as it was made."""
    whole = content(finished)
    assert faults(content(finished), [whole]) == []
    with duckdb.connect(str(finished)) as connection:
        connection.execute(
            "create temp table first as select min(ride) as ride from recorded_samples"
        )
        connection.execute(damage)
    found = content(finished)
    assert any(told in fault for fault in faults(found, [whole]))
    assert differing(found, whole)


def test_ride_that_is_stored_and_not_measured_yet_is_not_half_stored(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was measured before of its vehicle stands until then, by the rides that it is of."""
    write_rides(tmp_path / "rides-made", seconds=120)
    store = finished_by(tmp_path, NOW)
    now = content(store)
    store.unlink()
    before = content(finished_by(tmp_path, BEFORE))
    whole = Store.put_files

    def killed(self: Store, files: Sequence[ReadFile]) -> None:
        whole(self, files)
        raise SystemExit

    with monkeypatch.context() as patched:
        patched.setattr(Store, "put_files", killed)
        patched.setattr("ridelab.pipeline.taking._AT_ONCE", 0)
        with pytest.raises(SystemExit):
            finished_by(tmp_path, NOW)
    found = content(store)
    assert len(found.rides) == len(before.rides) + 1
    assert faults(found, [now, before]) == []
