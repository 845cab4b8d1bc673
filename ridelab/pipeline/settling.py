"""Which stored ride belongs to which file and vehicle, now that all files were looked at.

What was stored stays stored. A ride whose file is gone still counts; one that the campaign no
longer names, or that another recording of the same time stands for, is kept, but belongs to no
vehicle, and so is not measured.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from ridelab.objects import bucket_of, is_object, size
from ridelab.pipeline.assigning import assigned
from ridelab.pipeline.overlapping import same_time
from ridelab.pipeline.sighting import holders
from ridelab.problems import Problem
from ridelab.store import Owner

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
    from typing import Any

    import polars as pl

    from ridelab.campaign import Campaign
    from ridelab.pipeline.overlapping import Recording
    from ridelab.problems import Severity
    from ridelab.store import StoredFile

    #: A row of ``recorded_rides``.
    Record = Mapping[str, Any]


@dataclass(frozen=True)
class Settled:
    """The files with their final status, the rides that change owner, and what to tell of it.

    ``unassigned``: rides that no rule, or more than one, gives to a vehicle, each with the reason.
    """

    files: tuple[StoredFile, ...]
    changed: dict[str, Owner]
    problems: tuple[Problem, ...]
    unassigned: dict[str, str] = field(default_factory=dict)


def settled(
    campaign: Campaign,
    files: Iterable[StoredFile],
    rides: pl.DataFrame,
    evidence: Callable[[Collection[str]], Mapping[str, float]],
) -> Settled:
    """Decide for each file whether it stands for its ride, and for each ride where it belongs.

    ``files``: all that the campaign names, each ``set aside`` or not; ``rides``: the relation
    ``recorded_rides``; ``evidence``: how many seconds rides can be measured by.
    """
    by_path = {file.path: file for file in sorted(files, key=lambda file: file.path)}
    records = {row["ride"]: row for row in rides.iter_rows(named=True)}
    standing = _standing(by_path.values(), records)
    problems: list[Problem] = []
    owners, unassigned = _assigned(campaign, standing, records)
    problems += [
        _problem(owners[ride].path, "warning", reason) for ride, reason in unassigned.items()
    ]
    for ride in records.keys() - standing.keys():
        owners[ride], problem = _left(campaign, records[ride], by_path, records)
        problems.append(problem)
    poorer = {one.ride: (one, other) for one, other in _recorded_twice(owners, records, evidence)}
    for ride, (one, richer) in poorer.items():
        owners[ride] = Owner(one.path, None)
        problems.append(_poorer(one, richer))
    copies = {
        file.path: standing[file.sha256 or ""]
        for file in by_path.values()
        if file.status == "ride" and standing.get(file.sha256 or "", file) is not file
    }
    problems += [_copy(by_path[path], first) for path, first in copies.items()]
    final = tuple(
        replace(file, status="duplicate") if path in copies or file.sha256 in poorer else file
        for path, file in by_path.items()
    )
    changed = {
        ride: owner
        for ride, owner in sorted(owners.items())
        if owner != Owner(records[ride]["path"], records[ride]["vehicle"])
    }
    return Settled(final, changed, tuple(sorted(problems, key=lambda one: one.path)), unassigned)


def _assigned(
    campaign: Campaign, standing: Mapping[str, StoredFile], records: Mapping[str, Record]
) -> tuple[dict[str, Owner], dict[str, str]]:
    """Return where each ride with a file belongs, and why some belong to no vehicle."""
    owners, unassigned = {}, {}
    for ride, file in standing.items():
        record = records[ride]
        where = assigned(campaign, file.vehicle, record["device"], record["started_at"])
        owners[ride] = Owner(file.path, where.vehicle)
        if where.vehicle is None:
            unassigned[ride] = where.reason
    return owners, unassigned


def _recorded_twice(
    owners: Mapping[str, Owner],
    records: Mapping[str, Record],
    evidence: Callable[[Collection[str]], Mapping[str, float]],
) -> Iterator[tuple[Recording, Recording]]:
    """Yield the rides that another recording of the same vehicle and time stands for, with it."""
    of_vehicle: dict[str, dict[str, str]] = {}
    for ride, owner in owners.items():
        if owner.vehicle is not None:
            of_vehicle.setdefault(owner.vehicle, {})[ride] = owner.path
    for paths in of_vehicle.values():
        yield from same_time(paths, records, evidence).values()


def _poorer(poorer: Recording, richer: Recording) -> Problem:
    return _problem(
        poorer.path,
        "note",
        f"ridden at the same time as {richer.path}, which tells more of it ({richer}, here "
        f"{poorer}): that one is measured, this one stays stored",
    )


def _standing(files: Iterable[StoredFile], records: Mapping[str, Record]) -> dict[str, StoredFile]:
    """Return for each ride with a file the one it stands for: as before, else the first by path."""
    standing: dict[str, StoredFile] = {}
    for file in files:
        record = records.get(file.sha256 or "")
        if file.status == "set aside" or record is None:
            continue
        if file.path == record["path"]:
            standing[record["ride"]] = file
        else:
            standing.setdefault(record["ride"], file)
    return standing


def _copy(file: StoredFile, owner: StoredFile) -> Problem:
    if file.vehicle == owner.vehicle or None in (file.vehicle, owner.vehicle):
        return _problem(file.path, "note", f"same content as {owner.path}: counted once")
    message = (
        f"same content as {owner.path} of {owner.vehicle!r}, though claimed by {file.vehicle!r}: "
        f"counted once, for {owner.vehicle!r}"
    )
    return _problem(file.path, "warning", message)


def _left(
    campaign: Campaign,
    record: Record,
    files: Mapping[str, StoredFile],
    records: Mapping[str, Record],
) -> tuple[Owner, Problem]:
    """Return where a ride without a file of its content belongs, and what to tell of it."""
    path = record["path"]
    vehicle = record["vehicle"] if record["vehicle"] in campaign.vehicles else None
    if path in files:
        if files[path].sha256 == record["ride"]:
            message = "the ride read from it before, by other settings, stays stored, not measured"
            return Owner(path, None), _problem(path, "warning", message)
        newer = records.get(files[path].sha256 or "")
        if files[path].sha256 is None:
            message = "the ride read from this file before stays stored and still counts"
            return Owner(path, vehicle), _problem(path, "note", message)
        twice = newer is not None and _overlap(record, newer)
        told = "not measured, as the new content covers the same time" if twice else "still counts"
        message = f"its content changed; the ride read from it before stays stored and {told}"
        return Owner(path, None if twice else vehicle), _problem(path, "warning", message)
    above = holders(path)
    archive = next((holder for holder in above if holder in files), None)
    if archive is not None:
        known = files[archive].sha256 is not None
        said = f"it is not in the archive {archive} any more: " if known else ""
        message = f"{said}the ride read from it before stays stored and still counts"
        return Owner(path, vehicle), _problem(path, "note", message)
    if any(is_there(campaign, place) for place in (path, *above)):
        message = "no vehicle of the campaign claims it now; its ride stays stored, not measured"
        return Owner(path, None), _problem(path, "warning", message)
    message = "the file is gone; the ride read from it stays stored"
    if record["vehicle"] is None:
        message += ", not measured"
    elif vehicle is None:
        message += ", not measured, as its vehicle is not in the campaign"
    return Owner(path, vehicle), _problem(path, "note", message)


def is_there(campaign: Campaign, path: str) -> bool:
    """Whether a file is there; of objects, as far as they are in a bucket that rides come from."""
    if not is_object(path):
        return (campaign.root / path).is_file()
    patterns = [*campaign.rides, *(one for own in campaign.vehicles.values() for one in own.rides)]
    if bucket_of(path) not in {bucket_of(one) for one in patterns if is_object(one)}:
        return True  # it is not asked for; nothing says that it went
    try:
        return size(path) >= 0
    except OSError:
        return False


def _overlap(one: Record, other: Record) -> bool:
    (one_from, one_to), (other_from, other_to) = (
        (ride["started_at"], ride["started_at"] + timedelta(seconds=ride["duration_s"]))
        for ride in (one, other)
    )
    return bool(one_from <= other_to and other_from <= one_to)


def _problem(path: str, severity: Severity, message: str) -> Problem:
    return Problem(path, "files", severity, message)
