"""Files -> Ride: ``read_ride`` is the one door; every format behind it returns the same columns.

A file may be an archive of several rides, which ``read_rides`` reads; ``contents_of`` and
``read_content`` are its two halves, for callers that know some of the contents already.
"""

from __future__ import annotations

import hashlib
import os
import stat
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from ridelab import objects
from ridelab.errors import DamagedFile, NotARide, RideError, UnknownFormat
from ridelab.telemetry import fit, gpx
from ridelab.telemetry.archives import Content, unpack
from ridelab.telemetry.archives.bounds import MAX_TOTAL_BYTES
from ridelab.telemetry.ride import Problem, Ride
from ridelab.telemetry.wheel_power import with_wheel_power

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from ridelab.campaign.loggers import Logger
    from ridelab.objects import Remote

__all__ = [
    "Content",
    "Problem",
    "Ride",
    "contents_of",
    "fetched",
    "read_content",
    "read_ride",
    "read_rides",
    "sha256_of",
]


class Format(NamedTuple):
    """One file format: is this content yours? then read it."""

    name: str
    sniff: Callable[[bytes], bool]
    read: Callable[[Path, bytes], Ride]


FORMATS = (Format("FIT", fit.sniff, fit.read), Format("GPX", gpx.sniff, gpx.read))


def read_ride(
    path: Path | str, loggers: Sequence[Logger] = (), rollout_m: float | None = None
) -> Ride:
    """Read the one ride of a file, whatever its format and name; the file may be packed.

    What is odd about the file is told in ``Ride.problems``; nothing is smoothed or filled in.
    ``loggers`` say how CSV files may be written, ``Campaign.loggers_of`` has them; ``rollout_m``,
    metres a turn of the driven wheel, is needed where such a file counts the turns of the wheel.

    Raises:
        NotARide: the file can be read but holds no cycling ride, or is an archive of several.
        DamagedFile: the file cannot be opened, is of no known format, or breaks off before its
            first record.
        RideError: a CSV file that two loggers fit, or whose logger needs a rollout.
    """
    rides: list[Ride] = []
    errors: list[RideError] = []
    for found in read_rides(path, loggers, rollout_m):
        rides.append(found) if isinstance(found, Ride) else errors.append(found)
    if not rides:
        raise errors[0]
    if len(rides) > 1:
        raise NotARide(f"{path}: an archive of {len(rides)} rides; read_rides reads them all")
    left_out = (Problem(str(path), "read", "warning", f"left out: {error}") for error in errors)
    return replace(rides[0], problems=(*rides[0].problems, *left_out))


def read_rides(
    path: Path | str, loggers: Sequence[Logger] = (), rollout_m: float | None = None
) -> list[Ride | RideError]:
    """Read all rides of a file: one, or as many as an archive holds, each read as ``read_ride``.

    A content that cannot be used as a ride stands there as the error that says why.

    Raises:
        DamagedFile: the file cannot be opened.
    """
    return [_ride_or_error(content, loggers, rollout_m) for content in contents_of(path)]


def fetched(remote: Remote) -> Content:
    """Return the whole content of an object, for ``contents_of``.

    Raises:
        DamagedFile: it cannot be had, or is larger than ``MAX_TOTAL_BYTES``.
    """
    try:
        data = objects.read(remote.url, MAX_TOTAL_BYTES)
    except OSError as exc:
        raise _unreadable(remote, exc) from exc
    if data is None:
        raise _too_large(remote)
    return Content(Path(remote.url), data)


def contents_of(path: Path | str | Content) -> Iterator[Content]:
    """Yield what a file holds: itself, or one by one the contents of an archive.

    Raises:
        DamagedFile: the file cannot be opened, or is none, or is larger than ``MAX_TOTAL_BYTES``.
    """
    if isinstance(path, Content):
        yield from unpack(path.path, path.data)
        return
    path = Path(path)
    try:
        with path.open("rb") as file:
            told = os.fstat(file.fileno())
            fits = stat.S_ISREG(told.st_mode) and told.st_size <= MAX_TOTAL_BYTES
            content = file.read() if fits else b""
    except OSError as exc:
        raise _unreadable(path, exc) from exc
    if not fits:
        raise _too_large(path)
    yield from unpack(path, content)


def read_content(
    content: Content,
    loggers: Sequence[Logger] = (),
    rollout_m: float | None = None,
    wheel_power_field: str | None = None,
) -> Ride:
    """Read one content as a ride.

    ``wheel_power_field``: the field of ``Ride.extra_fields`` that holds the power at the wheel.

    Raises:
        RideError: as ``read_ride``; UnknownFormat where no reader takes it.
    """
    if content.refusal:
        raise DamagedFile(f"{content.path}: {content.refusal}")
    ride = _read(content, loggers, rollout_m)
    if wheel_power_field is not None and ride.format == "fit":
        ride = with_wheel_power(ride, wheel_power_field)
    return replace(ride, problems=(*content.problems, *ride.problems))


def _read(content: Content, loggers: Sequence[Logger], rollout_m: float | None) -> Ride:
    path, data = content.path, content.data
    for known in FORMATS:
        if known.sniff(data):
            return known.read(path, data)
    if data and loggers:
        from ridelab.telemetry import logs

        return logs.read(path, data, loggers, rollout_m)
    # Enough to know a format by; a campaign may name any file, and its report be passed on.
    found = f"begins with {data[:4]!r}" if data else "is empty"
    accepted = ", ".join(known.name for known in FORMATS)
    raise UnknownFormat(
        f"{path}: not a ride file: {found}; accepted: {accepted}, CSV that a [loggers] table of "
        "the campaign describes, and .zip and .gz of these"
    )


def _ride_or_error(
    content: Content, loggers: Sequence[Logger], rollout_m: float | None
) -> Ride | RideError:
    try:
        return read_content(content, loggers, rollout_m)
    except RideError as error:
        return error


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


def _too_large(path: Path | Remote) -> DamagedFile:
    accepted = f"accepted: files of up to {MAX_TOTAL_BYTES >> 30} GiB"
    return DamagedFile(f"{path}: too large for a ride, or no file; {accepted}")


def _unreadable(path: Path | str | Remote, exc: OSError) -> DamagedFile:
    return DamagedFile(f"{path}: cannot be read: {exc.strerror or exc}")
