"""Rides in an object store: found, read once, told apart, and never taken for gone."""

from __future__ import annotations

from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from ridelab import objects
from ridelab.campaign import load
from ridelab.errors import CampaignError, ClusterError, RemoteError
from ridelab.pipeline import run
from ridelab.pipeline.cluster import Cluster
from ridelab.pipeline.visible import RideObject
from tests.object_store import SECRET
from tests.pipeline.conftest import QUICK
from tests.pipeline.test_forgetting import meant
from tests.telemetry.archives.packing import zip_of

if TYPE_CHECKING:
    from tests.object_store import Bucket
    from tests.pipeline.conftest import Bench
    from tests.pipeline.farm import Farm


@pytest.fixture
def remote(bench: Bench, store: Bucket) -> Bench:
    """The bench with all its rides in the bucket, those of one vehicle packed."""
    folder = bench.root.name
    bench.edit('"rides/heron/*.fit"', f'"{store.url(folder)}/heron/*.fit"')
    bench.edit('"rides/otter/*.fit"', f'"{store.url(folder)}/otter/*"')
    for name in ("a", "b"):
        path = bench.root / f"rides/heron/{name}.fit"
        store.put(f"{folder}/heron/{name}.fit", path.read_bytes())
        path.unlink()
    store.put(f"{folder}/otter/week.zip", zip_of({"c.fit": bench.fits[2], "note.txt": b"note"}))
    store.put(f"{folder}/otter/useless.fit", b"no ride")
    store.put(f"{folder}/otter/.hidden.fit", b"no ride")
    (bench.root / "rides/otter/c.fit").unlink()
    return bench


def paths(bench: Bench) -> list[str]:
    """Return where the rides are."""
    return sorted(bench.frame("rides")["path"])


def test_rides_are_read_from_objects_once(remote: Bench, store: Bucket, reads: list[str]) -> None:
    """The archive's member, too; paths are the URLs; the second run asks for the list alone."""
    url = store.url(remote.root.name)
    first = remote.run()
    assert (first.read, first.set_aside, first.measured) == (3, 1, ("heron", "otter"))
    assert paths(remote) == [
        f"{url}/heron/a.fit", f"{url}/heron/b.fit", f"{url}/otter/week.zip/c.fit",
    ]  # fmt: skip
    [(path, severity, message)] = [one for one in remote.told("read") if one[1] == "error"]
    assert (path, severity) == (f"{url}/otter/useless.fit", "error")
    assert message.startswith("not a ride file: begins with b'no r'; accepted: ")
    assert {status for (status,) in remote.frame("select status from files").rows()} == {
        "ride", "set aside", "archive",
    }  # fmt: skip
    reads.clear()
    second = remote.run()
    assert (second.read, second.unchanged, second.set_aside, reads) == (0, 3, 1, [])
    assert remote.told("files") == []


def test_content_of_objects_is_that_of_files(bench: Bench, store: Bucket) -> None:
    """To the last row, but for where it was read."""
    bench.run()
    files = bench.frame("select * from samples order by all")
    bench.store.unlink()
    folder = bench.root.name
    for vehicle in ("heron", "otter"):
        bench.edit(f'"rides/{vehicle}/*.fit"', f'"{store.url(folder)}/{vehicle}/*.fit"')
        for path in (bench.root / "rides" / vehicle).glob("*.fit"):
            store.put(f"{folder}/{vehicle}/{path.name}", path.read_bytes())
            path.unlink()
    bench.run()
    assert bench.frame("select * from samples order by all").equals(files)


def test_changed_object_is_read_again_and_a_gone_one_still_counts(
    remote: Bench, store: Bucket
) -> None:
    """As with files: nothing is lost."""
    remote.run()
    folder = remote.root.name
    store.put(f"{folder}/heron/a.fit", remote.fits[2])
    objects.remove(store.url(f"{folder}/heron/b.fit"))
    outcome = remote.run()
    assert (outcome.read, outcome.duplicates) == (0, 1)  # what the archive holds, too
    told = {(path.rpartition("/")[2], message) for path, _, message in remote.told("files")}
    assert ("b.fit", "the file is gone; the ride read from it stays stored") in told
    changed = "its content changed; the ride read from it before stays stored and still counts"
    assert ("a.fit", changed) in told
    assert len(remote.frame("recorded_rides")) == 3


