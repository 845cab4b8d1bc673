"""Archives in a campaign: each ride in one is a ride, and an archive is opened when it changes."""

from __future__ import annotations

import gzip
import os
from typing import TYPE_CHECKING

import pytest

from ridelab import telemetry
from ridelab.pipeline import taking
from ridelab.store import Store
from tests.pipeline.test_reading import READ
from tests.telemetry.archives.packing import zip_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.store import ReadFile
    from tests.pipeline.conftest import Bench


@pytest.fixture
def packed(bench: Bench) -> Bench:
    """Two rides of one vehicle in an archive, the third as it was."""
    bench.edit("rides/heron/*.fit", "rides/heron/*")
    for name in "ab":
        (bench.root / f"rides/heron/{name}.fit").unlink()
    bench.put("rides/heron/week.zip", week(bench))
    return bench


def week(bench: Bench, **more: bytes) -> bytes:
    """An archive of the first two rides and whatever else."""
    return zip_of({"a.fit": bench.fits[0], "may/b.fit.gz": gzip.compress(bench.fits[1]), **more})


def rows(bench: Bench, sql: str) -> list[tuple[object, ...]]:
    """What a query of the store gives."""
    return bench.frame(sql).rows()


def test_every_ride_of_an_archive_is_a_ride(packed: Bench) -> None:
    """Stored under a path that goes on inside the archive; the archive has a row of its own."""
    outcome = packed.run(READ)
    assert (outcome.read, outcome.set_aside, outcome.exit_code) == (3, 0, 0)
    assert rows(packed, "select path, vehicle from rides order by path") == [
        ("rides/heron/week.zip/a.fit", "heron"),
        ("rides/heron/week.zip/may/b.fit.gz/b.fit", "heron"),
        ("rides/otter/c.fit", "otter"),
    ]
    assert rows(packed, "select path, status, archive from files order by path") == [
        ("rides/heron/week.zip", "archive", None),
        ("rides/heron/week.zip/a.fit", "ride", "rides/heron/week.zip"),
        ("rides/heron/week.zip/may/b.fit.gz/b.fit", "ride", "rides/heron/week.zip"),
        ("rides/otter/c.fit", "ride", None),
    ]


