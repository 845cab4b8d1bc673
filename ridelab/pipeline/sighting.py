"""What the campaign names as it is now, beside what the store knows: what needs to be read."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Literal

from ridelab import telemetry
from ridelab.errors import RideError
from ridelab.objects import Remote, stored_form
from ridelab.pipeline.readers import enters
from ridelab.store import StoredFile, storable

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    import polars as pl

    from ridelab.campaign import Campaign, FoundRides
    from ridelab.pipeline.readers import Readings

#: ``keep``: its content is known; ``read``: it is not; ``refuse``: it cannot even be opened.
Action = Literal["keep", "read", "refuse"]


@dataclass(frozen=True)
class Sight:
    """A file as it is now, and what to do with it.

    ``refusal`` says why it cannot be opened; ``members`` are those of an archive that is kept.
    """

    location: Path | Remote
    file: StoredFile
    action: Action
    refusal: str = ""
    members: tuple[StoredFile, ...] = ()


class Shelf:
    """The rides that are stored and would come out the same if they were read again.

    One that a logger read, or a rollout entered into, would not once these have changed.
    """

    def __init__(self, rides: pl.DataFrame, readings: Readings) -> None:
        """``rides``: ``recorded_rides``."""
        self._readings = readings
        self._known = {
            row["ride"]: (row["format"], row["reader"], row["device"], row["started_at"])
            for row in rides.iter_rows(named=True)
        }
        self.added: set[str] = set()

    def holds(self, file: StoredFile) -> bool:
        """Whether the ride of that content is here."""
        if file.sha256 in self.added:
            return True
        if (known := self._known.get(file.sha256 or "")) is None:
            return False
        form, reader, device, started_at = known
        now = self._readings.of_ride(file.vehicle, device, started_at)
        return enters(reader, form) == enters(now.reader, form)

    def add(self, file: StoredFile) -> None:
        """Take in a ride that has just been read."""
        if file.sha256 is not None:
            self.added.add(file.sha256)


def survey(
    campaign: Campaign,
    found: FoundRides,
    known: Mapping[str, StoredFile],
    shelf: Shelf,
    readings: Readings,
) -> list[Sight]:
    """Look at each file, by path; ``known``: what the last run saw.

    A file with the size and time it had before is not opened; one with other ones is hashed, an
    object by whoever reads it.
    """
    members: dict[str, list[StoredFile]] = {}
    for file in known.values():
        if file.archive is not None:
            members.setdefault(file.archive, []).append(file)
    sights = []
    for vehicle, location in found.files:
        path = stored_path(campaign.root, location)
        seen = StoredFile(path, None, None, None, "set aside", vehicle, readings.of(vehicle).tried)
        sights.append(_look(location, seen, known.get(path), members.get(path, ()), shelf))
    return sorted(sights, key=lambda sight: sight.file.path)


def stored_path(root: Path, location: Path | Remote) -> str:
    """Return how the store names a file: relative to the campaign's folder where it is inside."""
    if isinstance(location, Remote):
        return storable(location.url)
    inside = location.relative_to(root) if location.is_relative_to(root) else location
    return storable(inside.as_posix())


def holders(path: str) -> list[str]:
    """Return what a stored path lies in, an archive among these or folders, the nearest first."""
    return [stored_form(str(holder)) for holder in PurePosixPath(path).parents]


def without_path(error: RideError, location: Path | Remote) -> str:
    """Return a message without the path in front: the row has it, and the folder may move."""
    message = str(error)
    if not message.startswith(str(location)):
        return message
    rest = message.removeprefix(str(location))
    return f"at byte {rest[3:]}" if rest.startswith(" @ ") else rest.lstrip(": ")


def _look(
    location: Path | Remote,
    seen: StoredFile,
    before: StoredFile | None,
    members: Collection[StoredFile],
    shelf: Shelf,
) -> Sight:
    try:
        size_bytes, mtime_ns = _found(location)
        file = replace(seen, size_bytes=size_bytes, mtime_ns=mtime_ns)
        same = before is not None and _stamp(before) == _stamp(file)
        sha256 = before.sha256 if before and same else None
        if sha256 is None and isinstance(location, Path):
            sha256 = telemetry.sha256_of(location)
        file = replace(file, sha256=sha256)
    except OSError as error:
        return Sight(location, seen, "refuse", f"cannot be opened: {error.strerror or error}")
    except RideError as error:
        return Sight(location, seen, "refuse", without_path(error, location))
    if shelf.holds(file):
        return Sight(location, replace(file, status="ride"), "keep")
    if before is None or file.sha256 is None or not _tried(file, before):
        return Sight(location, file, "read")
    kept = tuple(_kept(member, file, shelf) for member in members)
    if not all(member.status == "ride" or member.reader == file.reader for member in kept):
        return Sight(location, file, "read")
    return Sight(location, replace(file, status=before.status), "keep", members=kept)


def _found(location: Path | Remote) -> tuple[int, int]:
    """Return size and time of the last change."""
    if isinstance(location, Remote):
        return location.size_bytes, location.stamp_ns
    status = location.stat()
    return status.st_size, status.st_mtime_ns


def _stamp(file: StoredFile) -> tuple[int | None, int | None]:
    return file.size_bytes, file.mtime_ns


def _tried(file: StoredFile, before: StoredFile) -> bool:
    """Whether these readers have looked into the same content and found no ride in it itself."""
    if before.status not in ("set aside", "archive"):
        return False
    return (before.sha256, before.reader) == (file.sha256, file.reader)


def _kept(member: StoredFile, archive: StoredFile, shelf: Shelf) -> StoredFile:
    """Return a member of an archive whose content is as before."""
    member = replace(member, mtime_ns=archive.mtime_ns, vehicle=archive.vehicle)
    return replace(member, status="ride" if shelf.holds(member) else "set aside")
