"""The stage ``read``: every file that the campaign names is looked at, only new ones are read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from ridelab.campaign import find_rides
from ridelab.pipeline.context import PlannedStage, Progress
from ridelab.pipeline.settling import settled
from ridelab.pipeline.sighting import Shelf, readings, stored_path, survey
from ridelab.pipeline.taking import taken

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from ridelab.campaign import Campaign, FoundRides
    from ridelab.pipeline.context import Context
    from ridelab.pipeline.settling import Settled
    from ridelab.pipeline.sighting import Sight
    from ridelab.problems import Problem
    from ridelab.store import Store, StoredFile


def read(context: Context, _settings: Mapping[str, object]) -> None:
    """Read what is new, one transaction a ride; then settle which ride belongs where."""
    store, campaign = context.store, context.campaign
    found = find_rides(campaign)
    read_with = readings(campaign)
    shelf = Shelf(store.frame("recorded_rides"), read_with)
    sights = survey(campaign, found, store.files(), shelf, read_with)
    to_do = [sight for sight in sights if sight.action != "keep"]
    files = [one for sight in sights if sight.action == "keep" for one in _kept(sight)]
    context.listen(Progress("read", 0, len(to_do)))
    for done, sight in enumerate(to_do, 1):
        files += taken(store, sight, read_with[sight.file.vehicle], shelf)
        context.listen(Progress("read", done, len(to_do), sight.file.path))
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


def plan_reading(
    campaign: Campaign, store: Store | None, _settings: Mapping[str, object]
) -> PlannedStage:
    """Return which files would be read."""
    read_with = readings(campaign)
    known = {} if store is None else store.files()
    rides = pl.DataFrame() if store is None else store.frame("recorded_rides")
    sights = survey(campaign, find_rides(campaign), known, Shelf(rides, read_with), read_with)
    to_do = tuple(sight.file.path for sight in sights if sight.action != "keep")
    return PlannedStage(
        "read", "read files that are new or changed", to_do, len(sights) - len(to_do)
    )


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
