"""The stage ``losses``: what is lost in each gear of vehicles ridden under two power meters."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.pipeline.context import PlannedStage, Progress
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridelab.analysis.losses import GearLosses
    from ridelab.campaign import Campaign, Vehicle
    from ridelab.pipeline.context import Context
    from ridelab.store import Store

_STAGE = "losses"
#: Rides with both powers; of others no sample is looked at again.
_RIDES = """
    select distinct vehicle, ride from recorded_samples inner join recorded_rides using (ride)
    where power_w is not null and wheel_power_w is not null order by all
"""
_SAMPLES = """
    select ride, t_s, power_w, wheel_power_w, gear, coupled, gear_probability, timer_running
    from samples where ride in (select unnest($rides)) order by ride, n
"""
#: Rides that are looked at at once: some 50 MB of samples.
_AT_ONCE = 100


def losses(context: Context, _settings: Mapping[str, object]) -> None:
    """Fill ``gear_losses`` for all vehicles that have both powers."""
    from ridelab.analysis.losses import GEAR_LOSS_SCHEMA, motor_in_between

    store, rides = context.store, _with_both_powers(context.campaign, context.store)
    context.listen(Progress(_STAGE, 0, len(rides)))
    told: list[Problem] = []
    rows = [pl.DataFrame(schema={"vehicle": pl.String()} | dict(GEAR_LOSS_SCHEMA))]
    for done, (name, own) in enumerate(rides.items(), 1):
        vehicle = context.campaign.vehicles[name]
        if vehicle.motor is not None:
            told.append(Problem(name, _STAGE, "note", motor_in_between(vehicle.motor.drives)))
        else:
            found = _measured(store, vehicle, own)
            rows.append(found.rows.select(pl.lit(name).alias("vehicle"), pl.all()))
            told += [Problem(name, _STAGE, "warning", one) for one in found.warnings]
            told += [Problem(name, _STAGE, "note", one) for one in found.notes]
        context.listen(Progress(_STAGE, done, len(rides), name))
    store.replace("gear_losses", pl.concat(rows))
    store.put_problems(_STAGE, told)


def plan_losses(
    campaign: Campaign, store: Store | None, _settings: Mapping[str, object]
) -> PlannedStage:
    """Return of which vehicles they would be computed: always of all that have both powers."""
    does = "compare the power at the crank with that at the wheel"
    todo = () if store is None else tuple(_with_both_powers(campaign, store))
    return PlannedStage(_STAGE, does, todo)


def _measured(store: Store, vehicle: Vehicle, rides: list[str]) -> GearLosses:
    from ridelab.analysis.losses import PowerSpells, measure_losses, spells_of

    stepless = store.frame(
        "select coalesce(stepless, false) from vehicles where vehicle = $vehicle",
        {"vehicle": vehicle.name},
    ).item()
    spells: dict[str, PowerSpells] = {}
    for done in range(0, len(rides), _AT_ONCE):
        samples = store.frame(_SAMPLES, {"rides": rides[done : done + _AT_ONCE]})
        for (ride,), own in samples.partition_by("ride", as_dict=True).items():
            spells[str(ride)] = spells_of(own, stepless=stepless)
    return measure_losses(spells, vehicle.meters)


def _with_both_powers(campaign: Campaign, store: Store) -> dict[str, list[str]]:
    """Return the rides with both powers of each vehicle that has some, in campaign order."""
    found: dict[str, list[str]] = {}
    for vehicle, ride in store.frame(_RIDES).iter_rows():
        found.setdefault(vehicle, []).append(ride)
    return {name: found[name] for name in campaign.vehicles if name in found}
