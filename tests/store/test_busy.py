"""Two processes, one store: who writes waits, then says who holds it; who reads need not wait."""

from __future__ import annotations

import itertools
import subprocess
import sys
import tempfile
import time
from typing import TYPE_CHECKING

import pytest

from ridelab.errors import StoreBusy
from ridelab.store import Store, copying, database

if TYPE_CHECKING:
    from pathlib import Path

HOLD = """
import sys, time
from ridelab.store import Store
with Store.open(sys.argv[1]):
    print("held", flush=True)
    sys.stdin.readline()
"""


#: Keeps two tables alike: what is in one is in the other, whenever one looks.
WRITE = """
import duckdb, random, sys
with duckdb.connect(sys.argv[1]) as connection:
    connection.execute("create table rows (k bigint); create table counts (k bigint, rows bigint)")
    print("begun", flush=True)
    for k in range(1_000_000):
        rows = random.choice([10, 5_000, 130_000])
        connection.execute("begin")
        connection.execute("insert into rows select ? from range(?)", [k, rows])
        connection.execute("insert into counts values (?, ?)", [k, rows])
        connection.execute("delete from rows where k = ?", [k - 4])
        connection.execute("delete from counts where k = ?", [k - 4])
        connection.execute("commit")
        if random.random() < 0.2:
            connection.execute("checkpoint")
"""

#: Sorts more than it may keep in memory, and is killed once some of it is in files.
SPILL = """
import os, sys, threading
from pathlib import Path
from ridelab.store import Store, database
database._OF_A_RUN["memory_limit"] = "40MB"
folder = Path(sys.argv[1] + ".tmp")
def watch():
    while not (folder.is_dir() and len(list(folder.iterdir())) > 1):
        pass
    os.kill(os.getpid(), 9)
with Store.open(sys.argv[1]) as store:
    threading.Thread(target=watch, daemon=True).start()
    store.frame("select sum(b) from (select hash(range) as b from range(5_000_000) order by b)")
    store.frame("create temp table x as select hash(range) as b from range(9_000_000) order by b")
"""
#: Reads a store, of which it may get a copy, until it gets a line.
READ = """
import sys
from ridelab.store import Store
with Store.open(sys.argv[1], read_only=True) as store:
    print(store.holder, flush=True)
    sys.stdin.readline()
"""


@pytest.fixture
def holder(tmp_path: Path) -> subprocess.Popen[str]:
    """A process of its own that holds the store until it gets a line."""
    path = tmp_path / "ridelab.duckdb"
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "held\n"
    return process


def test_held_store_is_busy_and_says_by_whom(
    holder: subprocess.Popen[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The process id of the holder, and the exit code that the command line ends with."""
    monkeypatch.setattr(database, "_PATIENCE_S", 0.2)
    try:
        with pytest.raises(StoreBusy, match=f"held by process {holder.pid}") as caught:
            Store.open(tmp_path / "ridelab.duckdb")
    finally:
        holder.communicate("\n")
    assert caught.value.exit_code == 4


def test_reader_of_a_held_store_sees_what_is_committed(
    holder: subprocess.Popen[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At once, and who is writing it; the copy is gone when it is closed."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "copies"))
    (tmp_path / "copies").mkdir()
    try:
        with Store.open(tmp_path / "ridelab.duckdb", read_only=True) as store:
            assert store.holder == f"process {holder.pid}"
            assert store.path == tmp_path / "ridelab.duckdb"
            assert store.frame("rides").is_empty()
            assert store.query("select 1 as one").item() == 1
    finally:
        holder.communicate("\n")
    assert list((tmp_path / "copies").iterdir()) == []


def test_reader_without_room_for_a_copy_is_told_who_holds_the_store(
    holder: subprocess.Popen[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As a writer is."""
    monkeypatch.setattr(database, "_PATIENCE_S", 0.2)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "nowhere"))
    try:
        with pytest.raises(StoreBusy, match=f"held by process {holder.pid}"):
            Store.open(tmp_path / "ridelab.duckdb", read_only=True)
    finally:
        holder.communicate("\n")


