"""Runs the command line as a person would, in a folder of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING, NamedTuple, Protocol

import pytest

from ridelab.cli import entry

if TYPE_CHECKING:
    from pathlib import Path


class Done(NamedTuple):
    """What a command left behind."""

    code: int
    out: str
    err: str


class Ridelab(Protocol):
    """``ridelab("check", "campaign.toml")`` in the folder of the test."""

    def __call__(self, *arguments: str) -> Done:
        """Return what was printed, and the exit code."""


@pytest.fixture
def ridelab(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Ridelab:
    """The command line, 80 columns wide, within the process of the test."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")

    def run(*arguments: str) -> Done:
        capsys.readouterr()
        code = entry.run(arguments)
        return Done(code, *capsys.readouterr())

    return run


@pytest.fixture
def process(tmp_path: Path) -> Ridelab:
    """The command line in a process of its own, as ``python -m ridelab``."""

    def run(*arguments: str) -> Done:
        done = subprocess.run(
            [sys.executable, "-W", "error", "-m", "ridelab", *arguments],
            cwd=tmp_path,
            env=os.environ | {"COLUMNS": "80"},
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        return Done(done.returncode, done.stdout, done.stderr)

    return run
