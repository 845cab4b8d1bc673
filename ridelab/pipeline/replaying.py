"""The stage ``replay``: the rides of each vehicle on the drivetrains that its campaign names."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ridelab.errors import UsageError
from ridelab.pipeline.context import PlannedStage, Progress
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridelab.analysis.replay.vehicle import Replays
    from ridelab.campaign import Campaign
    from ridelab.pipeline.context import Context
    from ridelab.store import Store

#: ``constant_effort``: also with the effort as ridden, which takes several times as long.
REPLAY_SETTINGS = frozenset({"constant_effort"})


def replays(context: Context, settings: Mapping[str, object]) -> None:
    """Replay the vehicles that ask for it; what cannot be becomes a problem, the rest is done."""
    from ridelab.analysis.replay import relations

    campaign, store = context.campaign, context.store
    to_do = _asking(campaign)
    context.listen(Progress("replay", 0, len(to_do)))
    found, problems = [], []
    for done, vehicle in enumerate(to_do, 1):
        try:
            found.append(_one(context, vehicle, settings))
        except UsageError as refusal:
            problems.append(Problem(vehicle, "replay", "warning", str(refusal)))
        context.listen(Progress("replay", done, len(to_do), vehicle))
    store.replace("replays", relations.replay_rows(found))
    store.replace("replay_differences", relations.difference_rows(found))
    store.replace("replayed_gear_use", relations.gear_use_rows(found))
    store.put_problems("replay", problems)
    failed = tuple(problem.path for problem in problems)
    context.outcome = replace(context.outcome, failed=(*context.outcome.failed, *failed))


def plan_replays(campaign: Campaign, _store: Store | None) -> PlannedStage:
    """Return which vehicles would be replayed: all that name a drivetrain for it."""
    does = "replay rides on the drivetrains that vehicles name"
    return PlannedStage("replay", does, _asking(campaign))


def _one(context: Context, vehicle: str, settings: Mapping[str, object]) -> Replays:
    from ridelab.analysis.replay.asking import ask
    from ridelab.analysis.replay.vehicle import replay_vehicle

    campaign = context.campaign
    asked = ask(context.store, campaign, vehicle, campaign.vehicles[vehicle].replay_onto)
    return replay_vehicle(
        context.store, asked, constant_effort=settings.get("constant_effort") is True
    )


def _asking(campaign: Campaign) -> tuple[str, ...]:
    return tuple(name for name, vehicle in campaign.vehicles.items() if vehicle.replay_onto)
