"""Ctrl-C and SIGTERM at any moment: one sentence, the exit code of the signal."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
from datetime import UTC, datetime
from textwrap import dedent
from typing import TYPE_CHECKING

import pytest

from ridelab.simulate import simulate_ride
from ridelab.store import Store
from tests.cli.conftest import Done
from tests.simulate.rides import hub_ride

if TYPE_CHECKING:
    from pathlib import Path

PROGRESS = r"[\w' ]+: \d+( of \d+)?\n"
SAID = "ridelab: interrupted; what was stored stays stored\n"
RUN = ("run", "usage", "--rides", "rides/good.fit", "--tyre", "50-406")
#: Each springs once, somewhere a plain exception goes astray.
TRAPS = {
    "a column that a compiled library asks for": """
        from ridelab.store.database import _Stream
        whole = _Stream.__arrow_c_stream__
        def asked(self, requested_schema=None):
            spring()
            return whole(self, requested_schema)
        _Stream.__arrow_c_stream__ = asked
    """,
    "a library that takes any exception for a damaged file": """
        from ridelab import errors, telemetry
        def read_content(content, *settings):
            try:
                spring()
            except BaseException as error:
                raise errors.DamagedFile("no ride") from error
        telemetry.read_content = read_content
    """,
    "a finalizer": """
        from ridelab import telemetry
        whole = telemetry.read_content
        class Thing:
            def __del__(self): spring()
        def read_content(content, *settings):
            Thing()
            return whole(content, *settings)
        telemetry.read_content = read_content
    """,
    "text that is executed": """
        from ridelab import telemetry
        def read_content(content, *settings):
            exec("spring()", {"spring": spring})
        telemetry.read_content = read_content
    """,
    "the import of a library": """
        class Finder:
            def find_spec(self, name, *_):
                if name == "typer": spring()
        sys.meta_path.insert(0, Finder())
    """,
    "an import that a library can do without": """
        from ridelab import telemetry
        whole = telemetry.read_content
        def read_content(content, *settings):
            try: spring()
            except: pass
            return whole(content, *settings)
        telemetry.read_content = read_content
    """,
}
#: What a process runs before ``main``.
TRAPPED = """
import signal, sys
sprung = []
def spring(number={number}):
    if not sprung:
        sprung.append(number)
        signal.raise_signal(number)
"""
MAIN = "from ridelab.cli import main\nmain()"
AT_A_MOMENT = """
calls = 0
def count(*_):
    global calls
    calls += 1
    if calls == {moment}:
        spring()
import atexit
atexit.register(lambda: (sys.setprofile(None), print(calls, file=open("calls.txt", "w"))))
from ridelab.cli import signals
whole = signals.listen
def listen():
    whole()
    sys.setprofile(count)
signals.listen = listen
"""
BLOCKED = """
import time
def blocked(content, *settings):
    try:
        spring()
    finally:
        signal.raise_signal(signal.SIGINT)
        time.sleep(600)
from ridelab import telemetry
telemetry.read_content = blocked
"""


@pytest.fixture(scope="module")
def ride() -> bytes:
    """A ride of ten minutes, as a FIT file."""
    start = datetime(2031, 5, 4, 8, tzinfo=UTC)
    return simulate_ride(hub_ride(duration_s=600), 0).fit_content(start)


@pytest.fixture
def folder(ride: bytes, tmp_path: Path) -> Path:
    """A folder with one ride."""
    (tmp_path / "rides").mkdir()
    (tmp_path / "rides/good.fit").write_bytes(ride)
    return tmp_path


def told(err: str) -> str:
    """Return what was printed but how far the run was, which a busy machine prints, too."""
    return "".join(line for line in err.splitlines(True) if not re.fullmatch(PROGRESS, line))


def prepared(code: str, folder: Path, *arguments: str, number: int = signal.SIGINT) -> Done:
    """Run a command in a process in which some code ran before."""
    script = f"{TRAPPED.format(number=number)}{dedent(code)}\n{MAIN}"
    done = subprocess.run(
        [sys.executable, "-c", script, *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    return Done(done.returncode, done.stdout, told(done.stderr))


def stored(folder: Path) -> tuple[int, int]:
    """Return how many rides and files the store knows; none where there is no store."""
    store = folder / "my-rides.duckdb"
    if not store.exists():
        return 0, 0
    with Store.open(store, read_only=True) as opened:
        return len(opened.frame("recorded_rides")), len(opened.frame("files"))


@pytest.mark.parametrize("trap", TRAPS)
def test_interruption_is_told_as_one_wherever_it_comes(trap: str, folder: Path) -> None:
    """Libraries make errors of their own of it, or drop it; nothing they made of it is stored."""
    done = prepared(TRAPS[trap], folder, *RUN)
    assert (done.code, done.out, done.err) == (130, "", SAID)
    assert stored(folder) == (0, 0)


def test_sigterm_is_told_alike(folder: Path) -> None:
    """128 and the number of the signal, as shells have it (common practice, no source)."""
    trap = TRAPS["a column that a compiled library asks for"]
    done = prepared(trap, folder, *RUN, number=signal.SIGTERM)
    assert (done.code, done.out, done.err) == (143, "", SAID)


def test_second_signal_ends_at_once(folder: Path) -> None:
    """Whatever is being tidied up then."""
    assert prepared(BLOCKED, folder, *RUN).code == 130


def test_ignored_signals_stay_ignored(folder: Path) -> None:
    """As a shell starts what runs in the background; the run goes on to its end."""
    ignored = "signal.signal(signal.SIGINT, signal.SIG_IGN)\n"
    done = prepared(ignored + dedent(TRAPS["a finalizer"]), folder, *RUN)
    assert (done.code, done.err) == (0, "")


def test_interruption_at_any_moment_is_told_and_the_next_run_finishes(folder: Path) -> None:
    """From the first import to the last line: four moments, told by the calls made so far."""
    assert prepared(AT_A_MOMENT.format(moment=0), folder, *RUN).code == 0
    calls = int((folder / "calls.txt").read_text("utf-8"))
    for share in (0.0002, 0.2, 0.6, 0.97):
        (folder / "my-rides.duckdb").unlink(missing_ok=True)
        code = AT_A_MOMENT.format(moment=int(calls * share))
        done = prepared(code, folder, *RUN)
        assert (share, done.code, done.err) == (share, 130, SAID)
    assert prepared("", folder, *RUN).code == 0
    assert stored(folder) == (1, 1)
