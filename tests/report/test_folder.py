"""Exports that are killed: what stood there stands, and the next one leaves nothing lying about."""

from __future__ import annotations

import signal
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from ridelab.report.folder import made_beside

if TYPE_CHECKING:
    from pathlib import Path

#: Makes a folder, and is killed at the n-th time that something is given another name: in the end
#: what stands there is moved away, then the new one is moved there.
KILLED = """
import os, sys
from pathlib import Path
from ridelab.report.folder import made_beside
renamed = []
rename = Path.rename
def killed(self, target):
    if len(renamed) == int(sys.argv[2]):
        os.kill(os.getpid(), 9)
    renamed.append(target)
    return rename(self, target)
Path.rename = killed
with made_beside(Path(sys.argv[1])) as made:
    (made / "new.txt").write_text("new")
"""
#: Makes a folder until it gets a line.
MAKES = """
import sys
from pathlib import Path
from ridelab.report.folder import made_beside
with made_beside(Path(sys.argv[1])) as made:
    (made / "new.txt").write_text("new")
    print("half", flush=True)
    sys.stdin.readline()
"""
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="what is left stays there")


@pytest.mark.parametrize("renames", [0, 1, 2])
def test_killed_export_costs_nobody_the_old_one(tmp_path: Path, renames: int) -> None:
    """At whatever step of taking its place: old or new, and the next finds nothing in its way."""
    folder = tmp_path / "out"
    with made_beside(folder) as made:
        (made / "old.txt").write_text("old")
    done = subprocess.run([sys.executable, "-c", KILLED, folder, str(renames)], check=False)
    assert (done.returncode == -signal.SIGKILL) == (renames < 2)
    with made_beside(folder):
        found = [one.name for one in folder.glob("*.txt")]
        assert found == (["old.txt"] if renames < 2 else ["new.txt"])
    assert [one.name for one in tmp_path.iterdir()] == ["out"]


def test_export_under_way_elsewhere_is_left_alone(tmp_path: Path) -> None:
    """Of two into one folder the one that ends last has its place."""
    folder, pipe = tmp_path / "out", subprocess.PIPE
    with subprocess.Popen(
        [sys.executable, "-c", MAKES, folder], stdin=pipe, stdout=pipe, text=True
    ) as other:
        assert other.stdout
        assert other.stdout.readline() == "half\n"
        with made_beside(folder) as made:
            (made / "mine.txt").write_text("mine")
        assert [one.name for one in folder.glob("*.txt")] == ["mine.txt"]
        other.communicate("\n")
    assert other.returncode == 0
    assert [one.name for one in folder.glob("*.txt")] == ["new.txt"]
    assert [one.name for one in tmp_path.iterdir()] == ["out"]
