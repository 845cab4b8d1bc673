"""The stages ``measure`` and ``verdicts``: vehicles whose rides or ladder changed, then claims."""

from __future__ import annotations

import hashlib
import json
import time
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING

from ridelab.errors import RidelabError
from ridelab.pipeline.context import PlannedStage, Progress
from ridelab.pipeline.executing import Lost, in_order
from ridelab.pipeline.parcels import packed, taken
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from ridelab.campaign import Campaign, Vehicle
    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.kept import Kept
    from ridelab.gears.result import VehicleGears
    from ridelab.pipeline.context import Context
    from ridelab.pipeline.parcels import Parcel, Place
    from ridelab.store import Owner, Store
    from ridelab.telemetry import Ride

#: About what it takes on one core, as the benchmark ``pipeline`` measures it.
_SECONDS_A_SAMPLE = 15e-6

#: What claims are judged by, in the order of ``gather_all``.
_NEEDED = ("vehicles", "measured_gears", "measured_range", "measured_steps", "published_gears")
#: What claims are judged by beside what is measured, where it is known.
_WHERE_KNOWN = ("measured_covariance", "measured_precision", "rides", "gear_losses")


@dataclass(frozen=True)
class ToMeasure:
    """One vehicle with all that it is measured from; ``folder``: where the result is left.

    ``rides``: all of them, or those to be measured beside the ones that are ``kept``.
    """

    vehicle: Vehicle
    ladder: Ladder | None
    rides: Parcel[list[Ride]]
    folder: Place
    kept: Kept | None = None


@dataclass(frozen=True)
class Measured:
    """A vehicle as measured, and what that took; None if that takes all of its rides."""

    found: Parcel[VehicleGears] | None
    seconds: float


def measured(asked: ToMeasure) -> Measured | Problem:
    """Measure a vehicle, or say why that failed; needs no store."""
    from ridelab.gears import measure_more, measure_vehicle

    began, vehicle = time.perf_counter(), asked.vehicle
    stated = (asked.ladder, vehicle.stated_rollout_m, vehicle.rollout_m is not None)
    rides = asked.rides.seen()
    try:
        if asked.kept is None:
            found = measure_vehicle(vehicle.name, rides, *stated)
        else:
            more = measure_more(vehicle.name, rides, asked.kept, *stated)
            if more is None:
                return Measured(None, time.perf_counter() - began)
            found = more
    except RidelabError as error:
        return Problem(vehicle.name, "measure", "error", str(error))
    if found.kept is not None:
        found = replace(found, kept=replace(found.kept, basis=basis(vehicle, asked.ladder)))
    return Measured(packed(found, asked.folder), time.perf_counter() - began)


def measure(context: Context, _settings: Mapping[str, object]) -> None:
    """Measure the vehicles that changed, one transaction each; one that fails spares the rest."""
    campaign, store = context.campaign, context.store
    rides = rides_by_vehicle(campaign, store.owners())
    known = store.fingerprints()
    for name in known.keys() - {name for name in rides if rides[name]}:
        store.clear_vehicle(name)
    to_do = changed_vehicles(campaign, rides, known)
    context.listen(Progress("measure", 0, len(to_do)))
    succeeded: set[str] = set()
    own = {name: rides[name] for name in to_do}
    for done, (name, result) in enumerate(_results(context, own), 1):
        if isinstance(result, Problem):
            store.clear_vehicle(name, [result])
            context.log("vehicle failed", {"vehicle": name, "reason": result.message})
        else:
            store.put_vehicle_gears(result[0], to_do[name])
            succeeded.add(name)
            context.log("vehicle measured", {"vehicle": name, "seconds": result[1]})
        context.listen(Progress("measure", done, len(to_do), name))
    context.outcome = replace(
        context.outcome,
        measured=tuple(name for name in to_do if name in succeeded),
        kept=tuple(name for name, own in rides.items() if own and name not in to_do),
        failed=(*context.outcome.failed, *(name for name in to_do if name not in succeeded)),
    )


