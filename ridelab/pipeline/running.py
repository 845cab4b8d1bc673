"""Runs a pipeline: its stages in order, each doing only what changed."""

from __future__ import annotations

import time
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from ridelab.campaign import service_problems, torque_problems, wheel_problems
from ridelab.pipeline.context import Context, PlannedStage
from ridelab.pipeline.executors import Executors, reached
from ridelab.pipeline.querying import forget_gone, plan_query, query
from ridelab.pipeline.recording import recorded
from ridelab.pipeline.resting import Rest, page_in
from ridelab.pipeline.sources import Sources
from ridelab.pipeline.stages import STAGES
from ridelab.store import Store

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from datetime import date
    from pathlib import Path

    from ridelab.campaign import Campaign
    from ridelab.pipeline.context import Listen, Log, Outcome
    from ridelab.pipeline.specification import Pipeline, Step


@dataclass(frozen=True)
class Plan:
    """What a run would do now, stage by stage."""

    pipeline: str
    stages: tuple[PlannedStage, ...]


def plan(
    pipeline: Pipeline,
    campaign: Campaign,
    store: Store | None,
    out_dir: Path | None = None,
    today: date | None = None,
) -> Plan:
    """Return what ``run`` would do; reads no ride and writes nothing. None: there is no store yet.

    A later stage is planned by what is stored now: rides that are not read yet may add to it, and
    where any stage before it has something to do, none is said to rest; nor where ``out_dir`` is
    not known.
    """
    sources = None if store is None else Sources(store)
    stages: list[PlannedStage] = []
    for step in pipeline.steps:
        planned = _planned(step, campaign, sources)
        before = list(zip(pipeline.steps, stages, strict=False))
        if sources and out_dir and step.query is None and _is_quiet(before):
            ran = tuple(dict.fromkeys(one.name for one, _ in before))
            rest = Rest(sources, campaign, page_in(out_dir), step, ran)
            if rest.is_due and not rest.depends_on(_changing(sources.store, before, today)):
                planned = replace(planned, todo=(), kept=len(planned.todo), rests=True)
        stages.append(planned)
    return Plan(pipeline.name, tuple(stages))


def _is_quiet(before: Iterable[tuple[Step, PlannedStage]]) -> bool:
    """Whether stages have nothing to do but what every run does, which changes with the day."""
    return all(step.settings.get("each_run") or not planned.todo for step, planned in before)


def _changing(
    store: Store, before: Iterable[tuple[Step, PlannedStage]], today: date | None
) -> set[str]:
    """Return relations that a run changes although it has nothing to do."""
    day = [today or datetime.now(UTC).date()]
    told_on = set() if store.frame("told_on")["day"].to_list() == day else {"told_on"}
    return told_on | ({"files"} if any(planned.touches for _, planned in before) else set())


def run(
    pipeline: Pipeline,
    campaign: Campaign,
    store_path: Path,
    out_dir: Path,
    listen: Listen | None = None,
    now: Callable[[], float] = time.perf_counter,
    today: date | None = None,
    workers: int = 1,
    log: Log | None = None,
    scheduler: str | None = None,
    lake: str | None = None,
) -> Outcome:
    """Run a pipeline over a campaign; the store is made if it is not there.

    What a stage has finished stays, whatever happens after: another run goes on from there. ``now``
    is the clock that ``Outcome.seconds`` is taken from, ``today`` the day that services are due
    by, today in UTC where not given. ``workers``: processes that read files and measure vehicles;
    more than one only from a script that guards its main module, as ``multiprocessing`` asks.
    ``log`` is told what happens, ``listen`` how far it is. ``scheduler``: the address of a Dask
    scheduler, whose workers do that instead; ``lake``: the folder or URL where they leave rides.

    Raises:
        RemoteError: an object store that rides or lake are in cannot be used.
        ClusterError: the cluster is not there, or cannot do the work.
        StoreError: the store cannot be used; StoreBusy where another run holds it.
        OSError: the report cannot be written.
    """
    with (
        reached(scheduler, lake, store_path) as cluster,
        Store.open(store_path) as store,
        closing(Executors(workers, store_path, cluster)) as executors,
    ):
        context = Context(campaign, store, out_dir, listen or _deaf, log or _deaf, executors)
        with recorded(context, pipeline.name, executors.workers, now):
            store.put_campaign(campaign)
            forget_gone(store, campaign.root)
            store.put_day(today or datetime.now(UTC).date())
            store.put_problems("service", service_problems(campaign))
            store.put_problems("wheel", wheel_problems(campaign))
            store.put_problems("torque", torque_problems(campaign))
            for step in pipeline.steps:
                _timed(step, context, now)
            executors.complete(store)
        return context.outcome


def _timed(step: Step, context: Context, now: Callable[[], float]) -> None:
    started = now()
    _run(step, context)
    took, seconds = now() - started, context.outcome.seconds
    spent = seconds.get(step.name, 0.0) + took
    context.outcome = replace(context.outcome, seconds={**seconds, step.name: spent})
    context.log("stage done", {"stage": step.name, "seconds": took})


def _run(step: Step, context: Context) -> None:
    if step.query is not None:
        query(context, step)
    else:
        outcome, page = context.outcome, page_in(context.out_dir)
        rest = Rest(context.sources, context.campaign, page, step, tuple(outcome.seconds))
        if not (outcome.read or outcome.measured or outcome.failed) and rest.is_due:
            if step.name == "report":
                context.outcome = replace(outcome, report=page)
            return
        STAGES[step.name].run(context, step.settings)
        context.sources.forget()
        rest.remember()


def _planned(step: Step, campaign: Campaign, sources: Sources | None) -> PlannedStage:
    if step.query is not None:
        return plan_query(step, sources)
    store = None if sources is None else sources.store
    return STAGES[step.name].plan(campaign, store, step.settings)


def _deaf(*_told: object) -> None:
    """Take no note."""
