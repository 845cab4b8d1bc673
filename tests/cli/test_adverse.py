"""A folder that cannot be written, a disk that is full, Ctrl-C: for each command, what is left."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from ridelab.cli import entry
from ridelab.simulate import simulate_ride
from ridelab.store import Store
from tests.cli.conftest import Done
from tests.cli.test_signals import SAID, prepared
from tests.pipeline.conftest import CAMPAIGN, QUICK
from tests.simulate.rides import hub_ride

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

#: Takes from root what others do not have: to write where nobody may.
UNPRIVILEGED = [
    "setpriv", "--bounding-set=-dac_override,-dac_read_search",
    "--inh-caps=-dac_override,-dac_read_search",
]  # fmt: skip
#: Gives a process a disk of its own, as small as it likes.
ALONE = ["unshare", "--user", "--map-root-user", "--mount"]
#: Copies a campaign onto a small disk, fills that, asks commands, empties it, and runs again.
ON_A_SMALL_DISK = """
import contextlib, io, json, shutil, subprocess, sys
from pathlib import Path
from ridelab.cli import entry
source, disk, commands = Path(sys.argv[1]), Path(sys.argv[2]), json.loads(sys.argv[3])
subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64m", "tmpfs", disk], check=True)
shutil.copytree(source, disk, dirs_exist_ok=True)
def names():
    return sorted(one.relative_to(disk).as_posix() for one in disk.rglob("*"))
def asked(command):
    out, err = io.StringIO(), io.StringIO()
    with contextlib.chdir(disk), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = entry.run(command)
    return code, out.getvalue(), err.getvalue()
page = (disk / "report/index.html").read_bytes()
with contextlib.suppress(OSError), (disk / "fill").open("wb") as fill:
    while True:
        fill.write(bytes(4096)); fill.flush()
before = names()
told = [asked(command) for command in commands]
wal = {"ridelab.duckdb.wal"}  # what was committed and not taken in yet is in it
more = sorted(set(names()) - set(before) - wal)
same = (disk / "report/index.html").read_bytes() == page
(disk / "fill").unlink()
last = asked(["run", "whole.toml", "--workers", "1"])
rides = asked(["query", "select count(*) as n from rides", "--json"])
left = sorted(set(names()) - set(before))
print(json.dumps([told, more, same, last, rides, left]))
"""
REPORT = '[[stages]]\nrun = "report"\n'
#: Where each command is interrupted.
TRAPS = {
    ("show", "rides"): ("ridelab.store.Store", "relation"),
    ("query", "select * from rides"): ("ridelab.store.Store", "query"),
    ("export", "out", "--no-charts"): ("ridelab.store.Store", "write"),
    ("export", "out", "--part", "report"): ("ridelab.report.page", "render"),
    ("run", "report.toml"): ("ridelab.report.page", "render"),
    ("forget", "rides/heron", "--yes"): ("ridelab.store.notes", "forget_files"),
}
#: Interrupts a command behind a call of a function.
TRAP = """
from pkgutil import resolve_name
owner = resolve_name({owner!r})
whole = owner.{name}
def interrupted(*given, **more):
    found = whole(*given, **more)
    spring()
    return found
