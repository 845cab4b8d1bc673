"""All replays of one vehicle: its rides from the store, a part at a time, on every candidate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from ridelab.analysis.replay.ahead import Price, best_gears
from ridelab.analysis.replay.comfort import asked, discomfort
from ridelab.analysis.replay.habits import Sweeps, learn, strictness
from ridelab.analysis.replay.replay import Rider, as_ridden, begins_m, every_task, replayed
from ridelab.analysis.replay.road import batches, roads
from ridelab.analysis.replay.tally import joined
from ridelab.errors import UsageError
from ridelab.resources import data_dir

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl

    from ridelab.analysis.replay.asking import Asked
    from ridelab.analysis.replay.comfort import Band
    from ridelab.analysis.replay.gearing import Gearing
    from ridelab.analysis.replay.habits import Habits
    from ridelab.analysis.replay.road import Road
    from ridelab.analysis.replay.tally import Tally

#: So many rides are held at once, and so many, spread over all, tell how the rider shifts.
AT_ONCE, TOLD_BY = 48, 16
#: Between these the price of a shift is looked for, seconds at an edge of the band.
_PRICES, _HALVINGS = (0.1, 200.0), 9


class Frames(Protocol):
    """What is needed of a store."""

    def frame(
        self, relation_or_sql: str, params: dict[str, object] | None = None, /
    ) -> pl.DataFrame:
        """Return a relation, or the result of a query."""


@dataclass(frozen=True)
class Replays:
    """What the replays of one vehicle came to; ``tallies``: as ridden first, if it can be told."""

    vehicle: str
    band: Band
    price: Price
    habits: Habits | None
    tallies: tuple[Tally, ...]


def replay_vehicle(store: Frames, asked_for: Asked, *, constant_effort: bool = False) -> Replays:
    """Replay all rides of a vehicle on each candidate, and on its own ladder where it is known.

    Raises:
        UsageError: there are no rides, or in none of them is it known that the crank drove.
    """
    vehicle, own = asked_for.vehicle, asked_for.own
    rides = _rides(store, vehicle)
    if not rides:
        raise UsageError(f"vehicle {vehicle!r}: no ride of it is stored; `ridelab run` reads them")
    every = max(1, -(-len(rides) // TOLD_BY))
    rider = _rider(*_load(store, rides[::every], own), asked_for)
    parts: list[list[Tally]] = []
    for begin in range(0, len(rides), AT_ONCE):
        some, made = _load(store, rides[begin : begin + AT_ONCE], own)
        some = [road for road in some if road.driven.any()]
        if some:
            parts.append(_replays(some, made, asked_for, rider, constant_effort=constant_effort))
    if not parts:
        raise UsageError(
            f"vehicle {vehicle!r}: in none of its {len(rides)} rides is it known that the crank "
            "drove; accepted: rides with speed and cadence, measured by `ridelab run`"
        )
    tallies = tuple(joined(same) for same in zip(*parts, strict=True))
    return Replays(vehicle, asked_for.band, rider.price, rider.habits, tallies)


def _replays(
    ridden: Sequence[Road],
    shifts: dict[str, pl.DataFrame],
    asked_for: Asked,
    rider: Rider,
    *,
    constant_effort: bool,
) -> list[Tally]:
    own, made = asked_for.own, {ride: rows.height for ride, rows in shifts.items()}
    first = [as_ridden(ridden, own, rider, made)] if own else []
    tasks = every_task(asked_for.candidates, own, rider, constant_effort=constant_effort)
    return [*first, *(replayed(ridden, task, rider) for task in tasks)]


def _rider(ridden: Sequence[Road], shifts: dict[str, pl.DataFrame], asked_for: Asked) -> Rider:
    """Return the rider as some of the rides show them: habits, and what a shift costs them."""
    own, band = asked_for.own, asked_for.band
    ridden = [road for road in ridden if road.driven.any()]
    rider = Rider(band, Price(), None, asked_for.body)
    made = sum(rows.height for rows in shifts.values())
    if own is None or not own.numbers or not made or not ridden:
        return rider
    habits = learn(ridden, [_sweeps(shifts.get(road.ride)) for road in ridden])
    if habits is not None:
        side = list(batches(ridden, len(own.numbers)))
        habits = strictness(side, own, habits, [begins_m(one, own) for one in side], made)
    return Rider(band, calibrated(ridden, own, band, made), habits, asked_for.body)


def calibrated(ridden: Sequence[Road], own: Gearing, band: Band, made: int) -> Price:
    """Return the price at which somebody who looks ahead shifts as often as was ``made``.

    The dearer a shift, the fewer of them are in the cheapest way to ride, so halving finds it.
    """
    prepared = [
        (
            discomfort(asked(one.log_speed, own.log_development), one.driven_s, band),
            one.may_shift(standing=own.shifts_standing),
        )
        for one in batches(ridden, len(own.numbers))
    ]
    least, most = _PRICES
    for _ in range(_HALVINGS):
        price = (least * most) ** 0.5
        found = sum(
            int((np.diff(best_gears(cost, may, Price(price))[0], axis=0) != 0).sum())
            for cost, may in prepared
        )
        least, most = (price, most) if found > made else (least, price)
    return Price((least * most) ** 0.5)


def _rides(store: Frames, vehicle: str) -> list[str]:
    found = store.frame(
        "select ride from rides where vehicle = $vehicle and gear_source is not null "
        "order by started_at, ride",
        {"vehicle": vehicle},
    )
    return list(found["ride"])


def _load(
    store: Frames, rides: Sequence[str], own: Gearing | None
) -> tuple[list[Road], dict[str, pl.DataFrame]]:
    """Return some rides, and the shifts of each."""
    moments, shifts = (
        store.frame(
            data_dir("sql").joinpath("replay", f"{name}.sql").read_text("utf-8"),
            {"rides": list(rides)},
        )
        for name in ("ridden_moments", "ridden_shifts")
    )
    if moments.is_empty():
        raise UsageError(
            "the relation moments has nothing of these rides; `ridelab run usage` fills it"
        )
    known = dict(zip(own.numbers, own.development_m, strict=True)) if own else {}
    made = {str(ride): rows for (ride,), rows in shifts.group_by("ride", maintain_order=True)}
    return roads(moments, known), made


def _sweeps(rows: pl.DataFrame | None) -> Sweeps:
    """Return the shifts of a ride that were made while the crank drove."""
    if rows is None:
        none = np.zeros(0)
        return Sweeps(none, none.astype(np.int64), none.astype(np.bool_))
    driven = rows.filter(~rows["while_decoupled"])
    return Sweeps(*(driven[name].to_numpy() for name in ("t_s", "from_gear", "upward")))
