"""Folders for what is not finished: whoever is killed leaves them, and the next one removes them.

Who works in such a folder holds a lock on it, which ends with the process, however that ends. So
one that can be locked belongs to nobody, and that of a living process never can.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
import tempfile
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

if sys.platform != "win32":  # no such locks there: what is left stays
    import fcntl

if TYPE_CHECKING:
    from collections.abc import Iterator

#: What ``mkdtemp`` puts behind the name that it is given.
_CHANCE = r"[a-z0-9_]{8}"


@contextmanager
def scratch(parent: Path, name: str) -> Iterator[Path]:
    """Make a new folder in ``parent``, for its user alone; remove it at the end if it is there.

    ``name``: what its name begins with, as that of no folder of anybody else's.

    Raises:
        OSError: it cannot be made.
    """
    folder, held = _made(parent, name)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        if held is not None:
            os.close(held)


def sweep(parent: Path, name: str) -> None:
    """Remove the folders of that name that killed processes have left, as far as that can be."""
    with suppress(OSError):
        for left in abandoned(parent, name):
            shutil.rmtree(left, ignore_errors=True)


def abandoned(parent: Path, name: str) -> Iterator[Path]:
    """Yield the folders that ``scratch`` made with this name and nobody works in, each locked.

    Raises:
        OSError: ``parent`` cannot be looked into.
    """
    ours = re.compile(re.escape(name) + _CHANCE)
    for left in sorted(one for one in parent.iterdir() if ours.fullmatch(one.name)):
        try:
            held = _locked(left, surely=True)
        except OSError:
            continue
        if held is None:
            return
        try:
            yield left
        finally:
            os.close(held)


def _made(parent: Path, name: str) -> tuple[Path, int | None]:
    """Make a folder and lock it; whoever sweeps may be between."""
    while True:
        folder = Path(tempfile.mkdtemp(dir=parent, prefix=name))
        try:
            return folder, _locked(folder)
        except OSError:
            shutil.rmtree(folder, ignore_errors=True)


def _locked(folder: Path, *, surely: bool = False) -> int | None:
    """Lock a folder; return what holds the lock until it is closed, None where there are no locks.

    ``surely``: not on a file system without locks, on which nothing can be told of others.

    Raises:
        OSError: it is gone, somebody else's, or locked.
    """
    if sys.platform == "win32":
        return None
    held = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    try:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if surely or isinstance(error, BlockingIOError):
                raise
        _must_be_ours(held, folder)
    except BaseException:
        os.close(held)
        raise
    return held


def _must_be_ours(held: int, folder: Path) -> None:
    """Refuse what is not there any more, or belongs to another user."""
    found, there = os.fstat(held), folder.stat(follow_symlinks=False)
    if not os.path.samestat(found, there) or found.st_uid != os.geteuid():
        raise PermissionError(f"{folder} is another's")
