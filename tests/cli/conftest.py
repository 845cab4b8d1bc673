"""Runs the command line as a person would: in a process of its own, in a folder of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING, Protocol

import pytest

if TYPE_CHECKING:
    from pathlib import Path


class Ridelab(Protocol):
    """``ridelab("check", "campaign.toml")`` in the folder of the test."""

    def __call__(self, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
        """Return what the process printed, and its exit code."""


@pytest.fixture
def ridelab(tmp_path: Path) -> Ridelab:
    """The command line; stdout, stderr and exit code come back."""

    def run(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-W", "error", "-m", "ridelab", *arguments],
            cwd=tmp_path,
            env=os.environ | {"COLUMNS": "80"} | environment,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )

    return run
