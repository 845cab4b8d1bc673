"""The stage ``read``: every file that the campaign names is looked at, only new ones are read."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from ridelab import telemetry
from ridelab.campaign import find_rides
from ridelab.errors import RideError
from ridelab.pipeline.context import PlannedStage, Progress
from ridelab.pipeline.settling import settled
from ridelab.store import READER, StoredFile, storable

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from ridelab.campaign import Campaign, FoundRides
    from ridelab.pipeline.context import Context
    from ridelab.problems import Problem
    from ridelab.store import Store

#: ``keep``: its content is known; ``read``: it is not; ``refuse``: it cannot even be opened.
Action = Literal["keep", "read", "refuse"]


@dataclass(frozen=True)
class Sight:
    """A file as it is now, and what to do with it; ``refusal`` says why it cannot be opened."""

    location: Path
    file: StoredFile
    action: Action
    refusal: str = ""


def survey(
    campaign: Campaign,
    found: FoundRides,
    known: Mapping[str, StoredFile],
    stored: Collection[str],
) -> list[Sight]:
    """Look at each file, by path; ``known``: what the last run saw, ``stored``: rides we have.

    A file with the size and time it had before is not opened; one with other ones is hashed.
    """
    sights = [
        _look(location, stored_path(campaign.root, location), vehicle, known, stored)
        for vehicle, location in found.files
    ]
    return sorted(sights, key=lambda sight: sight.file.path)


def read(context: Context, _settings: Mapping[str, object]) -> None:
    """Read what is new, one transaction a file; then settle which ride belongs where."""
    store, campaign = context.store, context.campaign
    found = find_rides(campaign)
    stored = set(store.owners())
    sights = survey(campaign, found, store.files(), stored)
    to_do = [sight for sight in sights if sight.action != "keep"]
    new, kept = [], [sight.file for sight in sights if sight.action == "keep"]
    context.listen(Progress("read", 0, len(to_do)))
    for done, sight in enumerate(to_do, 1):
        file = _take(context, sight, stored)
        stored.add(file.sha256 or "")
        new.append(file)
        context.listen(Progress("read", done, len(to_do), file.path))
    result = settled(campaign, [*kept, *new], store.frame("recorded_rides"))
    store.settle(result.files, result.changed, result.problems)
    store.put_problems("campaign", _as_stored(found, campaign.root))
    before = {file.path for file in kept}
    context.outcome = replace(
        context.outcome,
        read=sum(one.status == "ride" and one.path not in before for one in result.files),
        unchanged=sum(one.status == "ride" and one.path in before for one in result.files),
        duplicates=sum(one.status == "duplicate" for one in result.files),
        set_aside=sum(one.status == "set aside" for one in result.files)
        + sum(problem.severity == "error" for problem in found.problems),
    )


def plan_reading(campaign: Campaign, store: Store | None) -> PlannedStage:
    """Return which files would be read."""
    known, stored = ({}, ()) if store is None else (store.files(), store.owners())
    sights = survey(campaign, find_rides(campaign), known, stored)
    to_do = tuple(sight.file.path for sight in sights if sight.action != "keep")
    return PlannedStage(
        "read", "read files that are new or changed", to_do, len(sights) - len(to_do)
    )


def stored_path(root: Path, location: Path) -> str:
    """Return how the store names a file: relative to the campaign's folder where it is inside."""
    inside = location.relative_to(root) if location.is_relative_to(root) else location
    return storable(inside.as_posix())


def _look(
    location: Path,
    path: str,
    vehicle: str,
    known: Mapping[str, StoredFile],
    stored: Collection[str],
) -> Sight:
    blank = StoredFile(path, None, None, None, "set aside", vehicle)
    try:
        status = location.stat()
        file = replace(blank, size_bytes=status.st_size, mtime_ns=status.st_mtime_ns)
        before = known.get(path)
        same = before is not None and _stamp(before) == _stamp(file)
        sha256 = before.sha256 if before and same else None
        file = replace(file, sha256=sha256 or telemetry.sha256_of(location))
    except OSError as error:
        return Sight(location, blank, "refuse", f"cannot be opened: {error.strerror or error}")
    except RideError as error:
        return Sight(location, blank, "refuse", _without_path(error, location))
    if file.sha256 in stored:
        return Sight(location, replace(file, status="ride"), "keep")
    tried = before and (before.sha256, before.status, before.reader)
    return Sight(location, file, "keep" if tried == (file.sha256, "set aside", READER) else "read")


def _stamp(file: StoredFile) -> tuple[int | None, int | None]:
    return file.size_bytes, file.mtime_ns


def _take(context: Context, sight: Sight, stored: Collection[str]) -> StoredFile:
    """Store the ride of a file, or why there is none; return what the file turned out to be."""
    if sight.action == "refuse":
        context.store.set_aside(sight.file, sight.refusal)
        return sight.file
    if sight.file.sha256 in stored:
        return replace(sight.file, status="ride")
    try:
        ride = telemetry.read_ride(sight.location)
    except RideError as error:
        context.store.set_aside(sight.file, _without_path(error, sight.location))
        return sight.file
    file = replace(sight.file, status="ride", sha256=ride.sha256)
    context.store.put_ride(ride, file)
    return file


def _without_path(error: RideError, location: Path) -> str:
    """Return a message without the path in front: the row has it, and the folder may move."""
    message = str(error)
    if not message.startswith(str(location)):
        return message
    rest = message.removeprefix(str(location))
    return f"at byte {rest[3:]}" if rest.startswith(" @ ") else rest.lstrip(": ")


def _as_stored(found: FoundRides, root: Path) -> Sequence[Problem]:
    """Return the problems of the globs, files named as the store names them."""
    return [
        replace(problem, path=stored_path(root, Path(problem.path)))
        if Path(problem.path).is_absolute()
        else problem
        for problem in found.problems
    ]
