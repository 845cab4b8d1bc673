"""The way in and out: exit codes, one plain line an error, nothing heavy for --help."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

import ridelab as package
from ridelab.cli import entry
from ridelab.errors import StoreBusy, UsageError

if TYPE_CHECKING:
    from tests.cli.conftest import Ridelab

COMMANDS = [
    "demo", "new", "check", "run", "pipeline", "show", "paper", "replay", "query", "export",
]  # fmt: skip
HEAVY = [
    "polars",
    "duckdb",
    "altair",
    "numpy",
    "scipy",
    "vl_convert",
    "fitdecode",
    "rich.progress",
    "distributed",
    "fsspec",
]


def fails(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> int:
    """Run a command that raises an error and return the exit code."""

    def command(**_: object) -> None:
        raise error

    monkeypatch.setattr(entry, "app", command)
    return entry.run([])


def test_help_lists_every_command_and_exit_code(process: Ridelab) -> None:
    """What a person sees first, on stdout; ``python -m ridelab`` is the same program."""
    done = process("--help")
    assert (done.code, done.err) == (0, "")
    listed = done.out.partition("Commands:")[2]
    assert [line.split()[0] for line in listed.splitlines()[1 : len(COMMANDS) + 1]] == COMMANDS
    assert "130  interrupted" in listed


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself_within_80_columns(ridelab: Ridelab, command: str) -> None:
    """Each has a help of its own."""
    done = ridelab(command, "--help")
    assert done.code == 0
    assert max(map(len, done.out.splitlines())) <= 80


def test_version(ridelab: Ridelab) -> None:
    """The version of the package, and nothing else."""
    assert ridelab("--version") == (0, f"ridelab {package.__version__}\n", "")


def test_help_loads_nothing_heavy() -> None:
    """The libraries that compute, draw and store are loaded by the commands that need them."""
    code = (
        "import sys; from ridelab.cli.entry import run; run(['--help'])\n"
        f"print([name for name in {HEAVY} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr == "[]\n"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "Usage: ridelab"),
        (["shwo"], "Did you mean 'show'?"),
        (["show"], "RELATION"),
        (["paper", "nine", "--colour"], "--colour"),
        (["run", "fleet", "ride.fit"], "--rides"),
        (["run", "fleet", "--tyre", "47-622"], "--tyre goes with --rides"),
        (["run", "fleet", "-c", "campaign.toml", "--rides", "*.fit"], "accepted: one of them"),
        (
            ["run", "usage", "--rides", "*.fit", "--tyre", "622"],
            "--tyre: found '622'; accepted: the",
        ),
        (["show", "rides", "--json", "--csv"], "accepted: one of them"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_wrong_usage_is_told_on_stderr(ridelab: Ridelab, arguments: list[str], words: str) -> None:
    """Exit 2, nothing on stdout, no traceback."""
    done = ridelab(*arguments)
    assert (done.code, done.out) == (2, "")
    assert words in done.err
    assert "Traceback" not in done.err


@pytest.mark.parametrize(
    ("error", "code", "line"),
    [
        (UsageError("no such gear"), 2, "ridelab: no such gear\n"),
        (StoreBusy("held by process 4"), 4, "ridelab: held by process 4\n"),
        (
            PermissionError(13, "Permission denied", "report/index.html"),
            1,
            "ridelab: report/index.html: Permission denied\n",
        ),
        (OSError(28, "No space left on device"), 1, "ridelab: No space left on device\n"),
        (
            ZeroDivisionError("by zero"),
            1,
            (
                "ridelab: internal error, please report it: ZeroDivisionError: by zero; "
                "`ridelab --debug …` shows the traceback\n"
            ),
        ),
        (KeyboardInterrupt(), 130, "ridelab: interrupted; what was stored stays stored\n"),
        (UsageError("two\nlines \x1b[31m"), 2, "ridelab: two lines \\x1b[31m\n"),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, BaseException) else "",
)
def test_every_error_is_one_line_and_an_exit_code(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    error: BaseException,
    code: int,
    line: str,
) -> None:
    """No traceback reaches a person."""
    assert fails(monkeypatch, error) == code
    assert capsys.readouterr().err == line


def test_debug_shows_the_traceback(ridelab: Ridelab) -> None:
    """The one way to see it; the plain line and the exit code stay."""
    done = ridelab("--debug", "check", "missing.toml")
    assert done.code == 2
    assert "Traceback" in done.err
    assert "missing.toml" in done.err.splitlines()[-1]


def test_reader_that_goes_away_is_no_error() -> None:
    """``ridelab … | head -1`` ends quietly."""
    with subprocess.Popen(
        [sys.executable, "-m", "ridelab", "--help"], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stdout
        assert process.stderr
        process.stdout.close()
        assert process.stderr.read() == b""