def test_unchanged_archive_is_not_opened(
    packed: Bench, reads: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Size and time as before; not even where only the time differs, for its hash does not."""
    packed.run(READ)
    reads.clear()
    monkeypatch.setattr(telemetry, "contents_of", _must_not_be_called)
    for _ in range(2):
        outcome = packed.run(READ)
        assert (outcome.read, outcome.unchanged) == (0, 3)
        os.utime(packed.root / "rides/heron/week.zip", (1_900_000_000, 1_900_000_000))
    assert reads == []
    assert packed.frame("files").height == 4


def test_new_member_is_the_only_one_read(packed: Bench, reads: list[str]) -> None:
    """An archive that grew costs what is new in it."""
    (packed.root / "rides/otter/c.fit").unlink()
    packed.run(READ)
    reads.clear()
    packed.put("rides/heron/week.zip", week(packed, **{"c.fit": packed.fits[2]}))
    outcome = packed.run(READ)
    assert (outcome.read, outcome.unchanged) == (1, 2)
    assert reads == ["c.fit"]


def test_ride_packed_and_unpacked_is_one_ride(packed: Bench) -> None:
    """Its content is what a ride is known by."""
    packed.put("rides/heron/copy.fit", 1)
    outcome = packed.run(READ)
    assert (outcome.read, outcome.duplicates) == (3, 1)
    [(path, severity, message)] = packed.told("files")
    assert (path, severity) == ("rides/heron/week.zip/may/b.fit.gz/b.fit", "note")
    assert message == "same content as rides/heron/copy.fit: counted once"


def test_useless_member_is_set_aside_and_the_others_are_read(
    packed: Bench, reads: list[str]
) -> None:
    """Once, with its reason; what is no ride file at all is told with the archive."""
    more = {"broken.fit": packed.fits[0][:40], "notes.txt": b"words", "photo.jpg": b"\xff\xd8"}
    packed.put("rides/heron/week.zip", week(packed, **more))
    for _ in range(2):
        outcome = packed.run(READ)
        assert (outcome.set_aside, outcome.exit_code) == (1, 3)
    assert reads.count("broken.fit") == 1
    told = {path: (severity, message) for path, severity, message in packed.told("read")}
    severity, message = told["rides/heron/week.zip/broken.fit"]
    assert severity == "error"
    assert "the file breaks off" in message
    assert told["rides/heron/week.zip"] == (
        "warning",
        "of no format that ridelab reads, and left out: notes.txt, photo.jpg",
    )


def test_archive_without_a_ride_is_set_aside(packed: Bench, reads: list[str]) -> None:
    """Opened once; the reason names what it holds."""
    packed.put("rides/heron/empty.zip", zip_of({}))
    packed.put("rides/heron/words.zip", zip_of({f"{n}.txt": b"words" for n in range(7)}))
    for _ in range(2):
        assert packed.run(READ).set_aside == 2
    assert reads.count("0.txt") == 1
    told = {path: message for path, severity, message in packed.told("read") if severity == "error"}
    assert told["rides/heron/empty.zip"] == "an archive without a file in it"
    assert told["rides/heron/words.zip"].endswith("0.txt, 1.txt, 2.txt, 3.txt, 4.txt and 2 more")


def test_ride_that_is_taken_out_of_an_archive_stays(packed: Bench) -> None:
    """Nothing stored is lost; the row of its file goes, and that is told."""
    packed.run(READ)
    packed.put("rides/heron/week.zip", zip_of({"a.fit": packed.fits[0]}))
    packed.run(READ)
    assert rows(packed, "select count(*) from rides where vehicle = 'heron'") == [(2,)]
    [(path, severity, message)] = packed.told("files")
    assert (path, severity) == ("rides/heron/week.zip/may/b.fit.gz/b.fit", "note")
    assert message.startswith("it is not in the archive rides/heron/week.zip any more: ")


def test_rides_of_an_archive_that_nobody_claims_are_not_measured(packed: Bench) -> None:
    """As with any file: kept, but out of the figures."""
    packed.run(READ)
    packed.edit("rides/heron/*", "rides/heron/*.fit")
    packed.run(READ)
    assert rows(packed, "select count(*) from rides where vehicle is null") == [(2,)]
    assert {severity for _, severity, _ in packed.told("files")} == {"warning"}


def test_rides_of_an_archive_that_is_gone_still_count(packed: Bench) -> None:
    """As with any file."""
    packed.run(READ)
    (packed.root / "rides/heron/week.zip").unlink()
    packed.run(READ)
    assert rows(packed, "select count(*) from rides where vehicle = 'heron'") == [(2,)]
    assert {message for _, _, message in packed.told("files")} == {
        "the file is gone; the ride read from it stays stored"
    }


def test_interrupted_archive_is_taken_up_again(
    packed: Bench, reads: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was stored stays; the rest of the members follow."""
    put_files = Store.put_files

    def interrupted(store: Store, files: Sequence[ReadFile]) -> None:
        if any(one.file.path.endswith("b.fit") for one in files):
            raise KeyboardInterrupt
        put_files(store, files)

    with monkeypatch.context() as patch:
        patch.setattr(taking, "_AT_ONCE", 1)
        patch.setattr(Store, "put_files", interrupted)
        with pytest.raises(KeyboardInterrupt):
            packed.run(READ)
    assert packed.frame("rides").height == 1
    reads.clear()
    packed.run(READ)
    assert reads == ["b.fit", "c.fit"]


def _must_not_be_called(path: object) -> None:
    raise AssertionError(path)
