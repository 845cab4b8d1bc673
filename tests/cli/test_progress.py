"""Progress: bars on a terminal, few lines elsewhere, nothing on stdout."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from ridelab.cli.progress import EVERY_S, Lines, meter

pty = pytest.importorskip("pty", reason="this system has no terminals to pretend to be")

SHOWS = """
from ridelab.cli.progress import meter
with meter() as shown:
    for done in range(4):
        shown.show("read", done, 3)
print("result")
"""


def on_terminal(**environment: str) -> tuple[bytes, bytes]:
    """Return stdout, and what a terminal on stderr gets to see."""
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-c", SHOWS],
        stdout=subprocess.PIPE,
        stderr=theirs,
        env=os.environ | {"TERM": "xterm", "COLUMNS": "80"} | environment,
    ) as child:
        os.close(theirs)
        assert child.stdout
        result = child.stdout.read()
    seen = b""
    try:
        while part := os.read(ours, 65536):
            seen += part
    except OSError:  # a terminal whose other side is closed reads as an error
        pass
    os.close(ours)
    return result, seen


def test_bar_on_a_terminal() -> None:
    """The stage and how far it is, on stderr alone."""
    result, seen = on_terminal()
    assert result == b"result\n"
    assert b"read" in seen
    assert b"3/3" in seen


def test_no_colour_where_none_is_wanted() -> None:
    """NO_COLOR leaves no colour code (SGR 30 to 49, ECMA-48) in the bar."""
    _, seen = on_terminal(NO_COLOR="1")
    assert b"3/3" in seen
    assert b"\x1b[3" not in seen.replace(b"\x1b[3J", b"")


def test_nothing_moves_on_a_dumb_terminal() -> None:
    """A terminal that cannot move its cursor sees no bar."""
    assert on_terminal(TERM="dumb") == (b"result\n", b"")


def test_short_run_says_nothing_without_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """A pipe gets results, not chatter."""
    with meter() as shown:
        shown.show("read", 1, 9)
    assert capsys.readouterr() == ("", "")


def test_long_run_says_where_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    """One line every ten seconds of a clock that the test turns."""
    seconds = iter([0.0, 4.0, EVERY_S, EVERY_S, EVERY_S + 1, 2 * EVERY_S, 2 * EVERY_S])
    lines = Lines(lambda: next(seconds))
    for done in range(3):
        lines.show("read\x1b", done, 9)
    lines.show("report", 3, None)
    assert capsys.readouterr().err == "read\\x1b: 1 of 9\nreport: 3\n"
