"""One file into the store: its ride, or the rides of an archive, or why there is none."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ridelab import telemetry
from ridelab.errors import RideError, UnknownFormat
from ridelab.pipeline.sighting import without_path
from ridelab.problems import Problem
from ridelab.store import storable

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridelab.pipeline.sighting import Reading, Shelf, Sight
    from ridelab.store import Store, StoredFile
    from ridelab.telemetry import Content

_NAMES_TOLD = 5


def taken(store: Store, sight: Sight, reading: Reading, shelf: Shelf) -> Iterator[StoredFile]:
    """Store what a file holds; yield the file, and the members that are rides or set aside.

    Rides go on the ``shelf``. An archive is stored after its members: one that was not finished is
    opened again by the next run.
    """
    if sight.action == "refuse":
        yield _set_aside(store, sight.file, sight.refusal)
    elif shelf.holds(sight.file):
        yield replace(sight.file, status="ride")
    else:
        try:
            contents = telemetry.contents_of(sight.location)
            yield from _all(store, sight.file, contents, reading, shelf)
        except RideError as error:
            yield _set_aside(store, sight.file, without_path(error, sight.location))


def _all(
    store: Store,
    file: StoredFile,
    contents: Iterable[Content],
    reading: Reading,
    shelf: Shelf,
) -> Iterator[StoredFile]:
    members: list[StoredFile] = []
    left_out: list[str] = []
    settled = False
    for content in contents:
        one = _one(store, content, file, reading, shelf)
        if one is None:
            left_out.append(content.inside)
            continue
        settled = settled or not content.inside
        members.append(one)
        yield one
    if not settled:
        yield _archive(store, file, left_out, empty=not members)


def _one(
    store: Store, content: Content, file: StoredFile, reading: Reading, shelf: Shelf
) -> StoredFile | None:
    """Store one content; return what became of it, None for a member that is no ride file."""
    if content.inside:
        file = _member(file, content)
    if shelf.holds(file):
        return replace(file, status="ride")
    try:
        ride = telemetry.read_content(
            content, reading.loggers, reading.rollout_m, reading.wheel_power_field
        )
    except RideError as error:
        if isinstance(error, UnknownFormat) and content.inside:
            return None
        return _set_aside(store, file, without_path(error, content.path))
    file = replace(file, status="ride", sha256=ride.sha256)
    store.put_ride(ride, file)
    shelf.add(file)
    return file


def _member(archive: StoredFile, content: Content) -> StoredFile:
    known = not content.refusal
    return replace(
        archive,
        path=f"{archive.path}/{storable(content.inside)}",
        size_bytes=len(content.data) if known else None,
        sha256=content.sha256 if known else None,
        archive=archive.path,
    )


def _archive(store: Store, file: StoredFile, left_out: Sequence[str], *, empty: bool) -> StoredFile:
    names = ", ".join(left_out[:_NAMES_TOLD])
    if len(left_out) > _NAMES_TOLD:
        names += f" and {len(left_out) - _NAMES_TOLD} more"
    if empty:
        return _set_aside(store, file, f"an archive without a ride file in it: it holds {names}")
    file = replace(file, status="archive")
    told = f"of no format that ridelab reads, and left out: {names}"
    problems = [Problem(file.path, "read", "warning", told)] if left_out else []
    store.put_archive(file, problems)
    return file


def _set_aside(store: Store, file: StoredFile, reason: str) -> StoredFile:
    store.set_aside(file, reason)
    return file
