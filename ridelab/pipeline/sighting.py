"""What the campaign names as it is now, beside what the store knows: what needs to be read."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from ridelab import telemetry
from ridelab.errors import RideError
from ridelab.store import READER, StoredFile, storable

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping
    from pathlib import Path

    import polars as pl

    from ridelab.campaign import Campaign, FoundRides, Logger

#: ``keep``: its content is known; ``read``: it is not; ``refuse``: it cannot even be opened.
Action = Literal["keep", "read", "refuse"]
_OF_FIELD = " field "


@dataclass(frozen=True)
class Reading:
    """What the files of one vehicle are read with.

    ``reader``: version, loggers and rollout, and the field of the power at the wheel, as one text;
    another text, another result. Only files that loggers are tried on depend on more than the
    version, and FIT files on that field.
    """

    loggers: tuple[Logger, ...]
    rollout_m: float | None
    reader: str
    wheel_power_field: str | None = None


@dataclass(frozen=True)
class Sight:
    """A file as it is now, and what to do with it.

    ``refusal`` says why it cannot be opened; ``members`` are those of an archive that is kept.
    """

    location: Path
    file: StoredFile
    action: Action
    refusal: str = ""
    members: tuple[StoredFile, ...] = ()


def readings(campaign: Campaign) -> dict[str | None, Reading]:
    """Return what the files of each vehicle are read with; under None those of no vehicle yet."""
    of_vehicles: dict[str | None, Reading] = {
        name: _reading(
            campaign.loggers_of(name), vehicle.counted_rollout_m, vehicle.meters.wheel_field
        )
        for name, vehicle in campaign.vehicles.items()
    }
    return of_vehicles | {None: _reading(tuple(campaign.loggers.values()), None, None)}


def _reading(loggers: tuple[Logger, ...], rollout_m: float | None, field: str | None) -> Reading:
    reader = READER
    if loggers:
        needed = rollout_m if any(logger.needs_rollout for logger in loggers) else None
        reader += f" {_word((loggers, needed))}"
    if field is not None:
        reader += f"{_OF_FIELD}{_word(field)}"
    return Reading(loggers, rollout_m, reader, field)


def _word(settings: object) -> str:
    return hashlib.sha256(repr(settings).encode()).hexdigest()[:16]


def _enters(reader: str, form: str) -> str:
    """Return the part of a reader's text that what it makes of a file of that format depends on."""
    of_loggers, _, of_field = reader.partition(_OF_FIELD)
    return of_loggers if form == "csv" else of_field if form == "fit" else ""


class Shelf:
    """The rides that are stored and would come out the same if they were read again.

    One that a logger read, or a rollout entered into, would not once these have changed.
    """

    def __init__(self, rides: pl.DataFrame, read_with: Mapping[str | None, Reading]) -> None:
        """``rides``: ``recorded_rides``."""
        self._read_with = read_with
        self._known = {
            row["ride"]: (row["vehicle"], row["format"], row["reader"])
            for row in rides.iter_rows(named=True)
        }
        self.added: set[str] = set()

    def holds(self, file: StoredFile) -> bool:
        """Whether the ride of that content is here."""
        if file.sha256 is None or file.sha256 not in self._known:
            return False
        if file.sha256 in self.added:
            return True
        vehicle, form, reader = self._known[file.sha256]
        own = self._read_with[file.vehicle]
        # where a ride belongs is found out after it was read
        now = own if file.vehicle is None else self._read_with.get(vehicle, own)
        return _enters(reader, form) == _enters(now.reader, form)

    def add(self, file: StoredFile) -> None:
        """Take in a ride that has just been read."""
        if file.sha256 is not None:
            self.added.add(file.sha256)
            self._known[file.sha256] = (file.vehicle, "", "")


def survey(
    campaign: Campaign,
    found: FoundRides,
    known: Mapping[str, StoredFile],
    shelf: Shelf,
    read_with: Mapping[str | None, Reading],
) -> list[Sight]:
    """Look at each file, by path; ``known``: what the last run saw.

    A file with the size and time it had before is not opened; one with other ones is hashed.
    """
    members: dict[str, list[StoredFile]] = {}
    for file in known.values():
        if file.archive is not None:
            members.setdefault(file.archive, []).append(file)
    sights = []
    for vehicle, location in found.files:
        path = stored_path(campaign.root, location)
        seen = StoredFile(path, None, None, None, "set aside", vehicle, read_with[vehicle].reader)
        sights.append(_look(location, seen, known.get(path), members.get(path, ()), shelf))
    return sorted(sights, key=lambda sight: sight.file.path)


def stored_path(root: Path, location: Path) -> str:
    """Return how the store names a file: relative to the campaign's folder where it is inside."""
    inside = location.relative_to(root) if location.is_relative_to(root) else location
    return storable(inside.as_posix())


def without_path(error: RideError, location: Path) -> str:
    """Return a message without the path in front: the row has it, and the folder may move."""
    message = str(error)
    if not message.startswith(str(location)):
        return message
    rest = message.removeprefix(str(location))
    return f"at byte {rest[3:]}" if rest.startswith(" @ ") else rest.lstrip(": ")


def _look(
    location: Path,
    seen: StoredFile,
    before: StoredFile | None,
    members: Collection[StoredFile],
    shelf: Shelf,
) -> Sight:
    try:
        status = location.stat()
        file = replace(seen, size_bytes=status.st_size, mtime_ns=status.st_mtime_ns)
        same = before is not None and _stamp(before) == _stamp(file)
        sha256 = before.sha256 if before and same else None
        file = replace(file, sha256=sha256 or telemetry.sha256_of(location))
    except OSError as error:
        return Sight(location, seen, "refuse", f"cannot be opened: {error.strerror or error}")
    except RideError as error:
        return Sight(location, seen, "refuse", without_path(error, location))
    if shelf.holds(file):
        return Sight(location, replace(file, status="ride"), "keep")
    if before is None or not _tried(file, before):
        return Sight(location, file, "read")
    kept = tuple(_kept(member, file, shelf) for member in members)
    if not all(member.status == "ride" or member.reader == file.reader for member in kept):
        return Sight(location, file, "read")
    return Sight(location, replace(file, status=before.status), "keep", members=kept)


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
