"""A lake: the store filled from it is that of one process, and it has all that the store has."""

from __future__ import annotations

import os
import signal
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
import polars as pl
import pytest

from ridelab.campaign import load
from ridelab.errors import ClusterError, NotAccepted, RemoteError, UsageError
from ridelab.pipeline import run
from ridelab.pipeline.cluster import Cluster
from ridelab.pipeline.lake import Lake
from ridelab.pipeline.lake_parcels import in_lake
from ridelab.pipeline.lake_tables import WHOLE
from ridelab.pipeline.taking import Looking
from ridelab.pipeline.visible import MarkedLake
from tests.object_store import KEY, SECRET
from tests.pipeline.conftest import QUICK

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridelab.pipeline import Outcome
    from ridelab.pipeline.sighting import Sight
    from ridelab.pipeline.taking import Found
    from tests.object_store import Bucket
    from tests.pipeline.conftest import Bench
    from tests.pipeline.farm import Farm

pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
README = Path(__file__).parents[2] / "README.md"


class DeadlyLooking(Looking):
    """Dies of one file, the first time, with its rows in the lake and nobody told of them."""

    def __call__(self, sight: Sight) -> Iterable[Found]:
        """Kill the worker that looks into it."""
        looked = super().__call__(sight)
        seen = Path(str(sight.location)).with_suffix(".seen")
        if seen.name == "b.seen" and not seen.exists():
            seen.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return looked


def outcome_of(bench: Bench, farm: Farm | None = None, lake: str | None = None) -> Outcome:
    """Run over a store that is not there yet."""
    bench.store.unlink(missing_ok=True)
    return again(bench, farm, lake)


def again(bench: Bench, farm: Farm | None = None, lake: str | None = None) -> Outcome:
    """Run over the store that is there."""
    campaign, report = load(bench.root / "campaign.toml"), bench.root / "report"
    scheduler = None if farm is None else farm.address
    return run(bench.pipeline(QUICK), campaign, bench.store, report, scheduler=scheduler, lake=lake)


def scanned(lake: str, relation: str) -> pl.DataFrame:
    """Read a relation of a lake in a folder, as polars does by itself."""
    files = f"{lake}/relation={relation}/**/*.parquet"
    return pl.scan_parquet(files, hive_partitioning=False, glob=True).collect()


@pytest.fixture(params=["folder", "object store"])
def lake(request: pytest.FixtureRequest, bench: Bench, store: Bucket) -> str:
    """A lake of each kind."""
    return str(bench.root / "lake") if request.param == "folder" else store.url(bench.root.name)


