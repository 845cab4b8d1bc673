"""Stages that are queries: their result replaces the relation of their name."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.errors import StoreError
from ridelab.pipeline.context import PlannedStage, Progress
from ridelab.problems import Problem

if TYPE_CHECKING:
    from ridelab.pipeline.context import Context
    from ridelab.pipeline.sources import Sources
    from ridelab.pipeline.specification import Step
    from ridelab.store import Store

#: ``each_run``: fill the relation even where nothing it can see has changed. ``per_ride``: fill
#: the rows of rides alone that are new or changed.
QUERY_SETTINGS = frozenset({"each_run", "per_ride"})
#: Where queries come from that ridelab brings.
BROUGHT = "sql/analysis/"


def query(context: Context, step: Step) -> None:
    """Fill the relation of a query stage, unless it was filled from the same before.

    The setting ``each_run`` fills it anyway: for queries whose result depends on the day. With
    ``per_ride``, rides of which nothing has changed keep their rows. A query that fails becomes a
    problem, and the stages after it still run.
    """
    store, stage = context.store, f"query {step.name}"
    context.listen(Progress(step.name, 0, 1))
    try:
        _fill(context.sources, step)
        if step.columns is not None:
            store.describe(step.name, step.columns)
        problems = []
    except StoreError as error:
        message = str(error).removeprefix(f"{store.path}: ")
        problems = [Problem(step.source, stage, "error", message)]
        context.outcome = replace(context.outcome, failed=(*context.outcome.failed, step.name))
        context.log("query failed", {"query": step.name, "reason": message})
    store.put_problems(stage, problems)
    context.listen(Progress(step.name, 1, 1, step.name))


def forget_gone(store: Store, root: Path) -> None:
    """Drop what was told of queries whose file is not there any more, here or in ``root``."""
    told = store.frame("select stage, path from problems where starts_with(stage, 'query ')")
    for stage, path in told.iter_rows():
        if not (path.startswith(BROUGHT) or Path(path).exists() or (root / path).exists()):
            store.put_problems(stage, [])


def plan_query(step: Step, sources: Sources | None) -> PlannedStage:
    """Return whether the relation would be filled, and for which rides, by what is stored now."""
    by_ride = ", ride by ride" if step.settings.get("per_ride") else ""
    does = f"fill the relation by {step.source}{by_ride}"
    if sources is None:
        return PlannedStage(step.name, does, (step.name,))
    if step.settings.get("per_ride"):
        owners, changed = sources.store.owners(), _changed(sources, step)
        todo = tuple(owners[ride].path for ride in changed)
        return PlannedStage(step.name, does, todo, len(owners) - len(todo))
    kept = not _needs_filling(sources, step)
    return PlannedStage(step.name, does, () if kept else (step.name,), int(kept))


def _fill(sources: Sources, step: Step) -> None:
    store, sql = sources.store, step.query or ""
    if not _needs_filling(sources, step):
        return
    if step.settings.get("per_ride"):
        store.fill_rides(step.name, sql, sources.state(step), sources.ride_states(step))
    else:
        store.fill(step.name, sql, sources.state(step))


def _needs_filling(sources: Sources, step: Step) -> bool:
    if step.settings.get("each_run"):
        return True
    if sources.store.filled_from(step.name) != sources.state(step):
        return True
    # The whole was filled from the same, but by a pipeline that did not keep rides apart.
    return bool(step.settings.get("per_ride")) and bool(_changed(sources, step))


def _changed(sources: Sources, step: Step) -> list[str]:
    """Return the rides whose rows are to be filled, in the order they were ridden."""
    known = sources.store.ride_fingerprints(step.name)
    return [ride for ride, state in sources.ride_states(step).items() if known.get(ride) != state]
