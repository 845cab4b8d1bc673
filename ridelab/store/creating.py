"""A store that is not there yet: laid out beside its place, and put there whole.

DuckDB makes a file in several steps; killed between them, it would leave one that never opens.
"""

from __future__ import annotations

import shutil
import tempfile
from contextlib import suppress
from pathlib import Path

from ridelab.errors import StoreError
from ridelab.store import schema
from ridelab.store.database import Database


def create(path: Path) -> None:
    """Make an empty store, unless there is a file; what killed runs left of theirs goes.

    Raises:
        StoreError: it cannot be made there.
    """
    while path.parent.is_dir() and not path.exists():
        before = f".{path.name}.new-"
        for left in path.parent.glob(f"{before}*"):
            shutil.rmtree(left, ignore_errors=True)
        try:
            folder = Path(tempfile.mkdtemp(dir=path.parent, prefix=before))
        except OSError as error:
            raise StoreError(f"{path}: cannot be made: {error.strerror}") from error
        try:
            _laid_out(folder / path.name, path)
            # another run, begun at the same moment, may have swept the folder, or been first
            with suppress(FileNotFoundError, FileExistsError):
                _put(folder / path.name, path)
        finally:
            shutil.rmtree(folder, ignore_errors=True)


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
