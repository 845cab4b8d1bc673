"""Stages that are queries: their result replaces the relation of their name."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from typing import TYPE_CHECKING

import ridelab
from ridelab.errors import StoreError
from ridelab.pipeline.context import PlannedStage, Progress
from ridelab.problems import Problem

if TYPE_CHECKING:
    from ridelab.pipeline.context import Context
    from ridelab.pipeline.specification import Step
    from ridelab.store import Store

#: ``each_run``: fill the relation even where nothing it can see has changed.
QUERY_SETTINGS = frozenset({"each_run"})
#: All that is ever inferred about rides follows from these.
_ROOTS = (
    "select ride, vehicle from recorded_rides order by all",
    "select * from stated_vehicles order by all",
    "select * from published_gears order by all",
    "select * from inferences order by all",
)
_WORD = re.compile(r"\w+")
#: What does not follow from those.
_APART = frozenset(
    {
        "claims",
        "gear_losses",
        "verdicts",
        "pooled_claims",
        "test_ride_plan",
        "problems",
        "files",
    }
)


def query(context: Context, step: Step) -> None:
    """Fill the relation of a query stage, unless it was filled from the same before.

    The setting ``each_run`` fills it anyway: for queries whose result depends on the day. A query
    that fails becomes a problem, and the stages after it still run.
    """
    store, stage = context.store, f"query {step.name}"
    context.listen(Progress(step.name, 0, 1))
    try:
        if _needs_filling(store, step):
            store.fill(step.name, step.query or "", state(store, step))
        problems = []
    except StoreError as error:
        message = str(error).removeprefix(f"{store.path}: ")
        problems = [Problem(step.source, stage, "error", message)]
        context.outcome = replace(context.outcome, failed=(*context.outcome.failed, step.name))
    store.put_problems(stage, problems)
    context.listen(Progress(step.name, 1, 1, step.name))


def plan_query(step: Step, store: Store | None) -> PlannedStage:
    """Return whether the relation would be filled, by what is stored now."""
    kept = store is not None and not _needs_filling(store, step)
    does = f"run {step.source} into the relation {step.name}"
    return PlannedStage(step.name, does, () if kept else (step.name,), int(kept))


def _needs_filling(store: Store, step: Step) -> bool:
    if step.settings.get("each_run"):
        return True
    return store.filled_from(step.name) != state(store, step)


def state(store: Store, step: Step) -> str:
    """Return the fingerprint of a query and of everything that it may read."""
    sql = step.query or ""
    digest = hashlib.sha256(f"{ridelab.__version__}\0{sql}".encode())
    for root in _ROOTS:
        digest.update(repr(store.frame(root).rows()).encode())
    # Any word counts, in a comment too: to run a query once too often does no harm.
    words = set(_WORD.findall(sql.lower())) - {step.name}
    for relation in sorted(words.intersection(store.relations())):
        content = store.frame(relation).rows() if relation in _APART else None
        digest.update(repr((relation, store.filled_from(relation), content)).encode())
    return digest.hexdigest()
