"""The stage ``read``: every file that the campaign names is looked at, only new ones are read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from ridelab.campaign import find_rides
from ridelab.pipeline.context import PlannedStage, Progress
from ridelab.pipeline.executing import in_order
from ridelab.pipeline.readers import Readings
from ridelab.pipeline.settling import settled
from ridelab.pipeline.sighting import Shelf, stored_path, survey
from ridelab.pipeline.taking import Intake, Looking

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from ridelab.campaign import Campaign, FoundRides
    from ridelab.pipeline.context import Context
    from ridelab.pipeline.settling import Settled
    from ridelab.pipeline.sighting import Sight
    from ridelab.problems import Problem
    from ridelab.store import Store, StoredFile

#: Files that wait at a worker, so that it has something to do while rides are being stored.
_AHEAD = 24
#: FIT files on one core, as the benchmark ``pipeline`` measures it.
_BYTES_A_SECOND = 20e6


def read(context: Context, _settings: Mapping[str, object]) -> None:
    """Read what is new, a ride whole or not at all; then settle which ride belongs where."""
    store, campaign = context.store, context.campaign
    found = find_rides(campaign)
    readings = Readings(campaign)
    shelf = Shelf(store.frame("recorded_rides"), readings)
    sights = survey(campaign, found, store.files(), shelf, readings)
    to_do = [sight for sight in sights if sight.action != "keep"]
    files = [one for sight in sights if sight.action == "keep" for one in _kept(sight)]
    files += _taken(context, to_do, readings, shelf)
    rides = store.frame("recorded_rides")
    result = settled(campaign, files, rides, lambda asked: _evidence(store, asked))
    store.settle(result.files, result.changed, result.problems)
    store.replace("unassigned_rides", _unassigned(result, store.frame("recorded_rides")))
    store.put_problems("campaign", _as_stored(found, campaign.root))
    read_now = [file.sha256 in shelf.added for file in result.files if file.status == "ride"]
    context.outcome = replace(
        context.outcome,
        read=read_now.count(True),
        unchanged=read_now.count(False),
        duplicates=sum(one.status == "duplicate" for one in result.files),
        set_aside=sum(one.status == "set aside" for one in result.files)
        + sum(problem.severity == "error" for problem in found.problems),
        without_files=found.without,
    )


def _taken(
    context: Context,
    sights: Sequence[Sight],
    readings: Readings,
    shelf: Shelf,
) -> list[StoredFile]:
    """Look into files and store what is in them, in their order; say so of each once it is."""
    executor = context.executors.chosen(len(sights), sum(map(_seconds, sights)))
    context.executors.to_read(sights)
    looking = Looking(readings, shelf, executor.folder())
    looked = in_order(executor.results(looking, sights, _AHEAD))
    intake = Intake(context.store, shelf, context.log)
    files: list[StoredFile] = []
    told, everything = 0, len(sights)
    context.listen(Progress("read", 0, everything))
    for done, (sight, one) in enumerate(zip(sights, looked, strict=True), 1):
        files += intake.take(sight, one)
        if intake.is_due or done == everything:
            intake.store()
            for number in range(told, done):
                path = sights[number].file.path
                context.listen(Progress("read", number + 1, everything, path))
            told = done
    return files


def _seconds(sight: Sight) -> float:
    """Return about how long a file takes to read."""
    return (sight.file.size_bytes or 0) / _BYTES_A_SECOND


def plan_reading(
    campaign: Campaign, store: Store | None, _settings: Mapping[str, object]
) -> PlannedStage:
    """Return which files would be read."""
    readings = Readings(campaign)
    known = {} if store is None else store.files()
    rides = pl.DataFrame() if store is None else store.frame("recorded_rides")
    sights = survey(campaign, find_rides(campaign), known, Shelf(rides, readings), readings)
    to_do = tuple(sight.file.path for sight in sights if sight.action != "keep")
    now = {file.path: file for sight in sights for file in _kept(sight)}
    return PlannedStage(
        "read",
        "read files that are new or changed",
        to_do,
        len(sights) - len(to_do),
        touches=_unsettled(now) != _unsettled(known),
    )


def _unsettled(files: Mapping[str, StoredFile]) -> dict[str, StoredFile]:
    """Return files without what follows from all of them together."""
    return {path: replace(file, status="ride") for path, file in files.items()}


def _unassigned(result: Settled, rides: pl.DataFrame) -> pl.DataFrame:
    """Return the rows of ``unassigned_rides``."""
    reasons = pl.DataFrame(
        list(result.unassigned.items()),
        schema={"ride": pl.String(), "reason": pl.String()},
        orient="row",
    )
    told = rides.select("ride", "path", "started_at", "device")
    return told.join(reasons, on="ride").sort("started_at", "ride")


def _evidence(store: Store, rides: Collection[str]) -> dict[str, float]:
    """Return how many seconds each of these rides can be measured by."""
    asked = "select ride, seconds from evidence where ride in (select unnest(?))"
    return dict(store.frame(asked, [sorted(rides)]).iter_rows())


def _kept(sight: Sight) -> Sequence[StoredFile]:
    return (sight.file, *sight.members)


def _as_stored(found: FoundRides, root: Path) -> Sequence[Problem]:
    """Return the problems of the globs, files named as the store names them."""
    return [
        replace(problem, path=stored_path(root, Path(problem.path)))
        if Path(problem.path).is_absolute()
        else problem
        for problem in found.problems
    ]
