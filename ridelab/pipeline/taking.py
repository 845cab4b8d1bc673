"""What a file holds: its ride, or the rides of an archive, or why there is none.

Files are looked into wherever there is time, here or in another process, and without the store;
what was found is stored here, by ``Intake``.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from ridelab import telemetry
from ridelab.errors import RideError, UnknownFormat
from ridelab.objects import Remote
from ridelab.pipeline.executing import Lost
from ridelab.pipeline.parcels import packed, taken
from ridelab.pipeline.sighting import without_path
from ridelab.problems import Problem
from ridelab.store import ReadFile, Road, storable

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridelab.pipeline.context import Log
    from ridelab.pipeline.parcels import Parcel, Place
    from ridelab.pipeline.readers import Readings
    from ridelab.pipeline.sighting import Shelf, Sight
    from ridelab.store import Store, StoredFile
    from ridelab.telemetry import Content, Ride

_NAMES_TOLD = 5
#: Samples that are stored in one transaction, 34 rides of two hours: a ride stored alone takes five
#: times as long. DuckDB writes whole row groups of 122,880 rows straight to their place.
_AT_ONCE = 2 * 122_880
#: Longer than this nothing that was read waits to be stored: a power cut costs no more.
_LONGEST_S = 2.0


@dataclass(frozen=True)
class Found:
    """One content of a file: its ride, or a refusal; neither where the ride is stored already.

    ``left_out``: the name of a member that is no ride file, ``file`` is then its archive.
    ``whole``: the file itself, where its content was not known before.
    """

    file: StoredFile
    ride: Parcel[ReadFile] | None = None
    samples: int = 0
    refusal: str = ""
    left_out: str = ""
    whole: StoredFile | None = None


@dataclass(frozen=True)
class Looking:
    """Looks into files; can be sent to another process. ``folder``: where it leaves rides.

    Without a folder a file is looked into while what is in it is being taken.
    """

    readings: Readings
    shelf: Shelf
    folder: Place

    def __call__(self, sight: Sight) -> Iterable[Found]:
        """Read what a file holds, but for rides on the shelf; nothing is stored."""
        contents = self._contents(sight)
        return contents if self.folder is None else tuple(contents)

    def _contents(self, sight: Sight) -> Iterator[Found]:
        file = sight.file
        if sight.action == "refuse":
            yield Found(file, refusal=sight.refusal)
        elif self.shelf.holds(file):
            yield Found(replace(file, status="ride"))
        else:
            try:
                source = sight.location
                if isinstance(source, Remote):
                    yield from self._fetched(source, file)
                    return
                for content in telemetry.contents_of(source):
                    yield self._one(content, file)
            except RideError as error:
                if isinstance(error.__cause__, OSError):
                    # it went, or could not be read just now: whatever it holds is looked at again
                    file = replace(file, sha256=None)
                yield Found(file, refusal=without_path(error, sight.location))

    def _fetched(self, remote: Remote, file: StoredFile) -> Iterator[Found]:
        """Look into an object, the content of which is known only now."""
        whole = telemetry.fetched(remote)
        file = replace(file, sha256=whole.sha256)
        if self.shelf.holds(file):
            yield Found(replace(file, status="ride"))
        else:
            for content in telemetry.contents_of(whole):
                yield replace(self._one(content, file), whole=file)

    def _one(self, content: Content, file: StoredFile) -> Found:
        began = time.perf_counter()
        whole = file
        if content.inside:
            file = _member(file, content)
        if self.shelf.holds(file):
            return Found(replace(file, status="ride"))
        try:
            ride, reading = self.readings.read(content, file.vehicle)
        except RideError as error:
            if isinstance(error, UnknownFormat) and content.inside:
                return Found(whole, left_out=content.inside)
            return Found(file, refusal=without_path(error, content.path))
        file = replace(file, status="ride", sha256=ride.sha256, reader=reading.reader)
        road = _road(ride)
        read = ReadFile(file, ride, road, seconds=time.perf_counter() - began)
        parcel = packed(read, self.folder)
        return Found(file, parcel, len(ride.samples))


class Intake:
    """Takes what was found in files, in their order, and stores it some rides at a time."""

    def __init__(self, store: Store, shelf: Shelf, log: Log) -> None:
        self._store, self._shelf, self._log = store, shelf, log
        self._waiting: list[ReadFile] = []
        self._samples, self._since = 0, time.monotonic()

    @property
    def is_due(self) -> bool:
        """Whether it is time to ``store``."""
        return self._samples >= _AT_ONCE or time.monotonic() > self._since + _LONGEST_S

    def take(self, sight: Sight, looked: Iterable[Found] | Lost) -> Iterator[StoredFile]:
        """Yield a file, and the members that are rides or set aside; rides go on the shelf.

        An archive comes after its members: one that was not finished is opened again by the next
        run. So is a file that ended its reader, which may have been for another reason.
        """
        if isinstance(looked, Lost):
            yield self._refuse(replace(sight.file, sha256=None), looked.said("read", "reads it"))
            return
        left_out: list[str] = []
        members, is_archive, whole = 0, True, sight.file
        for found in looked:
            whole = found.whole or whole
            if found.left_out:
                left_out.append(found.left_out)
                continue
            is_archive = is_archive and found.file.path != sight.file.path
            members += 1
            yield self._content(found)
        if is_archive:
            yield self._archive(whole, left_out, empty=not members)

    def store(self) -> None:
        """Store all that was taken and is not stored yet, in one transaction."""
        self._store.put_files(self._waiting)
        for read in self._waiting:
            self._log(*_event(read))
        self._waiting, self._samples, self._since = [], 0, time.monotonic()

    def _content(self, found: Found) -> StoredFile:
        if found.refusal:
            return self._refuse(found.file, found.refusal)
        if found.ride is not None:
            read = taken(found.ride)
            # another file of this run may have held the same
            if not self._shelf.holds(found.file):
                self._waiting.append(read)
                self._samples += found.samples
                self._shelf.add(found.file)
            if self.is_due:
                self.store()
        return found.file

    def _refuse(self, file: StoredFile, reason: str) -> StoredFile:
        self._waiting.append(ReadFile(file, refusal=reason))
        return file

    def _archive(self, file: StoredFile, left_out: Sequence[str], *, empty: bool) -> StoredFile:
        names = _some(left_out)
        if empty:
            return self._refuse(file, f"an archive without a ride file in it: it holds {names}")
        file = replace(file, status="archive")
        told = f"of no format that ridelab reads, and left out: {names}"
        problems = (Problem(file.path, "read", "warning", told),) if left_out else ()
        self._waiting.append(ReadFile(file, problems=problems))
        return file


def _event(read: ReadFile) -> tuple[str, dict[str, object]]:
    """Return what happened to a file, and the facts of it."""
    facts: dict[str, object] = {"path": read.file.path, "vehicle": read.file.vehicle}
    if read.refusal:
        return "file set aside", facts | {"reason": read.refusal}
    if read.ride is None:
        return "archive read", facts
    ride = {"ride": read.ride.sha256, "samples": len(read.ride.samples), "seconds": read.seconds}
    return "file read", facts | ride


def _road(ride: Ride) -> Road:
    """Return what the samples of a ride stand for, and its profile."""
    from ridelab.analysis.road import PROFILE_SCHEMA, ridden_road

    moments, profile = ridden_road(ride.samples, ride.pauses, barometer=ride.barometer)
    return Road(moments, pl.DataFrame([profile], schema=PROFILE_SCHEMA))


def _member(archive: StoredFile, content: Content) -> StoredFile:
    known = not content.refusal
    return replace(
        archive,
        path=f"{archive.path}/{storable(content.inside)}",
        size_bytes=len(content.data) if known else None,
        sha256=content.sha256 if known else None,
        archive=archive.path,
    )


def _some(names: Sequence[str]) -> str:
    told = ", ".join(names[:_NAMES_TOLD])
    more = len(names) - _NAMES_TOLD
    return f"{told} and {more} more" if more > 0 else told
