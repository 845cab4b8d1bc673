"""A folder with everything: whole or not at all, and nobody else's work replaced."""

from __future__ import annotations

import csv
import json
from typing import TYPE_CHECKING

import pytest

from ridelab.errors import StoreError, UsageError
from ridelab.report.export import Wanted, export
from ridelab.report.folder import MANIFEST
from ridelab.store import Store
from tests.store.recorded import a_file, a_ride

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.report.export import Exported, Part


WANTED = Wanted("Harbour")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A store with one ride and a relation that a user's query made."""
    path = tmp_path / "ridelab.duckdb"
    with Store.open(path) as store:
        store.put_ride(a_ride(), a_file(a_ride()))
        store.fill("My rides", "select ride, '=1+1' as said from recorded_rides", "f")
    return path


def exported(path: Path, folder: Path, wanted: Wanted = WANTED) -> list[Exported]:
    """Export a store."""

    def opened(into: Path, /) -> Store:
        return Store.open(path, read_only=True, writes_into=into)

    return export(opened, folder, wanted)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file of a folder."""
    return {
        one.relative_to(folder).as_posix(): one.read_bytes()
        for one in folder.rglob("*")
        if one.is_file()
    }


def test_every_relation_is_there_twice_and_documented(path: Path, tmp_path: Path) -> None:
    """A user's own as well; columns, claims and report beside."""
    done = {one.name: one for one in exported(path, tmp_path / "out") if one.part == "relations"}
    with Store.open(path, read_only=True) as store:
        assert set(done) == set(store.relations())
    files = contents(tmp_path / "out")
    assert {file for one in done.values() for file in one.files} <= set(files)
    assert done["My rides"].files == ("%4Dy%20rides.parquet", "%4Dy%20rides.csv")
    assert b"'=1+1" in files["%4Dy%20rides.csv"]
    assert {
        "columns.csv",
        "claims.md",
        "report/index.html",
        "charts/index.html",
        MANIFEST,
    } <= set(files)
    rows = list(csv.DictReader(files["columns.csv"].decode().splitlines()))
    speed = next(
        one for one in rows if (one["relation"], one["column"]) == ("samples", "speed_mps")
    )
    assert (speed["type"], speed["unit"]) == ("DOUBLE", "m/s")


def test_same_store_same_bytes(path: Path, tmp_path: Path) -> None:
    """And an export may be made anew in its place."""
    exported(path, tmp_path / "one")
    exported(path, tmp_path / "two")
    first = contents(tmp_path / "one")
    assert first == contents(tmp_path / "two")
    exported(path, tmp_path / "one")
    assert contents(tmp_path / "one") == first
    assert sorted(one.name for one in tmp_path.iterdir()) == ["one", "ridelab.duckdb", "two"]


def _add(out: Path) -> None:
    (out / "notes.txt").write_text("mine")


def _change(out: Path) -> None:
    (out / "claims.md").write_text("as edited by hand")


def _forge(out: Path) -> None:
    (out / MANIFEST).write_text("[]")


@pytest.mark.parametrize(
    ("meddle", "said"),
    [(_add, "'notes.txt' beside an export"), (_change, "'claims.md' was changed"), (_forge, "no")],
)
def test_what_somebody_added_or_changed_is_not_replaced(
    path: Path, tmp_path: Path, meddle: object, said: str
) -> None:
    """It is named, and the folder is left as it is."""
    out = tmp_path / "out"
    exported(path, out)
    meddle(out)  # type: ignore[operator]
    before = contents(out)
    with pytest.raises(UsageError, match=said):
        exported(path, out)
    assert contents(out) == before


def test_a_folder_of_something_else_is_left_alone(path: Path, tmp_path: Path) -> None:
    """So is a file; an empty folder is filled."""
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "bridge.jpg").write_bytes(b"x")
    with pytest.raises(UsageError, match=r"found 'bridge.jpg' and no export; accepted: a folder"):
        exported(path, tmp_path / "photos")
    with pytest.raises(UsageError, match="found a file"):
        exported(path, path)
    with pytest.raises(UsageError, match="no export"):
        exported(path, tmp_path)
    (tmp_path / "empty").mkdir()
    exported(path, tmp_path / "empty")
    assert (tmp_path / "empty" / MANIFEST).exists()


def test_a_failure_leaves_the_old_export_and_no_rubbish(path: Path, tmp_path: Path) -> None:
    """Whole or not at all."""
    exported(path, tmp_path / "out")
    before = contents(tmp_path / "out")

    def broken(_into: Path, /) -> Store:
        raise StoreError("the store is damaged")

    with pytest.raises(StoreError, match="damaged"):
        export(broken, tmp_path / "out", WANTED)
    assert contents(tmp_path / "out") == before
    assert sorted(one.name for one in tmp_path.iterdir()) == ["out", "ridelab.duckdb"]


def test_manifest_lists_what_is_there(path: Path, tmp_path: Path) -> None:
    """Every file but itself."""
    exported(path, tmp_path / "out")
    listed = json.loads((tmp_path / "out" / MANIFEST).read_text())
    assert set(listed["sha256"]) == set(contents(tmp_path / "out")) - {MANIFEST}


@pytest.mark.parametrize(
    ("part", "there"),
    [
        ("relations", {"vehicles.parquet", "samples.csv", "columns.csv"}),
        ("claims", {"claims.md"}),
        ("report", {"report/index.html"}),
        ("charts", {"charts/index.html"}),
    ],
)
def test_a_part_can_be_had_alone(path: Path, tmp_path: Path, part: Part, there: set[str]) -> None:
    """And the whole export takes its place afterwards."""
    done = exported(path, tmp_path / "out", Wanted("Harbour", parts=[part]))
    assert {one.part for one in done} <= {part}
    alone = set(contents(tmp_path / "out"))
    assert there | {MANIFEST} <= alone
    exported(path, tmp_path / "out")
    whole = set(contents(tmp_path / "out"))
    assert alone < whole


def test_progress_is_told(path: Path, tmp_path: Path) -> None:
    """Part by part, up to the last of its pieces."""
    told: list[tuple[str, int, int]] = []
    with Store.open(path, read_only=True) as store:
        relations = len(store.relations())
    export(
        lambda into: Store.open(path, read_only=True, writes_into=into),
        tmp_path / "out",
        Wanted("Harbour", parts=["relations"]),
        lambda *so_far: told.append(so_far),
    )
    assert told == [("relations", count, relations) for count in range(1, relations + 1)]
