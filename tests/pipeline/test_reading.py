"""Each file that the campaign names is read once; what becomes of files and rides is told."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import polars as pl
import pytest

from ridelab import telemetry
from ridelab.pipeline import readers, taking
from ridelab.store import Store
from tests.pipeline.conftest import QUICK

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ridelab.store import ReadFile
    from tests.pipeline.conftest import Bench

READ = '[[stages]]\nrun = "read"\n'


def test_all_rides_are_stored_under_their_vehicle(bench: Bench) -> None:
    """Paths are relative to the campaign's folder, whatever the machine."""
    outcome = bench.run(READ)
    assert (outcome.read, outcome.unchanged, outcome.set_aside) == (3, 0, 0)
    assert outcome.exit_code == 0
    rides = bench.frame("rides").select("path", "vehicle").sort("path")
    assert rides.rows() == [
        ("rides/heron/a.fit", "heron"),
        ("rides/heron/b.fit", "heron"),
        ("rides/otter/c.fit", "otter"),
    ]


def test_file_outside_the_campaigns_folder_keeps_its_whole_path(
    bench: Bench, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """An absolute glob is fine."""
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    (elsewhere / "d.fit").write_bytes(bench.fits[0])
    bench.edit('"rides/heron/*.fit"', f'"{elsewhere}/*.fit"')
    bench.run(READ)
    assert f"{elsewhere}/d.fit" in bench.frame("rides")["path"].to_list()


def test_second_run_reads_and_opens_no_file(
    bench: Bench, reads: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Size and time as before: the content is not even hashed."""
    bench.run(READ)
    reads.clear()
    monkeypatch.setattr(telemetry, "sha256_of", _must_not_be_called)
    outcome = bench.run(READ)
    assert reads == []
    assert (outcome.read, outcome.unchanged) == (0, 3)


def test_touched_and_moved_files_are_not_read_again(bench: Bench, reads: list[str]) -> None:
    """The content is known, whatever the file's time, name or folder."""
    bench.run(READ)
    reads.clear()
    os.utime(bench.root / "rides/heron/a.fit", (1_900_000_000, 1_900_000_000))
    (bench.root / "rides/heron/b.fit").rename(bench.root / "rides/otter/renamed.fit")
    bench.run(READ)
    assert reads == []
    rides = bench.frame("rides").select("path", "vehicle").sort("path")
    assert rides.rows() == [
        ("rides/heron/a.fit", "heron"),
        ("rides/otter/c.fit", "otter"),
        ("rides/otter/renamed.fit", "otter"),
    ]
    assert bench.told("files") == []


def test_new_file_is_the_only_one_read(bench: Bench, reads: list[str]) -> None:
    """Adding today's ride costs that ride."""
    (bench.root / "rides/otter/c.fit").unlink()
    bench.run(READ)
    reads.clear()
    bench.put("rides/otter/new.fit", 2)
    assert bench.run(READ).read == 1
    assert reads == ["new.fit"]


def test_same_file_twice_is_one_ride(bench: Bench, reads: list[str]) -> None:
    """The second copy is not read, counts for nothing, and is told of; the run is a success."""
    bench.put("rides/heron/z.fit", 0)
    for _ in range(2):
        outcome = bench.run(READ)
        assert (outcome.duplicates, outcome.exit_code) == (1, 0)
    assert sorted(reads) == ["a.fit", "b.fit", "c.fit"]
    assert len(bench.frame("rides")) == 3
    assert bench.told("files") == [
        ("rides/heron/z.fit", "note", "same content as rides/heron/a.fit: counted once")
    ]


def test_same_file_of_two_vehicles_is_one_ride_and_a_warning(bench: Bench) -> None:
    """It counts for the vehicle of the first path, and the warning names both."""
    bench.put("rides/otter/copy.fit", 0)
    bench.run(READ)
    [(path, severity, message)] = bench.told("files")
    assert (path, severity) == ("rides/otter/copy.fit", "warning")
    assert "'heron'" in message
    assert "'otter'" in message
    assert bench.frame("from rides where path like '%a.fit'")["vehicle"].item() == "heron"


def test_copy_stands_in_for_a_file_that_is_gone(bench: Bench, reads: list[str]) -> None:
    """The ride's path is where its content is now; nothing is read again."""
    bench.put("rides/heron/z.fit", 0)
    bench.run(READ)
    reads.clear()
    (bench.root / "rides/heron/a.fit").unlink()
    bench.run(READ)
    assert reads == []
    assert "rides/heron/z.fit" in bench.frame("rides")["path"].to_list()
    assert bench.told("files") == []


def test_ride_stays_when_its_file_is_gone(bench: Bench) -> None:
    """Deleting a file does not delete the ride; it still counts, and comes back with a new one."""
    bench.run()
    before = bench.frame("measured_gears")
    file = bench.root / "rides/heron/a.fit"
    file.unlink()
    for _ in range(2):
        assert bench.run().exit_code == 0
    assert bench.told("files") == [
        ("rides/heron/a.fit", "note", "the file is gone; the ride read from it stays stored")
    ]
    assert bench.frame("measured_gears").equals(before)
    bench.put("rides/heron/a.fit", 0)
    assert bench.run(READ).read == 0
    assert bench.told("files") == []


def test_ride_that_no_vehicle_claims_any_more_is_kept_but_not_measured(bench: Bench) -> None:
    """Whoever narrows a glob wants the rest out of the figures, not out of the store."""
    bench.run()
    bench.edit("rides/heron/*.fit", "rides/heron/b*.fit")
    bench.run()
    [(path, severity, message)] = bench.told("files")
    assert (path, severity) == ("rides/heron/a.fit", "warning")
    assert "no vehicle of the campaign claims it now" in message
    rides = bench.frame("rides").select("path", "vehicle", "gear_source").sort("path")
    assert rides.rows()[0] == ("rides/heron/a.fit", None, None)
    assert bench.frame("from measured_gears where vehicle = 'heron'")["rides"].max() == 1
    bench.edit("rides/heron/b*.fit", "rides/heron/*.fit")
    bench.run()
    assert bench.frame("from measured_gears where vehicle = 'heron'")["rides"].max() == 2
    assert bench.told("files") == []


def test_renamed_vehicle_takes_its_rides_along(bench: Bench, reads: list[str]) -> None:
    """Nothing is read again, and nothing of the old name is left."""
    bench.run()
    reads.clear()
    bench.edit("[vehicles.heron]", "[vehicles.kite]")
    assert bench.run().measured == ("kite",)
    assert reads == []
    for relation in ("rides", "measured_gears", "vehicles", "verdicts", "files"):
        assert set(bench.frame(relation)["vehicle"]) <= {"kite", "otter"}
    assert bench.told("files") == []


def test_file_claimed_by_two_vehicles_goes_to_neither(bench: Bench) -> None:
    """Told as an error, and the run ends with the exit code of files set aside."""
    bench.edit("rides/otter/*.fit", "rides/**/*.fit")
    outcome = bench.run(READ)
    assert (outcome.read, outcome.set_aside, outcome.exit_code) == (1, 2, 3)
    paths = {path for path, severity, _ in bench.told("campaign") if severity == "error"}
    assert paths == {"rides/heron/a.fit", "rides/heron/b.fit"}


def test_changed_content_that_covers_the_same_time_replaces_the_ride(bench: Bench) -> None:
    """A file copied anew after it broke off must not count twice."""
    whole = bench.fits[0]
    bench.put("rides/heron/a.fit", whole[: len(whole) // 2])
    bench.run(READ)
    bench.put("rides/heron/a.fit", whole)
    bench.run(READ)
    assert len(bench.frame("from rides where vehicle = 'heron'")) == 2
    assert len(bench.frame("from rides where vehicle is null")) == 1
    [(path, severity, message)] = bench.told("files")
    assert (path, severity) == ("rides/heron/a.fit", "warning")
    assert "not measured, as the new content covers the same time" in message


def test_changed_content_of_another_day_is_a_second_ride(bench: Bench) -> None:
    """A unit that uses its file names again loses nobody's ride."""
    bench.run(READ)
    bench.put("rides/otter/c.fit", 0)
    (bench.root / "rides/heron/a.fit").unlink()
    bench.put("rides/heron/b.fit", 2)
    bench.run(READ)
    assert len(bench.frame("from rides where vehicle is not null")) == 3


def test_useless_file_is_set_aside_once_and_not_tried_again(bench: Bench, reads: list[str]) -> None:
    """With its reason, and without the path, which the row has; the others are all read."""
    bench.put("rides/heron/empty.fit", b"")
    bench.put("rides/heron/text.fit", b"not a ride at all, just words")
    bench.put("rides/heron/broken.fit", bench.fits[0][:40])
    outcome = bench.run(READ)
    assert (outcome.read, outcome.set_aside, outcome.exit_code) == (3, 3, 3)
    assert len(reads) == 6
    told = bench.told("read")
    assert [(path, severity) for path, severity, _ in told if severity == "error"] == [
        ("rides/heron/broken.fit", "error"),
        ("rides/heron/empty.fit", "error"),
        ("rides/heron/text.fit", "error"),
    ]
    assert not any(str(bench.root) in message for _, _, message in told)
    reads.clear()
    again = bench.run(READ)
    assert reads == []
    assert (again.set_aside, again.exit_code) == (3, 3)
    assert bench.told("read") == told


def test_file_set_aside_by_other_readers_is_tried_again(
    bench: Bench, reads: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A later version may read what this one cannot."""
    bench.put("rides/heron/empty.fit", b"")
    bench.run(READ)
    reads.clear()
    monkeypatch.setattr(readers, "READER", "later")
    bench.run(READ)
    assert reads == ["empty.fit"]


def test_useless_file_that_is_taken_away_leaves_nothing(bench: Bench) -> None:
    """No row in ``files`` or ``problems``, and exit code 0 again."""
    file = bench.put("rides/heron/empty.fit", b"")
    bench.run(READ)
    file.unlink()
    assert bench.run(READ).exit_code == 0
    assert bench.frame("from problems where severity = 'error'").is_empty()
    assert len(bench.frame("files")) == 3


def test_file_that_cannot_be_opened_is_set_aside_until_it_can(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No permission, a vanished share: told plainly, tried at each run; its ride still counts."""
    bench.run(READ)
    os.utime(bench.root / "rides/heron/a.fit", (1_900_000_000, 1_900_000_000))
    opened = telemetry.sha256_of

    def refused(path: Path) -> str:
        if path.name == "a.fit":
            raise PermissionError(13, "Permission denied")
        return opened(path)

    with monkeypatch.context() as patch:
        patch.setattr(telemetry, "sha256_of", refused)
        assert bench.run(READ).exit_code == 3
    assert bench.told("read") == [
        ("rides/heron/a.fit", "error", "cannot be opened: Permission denied")
    ]
    assert [severity for _, severity, _ in bench.told("files")] == ["note"]
    assert bench.frame("from rides where vehicle = 'heron'").height == 2
    assert bench.run(READ).exit_code == 0
    assert bench.told("read") == bench.told("files") == []
    assert len(bench.frame("rides")) == 3


def test_interrupted_run_keeps_what_it_had_read(
    bench: Bench, reads: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The next run goes on from there and ends with the same store as one that ran through."""
    put_files = Store.put_files

    def interrupted(store: Store, files: Sequence[ReadFile]) -> None:
        if any(one.file.path.endswith("c.fit") for one in files):
            raise KeyboardInterrupt
        put_files(store, files)

    with monkeypatch.context() as patch:
        patch.setattr(taking, "_AT_ONCE", 1)
        patch.setattr(Store, "put_files", interrupted)
        with pytest.raises(KeyboardInterrupt):
            bench.run()
    assert len(bench.frame("rides")) == 2
    reads.clear()
    bench.run()
    assert reads == ["c.fit"]
    resumed = bench.content()
    bench.store.unlink()
    bench.run()
    assert _same(resumed, bench.content())


def test_glob_that_matches_nothing_is_a_warning_until_it_does(bench: Bench) -> None:
    """It stops nothing."""
    bench.edit('"rides/otter/*.fit"', '"rides/otter/*.fit", "rides/later/*.fit"')
    assert bench.run(READ).exit_code == 0
    assert [severity for _, severity, _ in bench.told("campaign")] == ["warning"]
    bench.put("rides/later/d.fit", 0)
    bench.run(READ)
    assert bench.told("campaign") == []


def test_unreadable_bytes_in_a_file_name_do_not_stop_a_run(bench: Bench) -> None:
    """File names may be any bytes; this one is no UTF-8."""
    name = b"odd-\xff.fit".decode("utf-8", "surrogateescape")
    try:
        bench.put(f"rides/otter/{name}", 0)
    except OSError:
        pytest.skip("this file system takes only text as file names")
    (bench.root / "rides/heron/a.fit").unlink()
    for _ in range(2):
        assert bench.run(QUICK).exit_code == 0
    assert "rides/otter/odd-\\udcff.fit" in bench.frame("rides")["path"].to_list()


def _must_not_be_called(path: Path) -> str:
    raise AssertionError(path)


def _same(one: dict[str, pl.DataFrame], other: dict[str, pl.DataFrame]) -> bool:
    """Whether two stores hold the same rows; the order within a table is the order of arrival."""
    return one.keys() == other.keys() and all(
        one[name].sort(pl.all()).equals(other[name].sort(pl.all())) for name in one
    )
