"""A store that a run is writing, copied for those who read: as it was when it was last committed.

DuckDB lets one process write a file or many read it, so a run would shut all readers out. But what
the file's header speaks of stays as it is until the next checkpoint writes another header: what is
new goes to other blocks, and commits are appended to a log beside. Copied in this order, header,
log, file, header again, log and file belong together if both headers are the same; if not, a
checkpoint came between, and they are copied again.
"""

from __future__ import annotations

import shutil
import tempfile
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.scratch import scratch, sweep

if TYPE_CHECKING:
    from collections.abc import Iterator

#: The main header of a DuckDB file, and the two that checkpoints write in turn, with a counter.
_HEADERS_BYTES = 3 * 4096
_LOG = ".wal"
_TRIES = 20
_NAME = "ridelab-reads-"


@contextmanager
def copied(path: Path) -> Iterator[Path | None]:
    """Yield a copy of a store that another process writes, in a folder that goes in the end.

    None: the store changed faster than it could be copied.

    Raises:
        OSError: it cannot be read, or there is no room for a copy.
    """
    sweep_copies()
    with scratch(Path(tempfile.gettempdir()), _NAME) as folder:  # nobody else can look into it
        copy = folder / path.name
        yield next((copy for _ in range(_TRIES) if _copied_whole(path, copy)), None)


def sweep_copies() -> None:
    """Remove the copies of those who were killed while they read."""
    with suppress(OSError):
        sweep(Path(tempfile.gettempdir()), _NAME)


def _copied_whole(path: Path, copy: Path) -> bool:
    log, copy_of_log = (one.with_name(one.name + _LOG) for one in (path, copy))
    before = _headers(path)
    copy_of_log.unlink(missing_ok=True)
    if log.exists():
        try:
            shutil.copyfile(log, copy_of_log)
        except FileNotFoundError:
            return False  # a checkpoint has just taken it in
    shutil.copyfile(path, copy)
    return _headers(path) == before


def _headers(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(_HEADERS_BYTES)
