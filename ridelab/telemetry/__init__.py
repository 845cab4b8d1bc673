"""Files -> Ride: ``read_ride`` is the one door; every format behind it returns the same columns."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from ridelab.errors import DamagedFile
from ridelab.telemetry import fit
from ridelab.telemetry.ride import Problem, Ride

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["Problem", "Ride", "read_ride", "sha256_of"]


class Format(NamedTuple):
    """One file format: is this content yours? then read it."""

    name: str
    sniff: Callable[[bytes], bool]
    read: Callable[[Path, bytes], Ride]


FORMATS = (Format("FIT", fit.sniff, fit.read),)


def read_ride(path: Path | str) -> Ride:
    """Read one ride file, whatever its format and name.

    What is odd about the file is told in ``Ride.problems``; nothing is smoothed or filled in.

    Raises:
        NotARide: the file can be read but holds no cycling ride.
        DamagedFile: the file cannot be opened, is of no known format, or breaks off before its
            first record.
    """
    path = Path(path)
    try:
        content = path.read_bytes()
    except OSError as exc:
        raise _unreadable(path, exc) from exc
    for known in FORMATS:
        if known.sniff(content):
            return known.read(path, content)
    found = f"begins with {content[:12]!r}" if content else "is empty"
    accepted = ", ".join(known.name for known in FORMATS)
    raise DamagedFile(f"{path}: not a ride file: {found}; accepted: {accepted}")


def sha256_of(path: Path | str) -> str:
    """SHA-256 of a file's content in hexadecimal: what ``Ride.sha256`` of that file would be.

    Raises:
        DamagedFile: the file cannot be opened or read.
    """
    try:
        with Path(path).open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as exc:
        raise _unreadable(path, exc) from exc


def _unreadable(path: Path | str, exc: OSError) -> DamagedFile:
    return DamagedFile(f"{path}: cannot be read: {exc.strerror or exc}")
