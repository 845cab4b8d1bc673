"""Rides that are forgotten: which are meant, that all of them goes, and what the next run does."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING

import polars as pl
import pytest

from ridelab.campaign import load
from ridelab.errors import UsageError
from ridelab.pipeline import Wanted, forgettable
from ridelab.store import Store
from tests.pipeline.conftest import QUICK
from tests.pipeline.test_per_ride import rounded

if TYPE_CHECKING:
    from tests.pipeline.conftest import Bench

#: Queries ride by ride and as a whole, those of the fleet among them.
WHOLE = (
    QUICK
    + """
[[stages]]
query = "ridden_gears"
per_ride = true
[[stages]]
query = "gear_spells"
per_ride = true
[[stages]]
run = "health"
[[stages]]
query = "service"
each_run = true
"""
)
#: Rides get another number each time they are laid down.
BY_NUMBER = {"numbered_rides", "ridden_samples"}


def meant(bench: Bench, *named: str, vehicle: str | None = None, gone: bool = False) -> list[str]:
    """The paths of the rides that are meant."""
    with Store.open(bench.store, read_only=True) as store:
        campaign = load(bench.root / "campaign.toml")
        found = forgettable(store, campaign, Wanted(named, vehicle, gone))
    return [one.path for one in found]


def forget(bench: Bench, *named: str, vehicle: str | None = None) -> tuple[str, ...]:
    """Forget them; return the vehicles to be measured anew."""
    campaign = load(bench.root / "campaign.toml")
    with Store.open(bench.store) as store:
        found = forgettable(store, campaign, Wanted(named, vehicle))
        return store.forget([one.ride for one in found])


def sorted_content(bench: Bench) -> dict[str, list[tuple[object, ...]]]:
    """All relations but those of runs and numbers, rows sorted; sums but for their last digits."""
    return {
        name: rounded(frame) for name, frame in bench.content().items() if name not in BY_NUMBER
    }


def test_store_is_as_if_a_forgotten_ride_had_never_been_there(bench: Bench) -> None:
    """All relations, once the next run has been, are those of a store that never knew it."""
    without, ride = bench.root / "rides/heron/b.fit", bench.fits[1]
    without.unlink()
    bench.run(WHOLE)
    expected = sorted_content(bench)
    bench.store.unlink()
    without.write_bytes(ride)
    bench.run(WHOLE)
    without.unlink()
    assert forget(bench, "rides/heron/b.fit") == ("heron",)
    outcome = bench.run(WHOLE)
    assert (outcome.measured, outcome.kept, outcome.read) == (("heron",), ("otter",), 0)
    assert sorted_content(bench) == expected


def test_nothing_of_a_ride_or_its_measurement_is_left(bench: Bench) -> None:
    """Before any further run: no row names the ride, its file, or what its vehicle came to."""
    own = '[[stages]]\nquery = "mine.sql"\n'
    (bench.root / "mine.sql").write_text("select ride, path from rides", encoding="utf-8")
    bench.run(WHOLE + own)
    [ride] = bench.frame("select ride from rides where vehicle = 'otter'")["ride"]
    forget(bench, "rides/otter")
    tables = set(bench.frame("select table_name from duckdb_tables()")["table_name"])
    for relation, frame in bench.content().items():
        cells = {
            str(part)
            for row in frame.rows()
            for cell in row
            for part in (cell if isinstance(cell, list) else [cell])
        }
        assert not cells.intersection({ride, "rides/otter/c.fit"}), relation
        if relation in tables - {"stated_vehicles"}:
            assert "otter" not in cells, relation
    assert len(bench.frame("rides")) == 2
    assert set(bench.frame("measured_gears")["vehicle"]) == {"heron"}


def test_file_that_is_still_there_is_read_again(bench: Bench) -> None:
    """By the next run, and everything is as before."""
    bench.run(WHOLE)
    before = sorted_content(bench)
    forget(bench, "rides/otter/c.fit")
    assert bench.run(WHOLE).read == 1
    assert sorted_content(bench) == before


def test_member_of_an_archive_is_read_again_with_its_archive(bench: Bench) -> None:
    """The archive is opened again, though neither its size nor its time has changed."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("one.fit", bench.fits[1])
        archive.writestr("two.fit", bench.fits[2])
    (bench.root / "rides/heron/b.fit").unlink()
    (bench.root / "rides/otter/c.fit").unlink()
    bench.edit('rides = ["rides/otter/*.fit"]', 'rides = ["rides/otter/*.zip"]')
    bench.put("rides/otter/week.zip", packed.getvalue())
    bench.run()
    assert meant(bench, "rides/otter/week.zip/one.fit") == ["rides/otter/week.zip/one.fit"]
    assert len(meant(bench, "rides/otter/*.zip")) == 2
    forget(bench, "rides/otter/week.zip/one.fit")
    assert bench.run().read == 1
    assert len(bench.frame("rides")) == 3
    assert not bench.told("read")