owner.{name} = interrupted
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A campaign of two rides, its store, report and export, as a run has left them."""
    folder = tmp_path_factory.mktemp("adverse")
    for vehicle, seed in (("heron", 1), ("otter", 2)):
        path = folder / "rides" / vehicle / f"{seed}.fit"
        path.parent.mkdir(parents=True)
        started = datetime(2031, 5, 3 + seed, 8, tzinfo=UTC)
        simulate_ride(hub_ride(duration_s=600), seed).to_fit(path, started)
    (folder / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    (folder / "whole.toml").write_text(QUICK + REPORT, encoding="utf-8")
    (folder / "report.toml").write_text(REPORT, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patched:
        patched.chdir(folder)
        assert entry.run(["run", "whole.toml", "--workers", "1"]) == 0
        assert entry.run(["export", "out", "--no-charts"]) == 0
    return folder


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    """A copy of it, with a ride more that no run has read."""
    copy = shutil.copytree(made, tmp_path / "campaign")
    ride = simulate_ride(hub_ride(duration_s=600), 3)
    ride.to_fit(copy / "rides/heron/3.fit", datetime(2031, 5, 9, 8, tzinfo=UTC))
    return copy


def content(folder: Path) -> dict[str, bytes]:
    """Every file of a folder."""
    return {
        one.relative_to(folder).as_posix(): one.read_bytes()
        for one in folder.rglob("*")
        if one.is_file()
    }


@pytest.fixture
def closed(folder: Path) -> Iterator[Path]:
    """The folder, which nobody may write to, nor to any in it."""
    if not hasattr(os, "geteuid"):
        pytest.skip("no such permissions there")
    if os.geteuid() == 0 and not shutil.which("setpriv"):
        pytest.skip("root may write everywhere")
    every = [folder, *folder.rglob("*")]
    for one in every:
        one.chmod(0o555 if one.is_dir() else 0o444)
    yield folder
    for one in every:
        one.chmod(0o755)


def asked_in(folder: Path, *command: str) -> Done:
    """Run a command as somebody without privileges."""
    before = UNPRIVILEGED if os.geteuid() == 0 else []
    done = subprocess.run(
        [*before, sys.executable, "-m", "ridelab", *command],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    return Done(done.returncode, done.stdout, done.stderr)


@pytest.mark.parametrize(
    ("command", "code", "said"),
    [
        (("show", "rides"), 0, ""),
        (("query", "select * from rides"), 0, ""),
        (("run", "whole.toml", "--dry-run"), 0, ""),
        (("run", "whole.toml", "--out", "{elsewhere}"), 1, 'ridelab.duckdb": Permission denied'),
        (
            ("run", "whole.toml", "--store", "{elsewhere}/s.duckdb"),
            2,
            "report cannot be written; accepted: a folder that can; --out names another",
        ),
        (("run", "report.toml"), 2, "report cannot be written"),
        (("export", "out2", "--no-charts"), 1, "ridelab: out2: Permission denied"),
        (("export", "out", "--no-charts"), 1, "ridelab: out: Permission denied"),
        (("export", "{elsewhere}/out", "--part", "claims"), 0, "exporting"),
        (("forget", "rides/heron", "--yes"), 1, 'ridelab.duckdb": Permission denied'),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else "",
)
def test_folder_that_cannot_be_written(
    closed: Path, tmp_path: Path, command: tuple[str, ...], code: int, said: str
) -> None:
    """Who reads is answered; who writes is told where, in a line, before anything is done."""
    (tmp_path / "elsewhere").mkdir()
    before = content(closed)
    done = asked_in(closed, *(part.format(elsewhere=tmp_path / "elsewhere") for part in command))
    assert (done.code, bool(done.out)) == (code, code == 0), done.err
    assert said in done.err
    last = done.err.splitlines()[-1:]
    assert code == 0 or (last[0].startswith("ridelab: ") and len(done.err.splitlines()) <= 2)
    assert content(closed) == before
    assert code == 0 or not list((tmp_path / "elsewhere").iterdir())


def may_mount(folder: Path) -> bool:
    """Whether this process may have a disk of its own."""
    if not shutil.which("unshare"):
        return False
    probe = [*ALONE, "mount", "-t", "tmpfs", "tmpfs", str(folder)]
    return subprocess.run(probe, capture_output=True, check=False).returncode == 0


def on_a_small_disk(
    folder: Path, disk: Path, *commands: list[str]
) -> subprocess.CompletedProcess[str]:
    """Ask commands on a disk without a byte left."""
    disk.mkdir()
    return subprocess.run(
        [*ALONE, sys.executable, "-c", ON_A_SMALL_DISK, folder, disk, json.dumps(commands)],
        capture_output=True,
        text=True,
        check=False,
    )


def test_disk_without_a_byte_left(folder: Path, tmp_path: Path) -> None:
    """Who reads is answered; who writes is told so, leaves what stood there, and nothing else.

    With room again the next run stores the ride that there was none for.
    """
    if not may_mount(tmp_path):
        pytest.skip("a test may not mount a small disk here")
    commands = [
        ["run", "whole.toml", "--workers", "1"],
        ["run", "report.toml"],
        ["export", "out", "--no-charts"],
        ["export", "more", "--no-charts"],
        ["forget", "rides/heron", "--yes"],
        ["show", "rides", "--json"],
        ["query", "select count(*) as n from rides", "--json"],
    ]
    done = on_a_small_disk(folder, tmp_path / "disk", *commands)
    assert done.returncode == 0, done.stderr
    told, more, same, last, rides, left = json.loads(done.stdout)
    for command, (code, out, err) in zip(commands[:5], told, strict=False):
        assert (code, out) == (1, ""), command
        assert "No space left on device" in err.splitlines()[-1], command
        assert "exception_type" not in err
        assert len(err.splitlines()) <= 2, command
    assert [code for code, _, _ in told[5:]] == [0, 0]
    assert len(json.loads(told[5][1])) == 2
    assert json.loads(told[6][1]) == [{"n": 2}]
    assert (more, same) == ([], True)
    assert last[0] == 0
    assert "1 read, 2 unchanged" in last[1]
    assert json.loads(rides[1]) == [{"n": 3}]
    assert left == []


@pytest.mark.parametrize("command", TRAPS, ids=" ".join)
def test_interrupted_command_leaves_everything_as_it_was(
    folder: Path, command: tuple[str, ...]
) -> None:
    """One sentence and 130; store, report and export are the same to the byte, nothing is added."""
    owner, name = TRAPS[command]
    trap = TRAP.format(owner=owner, name=name)
    before = content(folder)
    done = prepared(trap, folder, *command)
    said = done.err.splitlines(keepends=True)
    assert (done.code, said[-1]) == (130, SAID)
    assert not done.out
    after = content(folder)
    assert before.keys() == after.keys()
    assert [name for name in before if before[name] != after[name]] in ([], ["ridelab.duckdb"])
    with Store.open(folder / "ridelab.duckdb", read_only=True) as store:
        assert len(store.frame("rides")) == 2
        assert store.frame("measured_gears").height > 0
