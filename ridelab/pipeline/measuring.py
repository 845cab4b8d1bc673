"""The stages ``measure`` and ``verdicts``: vehicles whose rides or ladder changed, then claims."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

from ridelab.errors import RidelabError
from ridelab.pipeline.context import PlannedStage, Progress
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridelab.campaign import Campaign, Vehicle
    from ridelab.drivetrain.ladder import Ladder
    from ridelab.pipeline.context import Context
    from ridelab.store import Owner, Store

#: What claims are judged by, in the order of ``gather_all``.
_NEEDED = ("vehicles", "measured_gears", "measured_range", "measured_steps", "published_gears")
#: What claims are judged by beside what is measured, where it is known.
_WHERE_KNOWN = ("measured_covariance", "measured_precision", "rides", "gear_losses")


def measure(context: Context, _settings: Mapping[str, object]) -> None:
    """Measure the vehicles that changed, one transaction each; one that fails spares the rest."""
    campaign, store = context.campaign, context.store
    rides = rides_by_vehicle(campaign, store.owners())
    known = store.fingerprints()
    for name in known.keys() - {name for name in rides if rides[name]}:
        store.clear_vehicle(name)
    to_do = changed_vehicles(campaign, rides, known)
    context.listen(Progress("measure", 0, len(to_do)))
    measured: list[str] = []
    failed: list[str] = []
    for done, (name, fingerprint) in enumerate(to_do.items(), 1):
        succeeded = _measure(context, campaign.vehicles[name], fingerprint)
        (measured if succeeded else failed).append(name)
        context.listen(Progress("measure", done, len(to_do), name))
    context.outcome = replace(
        context.outcome,
        measured=tuple(measured),
        kept=tuple(name for name, own in rides.items() if own and name not in to_do),
        failed=(*context.outcome.failed, *failed),
    )


def plan_measuring(
    campaign: Campaign, store: Store | None, _settings: Mapping[str, object]
) -> PlannedStage:
    """Return which vehicles would be measured, by the rides that are stored now."""
    does = "measure the vehicles whose rides, ladder or rollout changed"
    if store is None:
        return PlannedStage("measure", does, tuple(campaign.vehicles))
    rides = rides_by_vehicle(campaign, store.owners())
    to_do = changed_vehicles(campaign, rides, store.fingerprints())
    ridden = sum(1 for own in rides.values() if own)
    return PlannedStage("measure", does, tuple(to_do), ridden - len(to_do))


def plan_verdicts(
    campaign: Campaign, _store: Store | None, _settings: Mapping[str, object]
) -> PlannedStage:
    """Return which claims would be judged: always all of them."""
    claims = tuple(claim.id for claim in campaign.claims)
    return PlannedStage("verdicts", "judge the claims by what is measured", claims)


def rides_by_vehicle(campaign: Campaign, owners: Mapping[str, Owner]) -> dict[str, list[str]]:
    """Return the rides of each vehicle of the campaign."""
    rides: dict[str, list[str]] = {name: [] for name in campaign.vehicles}
    for ride, owner in owners.items():
        if owner.vehicle in rides:
            rides[owner.vehicle].append(ride)
    return rides


def changed_vehicles(
    campaign: Campaign, rides: Mapping[str, Sequence[str]], known: Mapping[str, str]
) -> dict[str, str]:
    """Return the vehicles to measure, each with the fingerprint of what it is measured from."""
    prints = {
        name: fingerprint(vehicle, rides[name], _ladder(campaign, vehicle))
        for name, vehicle in campaign.vehicles.items()
        if rides[name]
    }
    return {name: print_ for name, print_ in prints.items() if known.get(name) != print_}


def fingerprint(vehicle: Vehicle, rides: Sequence[str], ladder: Ladder | None) -> str:
    """Return what identifies a measurement: the same again would give the same result."""
    from ridelab.gears import VERSION

    parts = {
        "method": VERSION,
        "rides": sorted(rides),
        "ladder": ladder and asdict(ladder),
        "rollout_m": vehicle.stated_rollout_m,
        "rollout_is_measured": vehicle.rollout_m is not None,
    }
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def verdicts(context: Context, _settings: Mapping[str, object]) -> None:
    """Judge the claims of the campaign on paper, and by what is measured."""
    from ridelab.analysis import (
        check_on_paper,
        gather_all,
        judge_evidence,
        pool_claims,
        read_claims,
    )

    store = context.store
    context.listen(Progress("verdicts", 0, len(context.campaign.claims)))
    store.put_claims(context.campaign)
    campaign = context.campaign
    file = campaign.file.name if campaign.file else campaign.name
    store.put_problems("paper", check_on_paper(campaign).problems(file))
    claims = list(read_claims(store.frame("claims")))
    evidence = gather_all(
        *(store.frame(name) for name in _NEEDED),
        merge_within=campaign.merge_within,
        units=campaign.units,
        **{name: store.frame(name) for name in _WHERE_KNOWN},
    )
    found, planned = judge_evidence(claims, evidence)
    store.replace("verdicts", found)
    store.replace("test_ride_plan", planned)
    store.replace("pooled_claims", pool_claims(claims, found, evidence))
    context.listen(Progress("verdicts", len(context.campaign.claims), len(context.campaign.claims)))


def _measure(context: Context, vehicle: Vehicle, fingerprint: str) -> bool:
    """Measure one vehicle; return whether that went well."""
    from ridelab.gears import measure_vehicle

    try:
        found = measure_vehicle(
            vehicle.name,
            context.store.load_rides(vehicle.name),
            _ladder(context.campaign, vehicle),
            vehicle.stated_rollout_m,
            vehicle.rollout_m is not None,
        )
    except RidelabError as error:
        problem = Problem(vehicle.name, "measure", "error", str(error))
        context.store.clear_vehicle(vehicle.name, [problem])
        return False
    context.store.put_vehicle_gears(found, fingerprint)
    return True


def _ladder(campaign: Campaign, vehicle: Vehicle) -> Ladder | None:
    return campaign.ladder(vehicle.drivetrain) if vehicle.drivetrain is not None else None
