"""A disk that is full, a file that goes or grows while it is read, a run that was killed before."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from ridelab import telemetry
from tests.pipeline.conftest import QUICK

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from ridelab.telemetry import Content
    from tests.pipeline.conftest import Bench

#: Lets no file grow beyond so many bytes, which is as near as one comes to a full disk everywhere.
LIMITED = """
import resource, sys
resource.setrlimit(resource.RLIMIT_FSIZE, ({most}, {most}))
from ridelab.cli import main
main()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no limits on the size of files there")
@pytest.mark.parametrize("most", [10_000, 400_000])
def test_full_disk_is_told_and_the_next_run_finishes(bench: Bench, most: int) -> None:
    """One line with the file, exit 1; nothing half done, nothing in the way of the next run."""
    bench.pipeline(QUICK)
    done = subprocess.run(
        [sys.executable, "-c", LIMITED.format(most=most), "run", "quick.toml"],
        cwd=bench.root,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (1, "")
    [line] = done.stderr.splitlines()
    assert "ridelab.duckdb" in line
    assert "File too large" in line
    bench.run()
    whole = bench.content()
    bench.store.unlink()
    bench.run()
    again = bench.content()
    for relation in ("recorded_samples", "measured_gears", "verdicts", "problems", "files"):
        assert (
            whole[relation]
            .sort(whole[relation].columns)
            .equals(again[relation].sort(again[relation].columns))
        )
    assert not list(bench.root.glob("*.wal")) + list(bench.root.glob(".*"))


def test_file_that_goes_while_it_is_read_is_read_once_it_is_back(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Set aside with the reason; the same file with the same time is not taken for tried."""
    there, away = bench.root / "rides/heron/b.fit", bench.root / "away.fit"

    def gone(path: Path | str) -> Iterator[Content]:
        if str(path).endswith("b.fit"):
            there.rename(away)
        return whole(path)

    whole = telemetry.contents_of
    with monkeypatch.context() as patched:
        patched.setattr(telemetry, "contents_of", gone)
        outcome = bench.run()
    assert (outcome.read, outcome.set_aside, outcome.exit_code) == (2, 1, 3)
    assert bench.told("read") == [
        ("rides/heron/b.fit", "error", "cannot be read: No such file or directory")
    ]
    away.rename(there)
    assert bench.run().read == 1
    assert bench.told("read") == []


def test_file_that_grows_while_it_is_read_is_read_again(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, fits: tuple[bytes, ...]
) -> None:
    """What was there counts until then; the whole ride takes its place."""
    path = bench.put("rides/heron/b.fit", fits[1][: len(fits[1]) // 2])

    def growing(asked: Path | str) -> Iterator[Content]:
        contents = list(whole(asked))
        if str(asked).endswith("b.fit"):
            path.write_bytes(fits[1])
        return iter(contents)

    whole = telemetry.contents_of
    with monkeypatch.context() as patched:
        patched.setattr(telemetry, "contents_of", growing)
        assert bench.run().read == 3
    assert bench.run().read == 1
    counted = bench.frame("select samples from rides where vehicle = 'heron' order by started_at")
    assert counted["samples"].to_list() == [600, 600]


def test_what_a_killed_run_left_is_removed_by_the_next(bench: Bench) -> None:
    """Also where that has so little to do that it starts no processes."""
    left = bench.root / "ridelab.duckdb.old.parcels"
    left.mkdir()
    (left / "0.half").touch()
    (bench.root / "report").mkdir()
    (bench.root / "report" / ".index-old.html").touch()
    bench.run(QUICK + '[[stages]]\nrun = "report"\n')
    assert not left.exists()
    assert [one.name for one in (bench.root / "report").iterdir()] == ["index.html"]
