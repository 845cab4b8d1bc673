"""What a campaign and its store say of a replay: both ladders on the wheel, band, and body."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ridelab.analysis.replay.comfort import Band
from ridelab.analysis.replay.effort import USUAL, Body
from ridelab.analysis.replay.gearing import Gearing, as_ridden, on_wheel
from ridelab.drivetrain.wheel import LOADED_LESS
from ridelab.errors import NotAccepted, UsageError, nearest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.analysis.replay.vehicle import Frames
    from ridelab.campaign import Campaign, Vehicle
    from ridelab.drivetrain.wheel import Tyre


@dataclass(frozen=True)
class Asked:
    """One vehicle with all that its replays need beside its rides; ``own`` is None if unknown."""

    vehicle: str
    own: Gearing | None
    candidates: tuple[Gearing, ...]
    band: Band
    body: Body


def ask(
    store: Frames,
    campaign: Campaign,
    vehicle: str,
    onto: Sequence[str],
    low_rpm: float | None = None,
    high_rpm: float | None = None,
    tyre: Tyre | None = None,
) -> Asked:
    """Put together what is to be replayed.

    Candidates run on the vehicle's own wheel with its effective rollout, for recorded speeds carry
    the same error of a unit's setting; with a ``tyre`` on that of another wheel, which is taken to
    roll as much less than nominal as the own one.

    Raises:
        UsageError: no such vehicle or drivetrain, one asked for twice or the vehicle's own, no
            rollout, or no comfortable cadence.
    """
    if vehicle not in campaign.vehicles:
        raise UsageError(f"no vehicle {vehicle!r}; {nearest(vehicle, campaign.vehicles)}")
    stated = campaign.vehicles[vehicle]
    _must_be_others(stated, onto)
    row = _row(store, vehicle)
    rollout_m = row.get("effective_rollout_m") or stated.stated_rollout_m
    for name in onto:
        campaign.ladder(name)  # refuses one that there is not
    if rollout_m is None:
        raise UsageError(
            f"vehicle {vehicle!r} has no rollout, so no ratio of {', '.join(onto)} says what "
            "cadence it asks; accepted: its tyre or rollout_m in the campaign"
        )
    wheel_m = rollout_m if tyre is None else _of_tyre(tyre, stated, rollout_m)
    return Asked(
        vehicle,
        _own(store, campaign, stated, rollout_m),
        tuple(_published(campaign, name, wheel_m) for name in onto),
        _band(store, stated, low_rpm, high_rpm),
        _body(stated),
    )


def _must_be_others(vehicle: Vehicle, onto: Sequence[str]) -> None:
    accepted = "other drivetrains of the campaign, each once"
    if not onto:
        raise UsageError(f"no drivetrain to replay onto; accepted: {accepted}")
    for name in onto:
        if name == vehicle.drivetrain:
            raise UsageError(
                f"{name!r} is the drivetrain that {vehicle.name!r} was ridden with; accepted: "
                f"{accepted} (the ridden one is always shown beside)"
            )
        if onto.count(name) > 1:
            raise UsageError(f"{name!r} is asked for twice; accepted: {accepted}")


def _row(store: Frames, vehicle: str) -> dict[str, Any]:
    rows = store.frame("select * from vehicles where vehicle = $vehicle", {"vehicle": vehicle})
    if rows.is_empty():
        raise UsageError(f"the store knows no vehicle {vehicle!r} yet; `ridelab run` makes it so")
    return rows.row(0, named=True)


def _of_tyre(tyre: Tyre, vehicle: Vehicle, rollout_m: float) -> float:
    less = 1.0 - sum(LOADED_LESS) / 2
    if vehicle.tyre is not None:
        less = rollout_m / vehicle.tyre.nominal_rollout_m
    return tyre.nominal_rollout_m * less


def _published(campaign: Campaign, drivetrain: str, rollout_m: float) -> Gearing:
    standing = campaign.drivetrains[drivetrain].shifts_standing
    return on_wheel(campaign.ladder(drivetrain), rollout_m, shifts_standing=standing)


def _own(store: Frames, campaign: Campaign, vehicle: Vehicle, rollout_m: float) -> Gearing | None:
    name = vehicle.drivetrain
    published = None if name is None else _published(campaign, name, rollout_m)
    measured = store.frame(
        "select gear, label, development_m from measured_gears where vehicle = $vehicle "
        "and development_m is not null order by gear",
        {"vehicle": vehicle.name},
    )
    if published is None and measured.is_empty():
        return None
    labels = {gear: label or str(gear) for gear, label, _ in measured.iter_rows()}
    return as_ridden(published, {gear: m for gear, _, m in measured.iter_rows()}, labels)


def _band(store: Frames, vehicle: Vehicle, low_rpm: float | None, high_rpm: float | None) -> Band:
    """Return the band asked for, else the stated one, else what the rides show."""
    # The campaign may be newer than what the last run stored of it.
    known = vehicle.comfortable_rpm or store.frame(
        "select low_rpm, high_rpm from comfortable_cadence where vehicle = $vehicle",
        {"vehicle": vehicle.name},
    ).row(0)
    low, high = (asked or told for asked, told in zip((low_rpm, high_rpm), known, strict=True))
    if low is None or high is None:
        raise UsageError(
            f"nothing tells which cadences suit the rider of {vehicle.name!r}; accepted: "
            "--low-rpm and --high-rpm, comfortable_rpm in the campaign, or ten minutes of riding "
            "after `ridelab run usage`"
        )
    try:
        return Band(low, high)
    except NotAccepted as refusal:
        raise NotAccepted(refusal.found, refusal.accepted, "comfortable cadence") from refusal


def _body(vehicle: Vehicle) -> Body:
    usual = USUAL[vehicle.kind]
    return Body(usual.mass_kg + vehicle.rider.mass_kg, usual.rolling, usual.drag_m2)
