"""A store that is not there yet: laid out beside its place, and put there whole.

DuckDB makes a file in several steps; killed between them, it would leave one that never opens.
"""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

from ridelab.errors import StoreError
from ridelab.scratch import scratch, sweep
from ridelab.store import schema
from ridelab.store.database import Database

if TYPE_CHECKING:
    from pathlib import Path


def create(path: Path) -> None:
    """Make an empty store, unless there is a file; what killed runs left of theirs goes.

    Raises:
        StoreError: it cannot be made there.
    """
    if not path.parent.is_dir():
        return
    name = f".{path.name}.new-"
    sweep(path.parent, name)
    if path.exists():
        return
    try:
        with scratch(path.parent, name) as folder:
            _laid_out(folder / path.name, path)
            with suppress(FileExistsError):  # another run, begun at the same moment, was first
                _put(folder / path.name, path)
    except OSError as error:
        raise StoreError(f"{path}: cannot be made: {error.strerror}") from error


def sweep_spilt(path: Path) -> None:
    """Remove what killed processes have put beside a store for want of memory.

    Whoever holds the store to write, and has not begun, may: nobody else works on it then.
    """
    folder = path.with_name(path.name + ".tmp")
    if folder.is_symlink() or not folder.is_dir():
        return
    with suppress(OSError):
        for file in folder.glob("duckdb_temp_*"):
            file.unlink(missing_ok=True)
        folder.rmdir()


def _laid_out(new: Path, path: Path) -> None:
    try:
        database = Database.connect(new, read_only=False)
        try:
            schema.prepare(database)
        finally:
            database.close()
    except StoreError as error:
        raise StoreError(str(error).replace(str(new), str(path))) from error


def _put(new: Path, path: Path) -> None:
    """Give the file its name, unless that is taken."""
    try:
        path.hardlink_to(new)
    except FileExistsError:
        raise
    except OSError:
        new.rename(path)  # a file system without links