def test_copy_of_a_forgotten_file_is_read_again(bench: Bench) -> None:
    """Deleting one of two files with one content leaves the ride where it was."""
    bench.put("rides/otter/copy.fit", 2)
    bench.run()
    (bench.root / "rides/otter/c.fit").unlink()
    with pytest.raises(UsageError, match="still has its file"):
        meant(bench, "rides/otter/c.fit", gone=True)
    forget(bench, "rides/otter/c.fit")
    bench.run()
    assert "rides/otter/copy.fit" in bench.frame("rides")["path"].to_list()


@pytest.mark.parametrize(
    ("named", "found"),
    [
        (["rides/heron/a.fit"], "a"),
        (["rides/heron/*"], "ab"),
        (["rides/*/*.fit"], "abc"),
        (["rides/*.fit", "rides/otter"], None),
        (["rides/heron"], "ab"),
        (["**/b.fit", "rides/otter/"], "bc"),
        (["**"], "abc"),
        (["*.fit"], None),
        (["a.fit"], None),
        (["rides/heron/[ab].fit"], "ab"),
        ([""], None),
    ],
)
def test_rides_are_named_by_path_or_glob(bench: Bench, named: list[str], found: str | None) -> None:
    """A star stays within a folder, two cross them; a folder stands for what is in it."""
    bench.run()
    if found is None:
        with pytest.raises(UsageError, match="no stored ride is"):
            meant(bench, *named)
    else:
        assert [path[-5] for path in meant(bench, *named)] == list(found)


def test_rides_are_named_from_here_or_by_their_digits(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As a shell completes paths, and as tables show rides; an odd name stands for itself."""
    bench.put("rides/heron/[ab].fit", 1)
    (bench.root / "rides/heron/b.fit").unlink()
    bench.run()
    monkeypatch.chdir(bench.root / "rides")
    assert meant(bench, "otter/c.fit") == ["rides/otter/c.fit"]
    assert meant(bench, str(bench.root / "rides/otter/*")) == ["rides/otter/c.fit"]
    assert "rides/heron/[ab].fit" in meant(bench, "heron/[ab].fit")
    rides = dict(bench.frame("select path, ride from rides").iter_rows())
    assert meant(bench, rides["rides/otter/c.fit"][:10]) == ["rides/otter/c.fit"]
    with pytest.raises(UsageError, match="no stored ride is"):
        meant(bench, "f" * 10)


def test_rides_of_a_vehicle(bench: Bench) -> None:
    """Together with a path both hold; one that nobody rode is refused with those there are."""
    bench.run()
    assert len(meant(bench, vehicle="heron")) == 2
    assert meant(bench, "**/b.fit", vehicle="heron") == ["rides/heron/b.fit"]
    with pytest.raises(UsageError, match="did you mean 'heron'"):
        meant(bench, vehicle="heronn")
    with pytest.raises(UsageError, match=r"no stored ride is 'rides/otter'"):
        meant(bench, "rides/otter", vehicle="heron")
    with pytest.raises(UsageError, match="no ride is named; accepted"):
        meant(bench)


def test_rides_whose_files_are_gone(bench: Bench) -> None:
    """Deleted, or overwritten by another ride; not where the last run did not look into a file."""
    bench.run()
    with pytest.raises(UsageError, match="still has its file"):
        meant(bench, gone=True)
    (bench.root / "rides/heron/a.fit").unlink()
    assert meant(bench, gone=True) == ["rides/heron/a.fit"]
    bench.put("rides/otter/c.fit", 0)
    bench.run()
    with Store.open(bench.store, read_only=True) as store:
        campaign = load(bench.root / "campaign.toml")
        found = forgettable(store, campaign, Wanted(gone=True))
    assert [(one.path, one.file) for one in found] == [("rides/otter/c.fit", "other")]
    bench.edit('rides = ["rides/otter/*.fit"]', 'rides = ["rides/otter/*.gpx"]')
    bench.run()
    with pytest.raises(UsageError, match="still has its file"):
        meant(bench, gone=True)


def test_missing_disk_is_not_taken_for_deleted_files(bench: Bench) -> None:
    """Where no file at all is there, only naming them forgets rides."""
    bench.run()
    (bench.root / "rides").rename(bench.root / "elsewhere")
    with pytest.raises(UsageError, match=r"no file of all 3 stored rides is there: is a disk"):
        meant(bench, gone=True)
    assert len(meant(bench, "**")) == 3


def test_forgetting_is_one_transaction(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """One that fails at its last step has changed nothing."""
    bench.run()
    before = bench.content()

    def fails(_database: object) -> None:
        raise OSError

    with monkeypatch.context() as patched:
        patched.setattr("ridelab.store.notes.forget_files", fails)
        with pytest.raises(OSError):  # noqa: PT011 - raised above
            forget(bench, "**")
    after = bench.content()
    assert all(frame.equals(after[name]) for name, frame in before.items())


def test_what_others_told_of_other_files_stays(bench: Bench) -> None:
    """Only what was told of the forgotten ride goes, and what its vehicle was told."""
    bench.put("rides/heron/none.fit", b"no ride at all, but long enough to be one")
    bench.run()
    kept = bench.frame("problems").filter(pl.col("path") == "rides/heron/none.fit")
    forget(bench, "rides/otter")
    problems = bench.frame("problems")
    assert kept.rows() == problems.filter(pl.col("path") == "rides/heron/none.fit").rows()
    assert bench.frame("files").height == 3
