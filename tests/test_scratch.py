"""What is not finished: removed where it was left by a killed process, and nowhere else."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from ridelab.scratch import abandoned, scratch, sweep

NAME = ".made-"
#: Works in a folder until it is killed, or gets a line.
WORKS = """
import sys
from pathlib import Path
from ridelab.scratch import scratch
with scratch(Path(sys.argv[1]), ".made-") as folder:
    (folder / "half").write_text("half")
    print(folder, flush=True)
    sys.stdin.readline()
"""
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no locks on folders there")


def working(folder: Path) -> tuple[subprocess.Popen[str], Path]:
    """Start a process that works in a folder of its own; return both."""
    process = subprocess.Popen(
        [sys.executable, "-c", WORKS, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout
    return process, Path(process.stdout.readline().strip())


def test_folder_is_private_and_goes_in_the_end(tmp_path: Path) -> None:
    """Whether all went well or not."""
    with scratch(tmp_path, NAME) as folder:
        assert folder.parent == tmp_path
        assert folder.stat().st_mode & 0o777 == 0o700
    with pytest.raises(ValueError, match="wrong"), scratch(tmp_path, NAME):
        raise ValueError("wrong")
    assert list(tmp_path.iterdir()) == []


def test_folder_that_took_another_place_stays_there(tmp_path: Path) -> None:
    """What is finished is given its name."""
    with scratch(tmp_path, NAME) as folder:
        folder.rename(tmp_path / "done")
    assert [one.name for one in tmp_path.iterdir()] == ["done"]


def test_what_a_killed_process_left_is_removed_and_what_a_living_one_has_is_not(
    tmp_path: Path,
) -> None:
    """Of two processes one is killed; then the other, too."""
    (killed, left), (living, kept) = working(tmp_path), working(tmp_path)
    try:
        sweep(tmp_path, NAME)
        assert {left, kept} == set(tmp_path.iterdir())
        killed.kill()
        killed.communicate()
        sweep(tmp_path, NAME)
        assert [kept] == list(tmp_path.iterdir())
        assert (kept / "half").read_text("utf-8") == "half"
    finally:
        living.kill()
        living.communicate()
    assert list(abandoned(tmp_path, NAME)) == [kept]
    sweep(tmp_path, NAME)
    assert list(tmp_path.iterdir()) == []


def test_folders_and_files_of_others_stay(tmp_path: Path) -> None:
    """Other names, files, and links, which are not followed."""
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine/letter").touch()
    (tmp_path / ".made-of-oak").mkdir()
    (tmp_path / ".made-12345678").touch()
    (tmp_path / ".made-abcdefgh").symlink_to(tmp_path / "mine")
    (tmp_path / ".made-aaaaaaaa").mkdir()
    sweep(tmp_path, NAME)
    found = sorted(one.name for one in tmp_path.iterdir())
    assert found == [".made-12345678", ".made-abcdefgh", ".made-of-oak", "mine"]
    assert (tmp_path / "mine/letter").exists()


def test_folder_that_is_swept_before_it_is_locked_is_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever sweeps cannot tell it from one that was left."""
    opened = os.open
    swept: list[Path] = []

    def late(path: Path, *settings: int) -> int:
        if not swept:
            swept.append(path)
            Path(path).rmdir()
        return opened(path, *settings)

    with monkeypatch.context() as patched:
        patched.setattr(os, "open", late)
        with scratch(tmp_path, NAME) as folder:
            assert folder.is_dir()
            assert folder not in swept


def test_where_nothing_can_be_made_or_seen(tmp_path: Path) -> None:
    """Making says so; sweeping is of no consequence."""
    with pytest.raises(OSError, match="nowhere"), scratch(tmp_path / "nowhere", NAME):
        pass
    sweep(tmp_path / "nowhere", NAME)