def _results(
    context: Context, rides: Mapping[str, Collection[str]]
) -> Iterator[tuple[str, tuple[VehicleGears, float] | Problem]]:
    """Yield what comes of each vehicle, and the seconds that took.

    Vehicles with few new rides come first; those of them that take all of their rides after all go
    with the others.
    """
    found = {name: _kept(context, name, own) for name, own in rides.items()}
    kept = {name: one for name, one in found.items() if one is not None}
    anew = [name for name in rides if name not in kept]
    for name, result in _done(context, _largest_first(context.store, kept), kept):
        if isinstance(result, Measured) and result.found is None:
            anew.append(name)
        else:
            yield name, _with_seconds(result)
    for name, result in _done(context, _largest_first(context.store, anew), {}):
        yield name, _with_seconds(result)


def _with_seconds(result: Measured | Problem) -> tuple[VehicleGears, float] | Problem:
    if isinstance(result, Problem):
        return result
    assert result.found is not None  # noqa: S101 - those were asked of all rides
    return taken(result.found), result.seconds


def _done(
    context: Context, samples: Mapping[str, int], kept: Mapping[str, Kept]
) -> Iterator[tuple[str, Measured | Problem]]:
    """Yield what comes of each vehicle, in this order; ``samples`` of each."""
    executor = context.executors.chosen(len(samples), _SECONDS_A_SAMPLE * sum(samples.values()))
    folder = executor.folder()
    given: dict[str, ToMeasure] = {}
    tasks = (
        given.setdefault(name, _asked(context, name, folder, kept.get(name))) for name in samples
    )
    for name, result in zip(samples, in_order(executor.results(measured, tasks, 1)), strict=True):
        given.pop(name).rides.drop()
        if isinstance(result, Lost):
            yield name, Problem(name, "measure", "error", result.said("measured", "measures"))
        else:
            yield name, result


def _kept(context: Context, name: str, rides: Collection[str]) -> Kept | None:
    """Return what a vehicle's new rides can be measured beside, if there is anything."""
    from ridelab.gears import may_add

    store, vehicle = context.store, context.campaign.vehicles[name]
    found = store.kept(name)
    if found is None or found.basis != basis(vehicle, _ladder(context.campaign, vehicle)):
        return None
    new = set(rides).difference(found.known)
    return found if may_add(found, len(new)) else None


def _asked(context: Context, name: str, folder: Place, kept: Kept | None) -> ToMeasure:
    vehicle = context.campaign.vehicles[name]
    known = () if kept is None else kept.known
    rides = packed(context.store.load_rides(name, known), folder)
    return ToMeasure(vehicle, _ladder(context.campaign, vehicle), rides, folder, kept)


def _largest_first(store: Store, names: Collection[str]) -> dict[str, int]:
    """Return how many samples each vehicle has: one with many, begun last, is waited for."""
    counted = store.frame(
        "select vehicle, sum(samples)::bigint from recorded_rides "
        "where vehicle in (select unnest(?)) group by vehicle order by 2 desc, 1",
        [list(names)],
    )
    return dict(counted.iter_rows())


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
    """Return what identifies a measurement: of these rides, on this basis."""
    return _hashed({"basis": basis(vehicle, ladder), "rides": sorted(rides)})


def basis(vehicle: Vehicle, ladder: Ladder | None) -> str:
    """Return what identifies the method, and the ladder and rollout as stated."""
    from ridelab.gears import VERSION

    parts = {
        "method": VERSION,
        "ladder": ladder and asdict(ladder),
        "rollout_m": vehicle.stated_rollout_m,
        "rollout_is_measured": vehicle.rollout_m is not None,
    }
    return _hashed(parts)


def _hashed(parts: Mapping[str, object]) -> str:
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


def _ladder(campaign: Campaign, vehicle: Vehicle) -> Ladder | None:
    return campaign.ladder(vehicle.drivetrain) if vehicle.drivetrain is not None else None
