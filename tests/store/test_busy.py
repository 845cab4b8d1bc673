"""Two processes, one store: the second waits a moment, then says who holds it."""

from __future__ import annotations

import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest

from ridelab.errors import StoreBusy
from ridelab.store import Store, database

if TYPE_CHECKING:
    from pathlib import Path

HOLD = """
import sys, time
from ridelab.store import Store
with Store.open(sys.argv[1]):
    print("held", flush=True)
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


@pytest.mark.parametrize("read_only", [False, True])
def test_held_store_is_busy_and_says_by_whom(
    holder: subprocess.Popen[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    read_only: bool,
) -> None:
    """The process id of the holder, and the exit code that the command line ends with."""
    monkeypatch.setattr(database, "_PATIENCE_S", 0.2)
    try:
        with pytest.raises(StoreBusy, match=f"held by process {holder.pid}") as caught:
            Store.open(tmp_path / "ridelab.duckdb", read_only=read_only)
    finally:
        holder.communicate("\n")
    assert caught.value.exit_code == 4


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