def test_rides_of_gone_objects_are_forgotten_only_if_the_store_says_that_they_went(
    remote: Bench, store: Bucket, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that does not answer tells nothing of them."""
    remote.run()
    url = store.url(f"{remote.root.name}/heron")
    objects.remove(f"{url}/b.fit")
    assert meant(remote, gone=True) == [f"{url}/b.fit"]
    assert meant(remote, f"{url}/*.fit") == [f"{url}/a.fit", f"{url}/b.fit"]
    assert len(meant(remote, store.url(remote.root.name))) == 3

    def failing(*_: object, **__: object) -> None:
        raise TimeoutError(SECRET)

    monkeypatch.setattr(objects._files(), "glob", failing)
    with pytest.raises(RemoteError, match="does not answer"):
        meant(remote, gone=True)


def test_objects_no_longer_named_are_not_told_as_gone(remote: Bench, store: Bucket) -> None:
    """Their rides are kept, but not measured."""
    remote.run()
    remote.edit("/otter/*", "/otter/useless.*")
    remote.run()
    [(path, _, message)] = remote.told("files")
    assert path == store.url(f"{remote.root.name}/otter/week.zip/c.fit")
    assert (
        message == "no vehicle of the campaign claims it now; its ride stays stored, not measured"
    )


def test_store_that_does_not_answer_ends_the_run_and_changes_nothing(
    remote: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What cannot be listed is not gone."""
    remote.run()
    before = remote.content()

    def failing(*_: object, **__: object) -> None:
        raise TimeoutError(SECRET)

    monkeypatch.setattr(objects._files(), "glob", failing)
    with pytest.raises(RemoteError, match=r"s3://.*: the object store does not answer"):
        remote.run()
    monkeypatch.undo()
    for relation, rows in remote.content().items():
        assert rows.equals(before[relation]), relation
    assert remote.run().unchanged == 3


def test_object_that_goes_while_it_is_read_is_read_once_it_is_back(
    remote: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Set aside with the reason until then."""
    whole = objects.read

    def gone(url: str, most: int) -> bytes | None:
        if url.endswith("b.fit"):
            raise FileNotFoundError(2, "no such object or bucket")
        return whole(url, most)

    with monkeypatch.context() as patched:
        patched.setattr(objects, "read", gone)
        assert (remote.run()).set_aside == 2
    told = {path.rpartition("/")[2]: message for path, _, message in remote.told("read")}
    assert told["b.fit"] == "cannot be read: no such object or bucket"
    assert remote.run().read == 1


@pytest.mark.parametrize("url", ["http://127.0.0.1/*.fit", "zip::s3://b/a.zip", "s3://me:pw@b/*"])
def test_campaign_that_names_another_url_is_refused(bench: Bench, url: str) -> None:
    """With file and key; nothing is asked of anybody."""
    bench.edit("rides/heron/*.fit", url)
    with pytest.raises(CampaignError, match=r"campaign.toml: vehicles.heron.rides: found ") as told:
        bench.run()
    assert "pw" not in str(told.value)


def test_workers_of_a_cluster_read_objects(remote: Bench, far_farm: Farm) -> None:
    """To the same store."""
    remote.run()
    expected = remote.content()
    remote.store.unlink()
    campaign, report = load(remote.root / "campaign.toml"), remote.root / "report"
    pipeline = remote.pipeline(QUICK)
    outcome = run(pipeline, campaign, remote.store, report, scheduler=far_farm.address)
    assert (outcome.read, outcome.set_aside) == (3, 1)
    for relation, rows in remote.content().items():
        assert rows.equals(expected[relation]), relation


def test_worker_that_cannot_read_an_object_is_told(
    bench: Bench, far_farm: Farm, store: Bucket
) -> None:
    """Before any is sent to it, and set aside for no fault of its own."""
    url = store.put("seen/a.fit", b"ride")
    for seen, words in (
        (RideObject(url, 5), f"sees another object at {url}"),
        (RideObject(f"{url}.gone", 4), f"cannot read {url}.gone: no such object or bucket"),
    ):
        with closing(Cluster.at(far_farm.address, bench.store)) as cluster:
            cluster.must_see(RideObject(url, 4))
            with pytest.raises(ClusterError, match=f"worker tcp://127.0.0.1:.* {words}"):
                cluster.must_see(seen)
