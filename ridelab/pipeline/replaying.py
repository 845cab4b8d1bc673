"""The stage ``replay``: the rides of each vehicle on the drivetrains that its campaign names."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

import ridelab
from ridelab.errors import UsageError
from ridelab.pipeline.context import PlannedStage, Progress
from ridelab.problems import Problem
from ridelab.resources import data_dir

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridelab.analysis.replay.asking import Asked
    from ridelab.analysis.replay.vehicle import Replays
    from ridelab.campaign import Campaign
    from ridelab.pipeline.context import Context
    from ridelab.store import Store

#: ``constant_effort``: also with the effort as ridden, which takes several times as long.
REPLAY_SETTINGS = frozenset({"constant_effort"})
_STATES = pl.Schema({"vehicle": pl.String(), "fingerprint": pl.String()})


def replays(context: Context, settings: Mapping[str, object]) -> None:
    """Replay the vehicles that ask for it and of which something changed; the others keep theirs.

    What cannot be replayed becomes a problem, and the rest is done.
    """
    from ridelab.analysis.replay.vehicle import replay_vehicle

    store, asking = context.store, _asking(context.campaign)
    known = _known(store)
    context.listen(Progress("replay", 0, len(asking)))
    found: dict[str, Replays] = {}
    fingerprints: dict[str, str] = {}
    problems: list[Problem] = []
    for done, vehicle in enumerate(asking, 1):
        try:
            asked, state = _state(store, context.campaign, vehicle, settings)
            if known.get(vehicle) != state:
                found[vehicle] = replay_vehicle(store, asked, constant_effort=_effort(settings))
            fingerprints[vehicle] = state
        except UsageError as refusal:
            problems.append(Problem(vehicle, "replay", "warning", str(refusal)))
        context.listen(Progress("replay", done, len(asking), vehicle))
    if found or known != fingerprints:
        store.replace_all(_tables(store, found, fingerprints))
    store.put_problems("replay", problems)
    failed = tuple(problem.path for problem in problems)
    context.outcome = replace(context.outcome, failed=(*context.outcome.failed, *failed))


def plan_replays(
    campaign: Campaign, store: Store | None, settings: Mapping[str, object]
) -> PlannedStage:
    """Return which vehicles would be replayed, by what is stored now."""
    does = "replay rides on the drivetrains that vehicles name"
    asking = _asking(campaign)
    if store is None:
        return PlannedStage("replay", does, asking)
    known = _known(store)
    todo = tuple(name for name in asking if _changed(store, campaign, name, settings, known))
    return PlannedStage("replay", does, todo, len(asking) - len(todo))


def _changed(
    store: Store,
    campaign: Campaign,
    vehicle: str,
    settings: Mapping[str, object],
    known: Mapping[str, str],
) -> bool:
    try:
        return _state(store, campaign, vehicle, settings)[1] != known.get(vehicle)
    except UsageError:
        return True


def _state(
    store: Store, campaign: Campaign, vehicle: str, settings: Mapping[str, object]
) -> tuple[Asked, str]:
    """Return what a vehicle asks for, and what identifies the replays that come of it."""
    from ridelab.analysis.replay import VERSION
    from ridelab.analysis.replay.asking import ask

    asked = ask(store, campaign, vehicle, campaign.vehicles[vehicle].replay_onto)
    query = data_dir("sql").joinpath("replay", "ridden_states.sql").read_text("utf-8")
    rides = store.frame(query, {"vehicle": vehicle})
    parts = ridelab.__version__, VERSION, _effort(settings), asked, rides.rows()
    return asked, hashlib.sha256(repr(parts).encode()).hexdigest()


def _tables(
    store: Store, found: Mapping[str, Replays], fingerprints: Mapping[str, str]
) -> dict[str, pl.DataFrame]:
    """Return all tables of replays: new rows, and those of vehicles of which nothing changed."""
    from ridelab.analysis.replay import relations

    kept = [vehicle for vehicle in fingerprints if vehicle not in found]
    order = pl.Enum(list(fingerprints))
    new = {
        "replays": relations.replay_rows(found.values()),
        "replay_differences": relations.difference_rows(found.values()),
        "replayed_gear_use": relations.gear_use_rows(found.values()),
    }
    states = {"vehicle": list(fingerprints), "fingerprint": list(fingerprints.values())}
    tables = {
        name: pl.concat(
            [store.frame(name).filter(pl.col("vehicle").is_in(kept)).select(rows.columns), rows]
        ).sort(pl.col("vehicle").cast(order), maintain_order=True)
        for name, rows in new.items()
    }
    return tables | {"replayed_vehicles": pl.DataFrame(states, schema=_STATES)}


def _known(store: Store) -> dict[str, str]:
    return dict(store.frame("replayed_vehicles").select("vehicle", "fingerprint").iter_rows())


def _effort(settings: Mapping[str, object]) -> bool:
    return settings.get("constant_effort") is True


def _asking(campaign: Campaign) -> tuple[str, ...]:
    return tuple(name for name, vehicle in campaign.vehicles.items() if vehicle.replay_onto)