def test_store_filled_from_a_lake_is_that_of_one_process(
    bench: Bench, far_farm: Farm, lake: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To the last row, with rides from files or from objects, and a worker killed on the way."""
    bench.put("rides/otter/useless.fit", b"no ride")
    expected = outcome_of(bench)
    content = bench.content()
    monkeypatch.setattr("ridelab.pipeline.reading.Looking", DeadlyLooking)
    found = outcome_of(bench, far_farm, lake)
    assert (bench.root / "rides/heron/b.seen").exists()
    assert (found.read, found.set_aside, found.measured) == (3, 1, expected.measured)
    for relation, rows in bench.content().items():
        assert rows.equals(content[relation]), relation
    assert not list(bench.root.glob("*.parcels"))


def test_lake_has_what_the_store_has(bench: Bench, far_farm: Farm) -> None:
    """Relation by relation, read by polars; nothing half done or left over lies in it."""
    lake = str(bench.root / "lake")
    outcome_of(bench, far_farm, lake)
    for relation in ("recorded_rides", "recorded_samples", "moments", "engaged_samples", *WHOLE):
        stored, kept = bench.frame(relation), scanned(lake, relation)
        if relation == "runs":
            stored = stored.select("run")  # the run had not ended yet
        order = [name for name in ("ride", "n") if name in stored.columns] or stored.columns
        kept = kept.select(stored.columns).cast(stored.schema)
        assert kept.sort(order).equals(stored.sort(order)), relation
    names = [path.name for path in Path(lake).rglob("*") if path.is_file()]
    assert all(name.endswith(".parquet") for name in names)
    shard = {path.parent.name for path in Path(lake).glob("relation=moments/*/*.parquet")}
    assert shard == {f"shard={ride[:2]}" for ride in bench.frame("rides")["ride"]}


def test_rides_of_runs_without_it_are_brought_to_it(bench: Bench, far_farm: Farm) -> None:
    """Whatever was read or measured elsewhere; nothing is written twice in between."""
    lake = str(bench.root / "lake")
    outcome_of(bench)
    assert again(bench, far_farm, lake).read == 0
    assert len(scanned(lake, "recorded_rides")) == 3
    [one, *_] = sorted(Path(lake).glob("relation=engaged_samples/*/*.parquet"))
    written = one.stat().st_mtime_ns
    again(bench, far_farm, lake)
    assert one.stat().st_mtime_ns == written
    bench.edit("rollout_m = 2.1", "rollout_m = 2.0")
    again(bench)
    again(bench, far_farm, lake)
    order = ["ride", "n"]
    stored = bench.frame("engaged_samples").sort(order)
    kept = scanned(lake, "engaged_samples").select(stored.columns).cast(stored.schema)
    assert kept.sort(order).equals(stored)


def test_readme_asks_a_lake_as_it_says(
    bench: Bench, far_farm: Farm, store: Bucket, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By DuckDB and by polars, in a folder and in an object store; it comes to what is stored."""
    import s3fs

    section = README.read_text("utf-8").partition("## On several machines")[2].partition("\n## ")[0]
    examples = [part.partition("```")[0] for part in section.split("```python\n")[1:]]
    outcome_of(bench, far_farm, str(bench.root / "lake"))
    outcome_of(bench, far_farm, store.url("asked"))
    monkeypatch.chdir(bench.root)
    monkeypatch.setenv("AWS_ALLOW_HTTP", "true")
    by_duckdb, by_polars = examples
    expected = bench.frame(
        "select vehicle, gear, sum(seconds) / 3600 as hours from engaged_samples "
        "join moments using (ride, n) join rides using (ride) where coupled "
        "group by all order by all"
    )
    assert len(expected)
    duckdb.register_filesystem(s3fs.S3FileSystem(skip_instance_cache=True))
    far = store.url("asked")
    in_store = by_duckdb.replace("'lake/", f"'{far}/"), by_polars.replace('"lake"', f'"{far}"')
    for example in (by_duckdb, by_polars, *in_store):
        known: dict[str, Any] = {}
        exec(example, known)  # noqa: S102 - our own page
        found = pl.DataFrame(known["hours"])
        assert found.rows() == [
            (vehicle, gear, pytest.approx(hours)) for vehicle, gear, hours in expected.rows()
        ]


def test_rows_that_somebody_changed_are_not_taken(bench: Bench, tmp_path: Path) -> None:
    """What a worker has written is known by its digest."""
    from ridelab import telemetry
    from ridelab.store import ReadFile, StoredFile

    lake = Lake.at(str(tmp_path / "lake"))
    ride = telemetry.read_ride(bench.root / "rides/heron/a.fit")
    file = StoredFile("a.fit", 1, 1, ride.sha256, "ride", "heron")
    parcel = in_lake(lake, ReadFile(file, ride))
    found = parcel.seen().ride
    assert found is not None
    assert found.samples.equals(ride.samples)
    assert found.pauses.equals(ride.pauses)
    [samples] = Path(lake.root).glob("relation=recorded_samples/*/*.parquet")
    samples.write_bytes(samples.read_bytes()[:-1] + b"x")
    with pytest.raises(RemoteError, match="not what a worker of this run has written"):
        parcel.seen()
    samples.unlink()
    with pytest.raises(
        RemoteError, match=r"relation=recorded_samples/.*: No such file or directory"
    ):
        parcel.seen()


def test_object_that_is_half_written_is_not_there(tmp_path: Path) -> None:
    """A full disk leaves nothing in a lake."""
    lake = Lake.at(str(tmp_path / "lake"))
    with pytest.MonkeyPatch.context() as patched:

        def full(path: Path, content: bytes) -> None:
            with path.open("wb") as file:
                file.write(content[:2])
            raise OSError(28, "No space left on device")

        patched.setattr(Path, "write_bytes", full)
        with pytest.raises(RemoteError, match=r"lake/a.parquet: No space left on device"):
            lake.put({"a.parquet": b"whole"})
    assert not list(Path(lake.root).iterdir())


@pytest.mark.parametrize("place", ["http://host/lake", "s3://me:pw@bucket/x", "zip::s3://b/x"])
def test_lake_at_another_url_is_refused(place: str) -> None:
    """As in a campaign."""
    with pytest.raises(NotAccepted, match="--lake: found ") as told:
        Lake.at(place)
    assert "pw" not in str(told.value)


def test_lake_in_a_file_is_refused(tmp_path: Path) -> None:
    """With what would do."""
    (tmp_path / "lake").touch()
    with pytest.raises(NotAccepted, match=r"--lake: found the file .*; accepted: a folder, made"):
        Lake.at(str(tmp_path / "lake"))


def test_lake_without_a_cluster_is_refused(bench: Bench) -> None:
    """Nobody would fill it."""
    with pytest.raises(UsageError, match="--lake goes with --scheduler"):
        outcome_of(bench, None, str(bench.root / "lake"))
    assert not bench.store.exists()


def test_lake_that_cannot_be_used_is_told(bench: Bench, far_farm: Farm, store: Bucket) -> None:
    """Before anything is read: by the run itself, or by which worker."""
    with pytest.raises(RemoteError, match=r"s3://no-such-bucket/lake: no such object or bucket"):
        outcome_of(bench, far_farm, "s3://no-such-bucket/lake")
    cluster = Cluster.at(far_farm.address, bench.store)
    words = r"worker tcp://.* cannot use the lake: s3://no-such-bucket/lake: no such object "
    with pytest.raises(ClusterError, match=words):
        cluster.must_see(MarkedLake(Lake("s3://no-such-bucket/lake"), "mark", "mine"))
    cluster.close()
    cluster = Cluster.at(far_farm.address, bench.store)
    lake = Lake(store.url("other"))
    mark = MarkedLake.of(lake)
    with pytest.raises(ClusterError, match=r"worker tcp://.* sees another lake at s3://"):
        cluster.must_see(replace(mark, words="mine"))
    cluster.close()
    mark.remove()
    assert not bench.store.exists()
    assert not store.keys("other/")


def test_nothing_of_the_credentials_is_kept(bench: Bench, far_farm: Farm, store: Bucket) -> None:
    """Neither in the store nor in the lake, whose URL is no secret."""
    outcome_of(bench, far_farm, store.url("open"))
    assert store.keys("open/")
    kept = bench.store.read_bytes()
    assert KEY.encode() not in kept
    assert SECRET.encode() not in kept