@pytest.mark.skipif(sys.platform == "win32", reason="there the copy stays")
def test_copies_of_killed_readers_go_with_the_next_reader_or_run(
    holder: subprocess.Popen[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Never that of a reader who is still at it."""
    copies = tmp_path / "copies"
    copies.mkdir()
    monkeypatch.setenv("TMPDIR", str(copies))
    monkeypatch.setattr(tempfile, "tempdir", str(copies))
    path, readers = tmp_path / "ridelab.duckdb", []
    for _ in range(3):
        command = [sys.executable, "-c", READ, str(path)]
        pipe = subprocess.PIPE
        readers.append(subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True))
        assert readers[-1].stdout
        assert readers[-1].stdout.readline() == f"process {holder.pid}\n"
    assert len(list(copies.iterdir())) == 3
    readers[0].kill()
    readers[0].communicate()
    with Store.open(path, read_only=True):
        assert len(list(copies.iterdir())) == 3  # its own, and those of the living
    readers[1].kill()
    readers[1].communicate()
    holder.communicate("\n")
    with Store.open(path):
        assert len(list(copies.iterdir())) == 1
    readers[2].communicate("\n")
    assert list(copies.iterdir()) == []


def test_what_a_killed_process_spilt_beside_a_store_goes_with_the_next_run(tmp_path: Path) -> None:
    """DuckDB leaves it there until it spills again; files of others stay."""
    path, spilt = tmp_path / "ridelab.duckdb", tmp_path / "ridelab.duckdb.tmp"
    with subprocess.Popen(
        [sys.executable, "-c", SPILL, str(path)], stdout=subprocess.PIPE, text=True
    ) as process:
        process.communicate()
    left = list(spilt.iterdir())
    assert left
    Store.open(path).close()
    assert not spilt.exists()
    spilt.mkdir()
    (spilt / "letter").touch()
    Store.open(path).close()
    assert [one.name for one in spilt.iterdir()] == ["letter"]


def test_what_is_copied_while_it_is_written_is_one_state(tmp_path: Path) -> None:
    """Of thirty copies each opens, and holds all of a transaction or nothing."""
    path = tmp_path / "written.duckdb"
    unlike = (
        "select count(*) from (select k, count(*) as rows from rows group by k) as found "
        "full join counts using (k) where found.rows is distinct from counts.rows"
    )
    with subprocess.Popen(
        [sys.executable, "-c", WRITE, str(path)], stdout=subprocess.PIPE, text=True
    ) as writer:
        assert writer.stdout
        assert writer.stdout.readline() == "begun\n"
        try:
            for _ in range(30):
                opened = database.Database.connect(path, read_only=True)
                assert opened.holder == f"process {writer.pid}"
                assert opened.read(unlike).item() == 0
                opened.close()
        finally:
            writer.kill()


def test_copy_that_a_checkpoint_came_between_is_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Headers before and after tell; where they never agree there is no copy, and none is left."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "copies"))
    (tmp_path / "copies").mkdir()
    path = tmp_path / "ridelab.duckdb"
    Store.open(path).close()
    counted = itertools.count()
    told = iter([b"1", b"2", b"2", b"2"])
    monkeypatch.setattr(copying, "_headers", lambda _: next(told))
    with copying.copied(path) as copy:
        assert copy
        assert copy.read_bytes() == path.read_bytes()
    monkeypatch.setattr(copying, "_headers", lambda _: next(counted))
    with copying.copied(path) as copy:
        assert copy is None
    assert list((tmp_path / "copies").iterdir()) == []


def test_store_released_in_time_is_opened(
    holder: subprocess.Popen[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The holder lets go while we wait: no error."""
    waited: list[float] = []
    sleep = time.sleep

    def release(seconds: float) -> None:
        if not waited:
            holder.communicate("\n")
        waited.append(seconds)
        sleep(seconds)

    monkeypatch.setattr(database, "_PATIENCE_S", 30.0)
    monkeypatch.setattr(time, "sleep", release)
    with Store.open(tmp_path / "ridelab.duckdb") as store:
        assert store.frame("rides").is_empty()
    assert waited


def test_readers_do_not_hold_each_other_up(tmp_path: Path) -> None:
    """Many may read at once, in one process too."""
    path = tmp_path / "ridelab.duckdb"
    Store.open(path).close()
    with Store.open(path, read_only=True) as one, Store.open(path, read_only=True) as other:
        assert one.relations() == other.relations()


def test_reading_what_this_process_writes_is_busy_not_a_crash(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """DuckDB gives one process one way to hold a file."""
    monkeypatch.setattr(database, "_PATIENCE_S", 0.0)
    with pytest.raises(StoreBusy, match="this process"):
        Store.open(store.path, read_only=True)
