"""The stage ``moments``: time, way and climbing of each sample, for rides that have none yet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.pipeline.context import PlannedStage, Progress

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridelab.campaign import Campaign
    from ridelab.pipeline.context import Context
    from ridelab.store import Store

#: Rides that are worked on, and stored, at once: some 50 MB of samples.
_AT_ONCE = 100
_SAMPLES = """
    select ride, n, t_s, speed_mps, altitude_m, distance_m, timer_running
    from recorded_samples where ride in (select unnest($rides)) order by ride, n
"""
_PAUSES = "select ride, start_s from pauses where ride in (select unnest($rides))"


def moments(context: Context, _settings: Mapping[str, object]) -> None:
    """Fill ``moments`` and ``ride_profiles``; what is there stays, for recordings do not change."""
    store, barometers = context.store, _missing(context.store)
    to_do = list(barometers)
    context.listen(Progress("moments", 0, len(to_do)))
    for done in range(0, len(to_do), _AT_ONCE):
        batch = to_do[done : done + _AT_ONCE]
        store.put_moments(*of_rides(store, {ride: barometers[ride] for ride in batch}))
        context.listen(Progress("moments", done + len(batch), len(to_do), batch[-1]))


def plan_moments(
    _campaign: Campaign, store: Store | None, _settings: Mapping[str, object]
) -> PlannedStage:
    """Return for which of the rides stored now it would be computed."""
    does = "tell time, way and climbing of each sample"
    if store is None:
        return PlannedStage("moments", does)
    to_do = tuple(_missing(store))
    return PlannedStage("moments", does, to_do, len(store.owners()) - len(to_do))


def of_rides(store: Store, barometers: Mapping[str, bool]) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the rows of ``moments`` and ``ride_profiles`` for rides that are stored.

    ``barometers``: the rides, and whether the file of each lists a barometer.
    """
    from ridelab.analysis.road import MOMENT_SCHEMA, PROFILE_SCHEMA, ridden_road

    rides = list(barometers)
    samples = _by_ride(store, _SAMPLES, rides)
    pauses = _by_ride(store, _PAUSES, rides)
    none = pl.DataFrame(schema={"start_s": pl.Float64()})
    of_ride = {"ride": pl.String()}
    told, profiles = [pl.DataFrame(schema=of_ride | dict(MOMENT_SCHEMA))], []
    for ride, own in samples.items():
        found, profile = ridden_road(own, pauses.get(ride, none), barometer=barometers[ride])
        told.append(found.select(pl.lit(ride).alias("ride"), *MOMENT_SCHEMA.names()))
        profiles.append({"ride": ride, **profile})
    return pl.concat(told), pl.DataFrame(profiles, schema=of_ride | dict(PROFILE_SCHEMA))


def _by_ride(store: Store, query: str, rides: Sequence[str]) -> dict[str, pl.DataFrame]:
    parts = store.frame(query, {"rides": rides}).partition_by(
        "ride", as_dict=True, include_key=False
    )
    return {str(key[0]): part for key, part in parts.items()}


def _missing(store: Store) -> dict[str, bool]:
    """Return the rides without moments, and whether their file lists a barometer."""
    rows = store.frame(
        "select ride, coalesce(barometer, false) from recorded_rides "
        "anti join ride_profiles using (ride) where samples > 0 order by ride"
    )
    return dict(rows.iter_rows())
