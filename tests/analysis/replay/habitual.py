"""Simulated riders replayed by their habits on the ladder that they rode."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from ridelab.analysis.replay.ahead import Price
from ridelab.analysis.replay.comfort import Band
from ridelab.analysis.replay.effort import Body
from ridelab.analysis.replay.gearing import on_wheel
from ridelab.analysis.replay.habits import Sweeps, learn, strictness
from ridelab.analysis.replay.replay import Rider, Task, as_ridden, begins_m, replayed
from ridelab.analysis.replay.road import batch, roads
from ridelab.analysis.replay.tally import alike
from ridelab.drivetrain.ladder import published_ladder
from ridelab.simulate import simulate_ride
from tests.analysis.replay.roads import moments
from tests.analysis.test_shifts_against_truth import shifts

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridelab.drivetrain.stages import Drivetrain
    from ridelab.simulate import Scenario


class Near(NamedTuple):
    """Replayed over ridden: shifts a km, spread of the cadence; driving in the same gears."""

    shifts: float
    spread: float
    alike: float


def near(
    make: Callable[..., Scenario],
    drivetrain: Drivetrain,
    rollout_m: float,
    seconds: int,
    rides: int,
) -> Near:
    """Ride, learn the habits from true gears and the shifts query, and replay by them."""
    made = [simulate_ride(make(duration_s=seconds), seed) for seed in range(rides)]
    own = on_wheel(
        published_ladder(drivetrain), rollout_m, shifts_standing=drivetrain.shifts_standing
    )
    known = dict(zip(own.numbers, own.development_m, strict=True))
    frame = pl.concat([moments(one, str(place)) for place, one in enumerate(made)])
    ridden = roads(frame, known)
    told = [shifts(one) for one in made]
    habits = learn(ridden, [_sweeps(rows) for rows in told])
    assert habits is not None
    side = batch(ridden)
    habits = strictness([side], own, habits, [begins_m(side, own)], sum(map(len, told)))
    rider = Rider(Band(65.0, 95.0), Price(), habits, Body(90.0, 0.006, 0.5))
    counts = {road.ride: len(rows) for road, rows in zip(ridden, told, strict=True)}
    was = as_ridden(ridden, own, rider, counts)
    again = replayed(ridden, Task(own, own, "by habit", "speed as ridden"), rider)
    shifted, spread = (
        again.estimate(name).value / was.estimate(name).value
        for name in ("shifts_per_km", "spread")
    )
    return Near(shifted, spread, alike(was, again))


def _sweeps(rows: pl.DataFrame) -> Sweeps:
    driven = rows.filter(~pl.col("while_decoupled"))
    upward = driven["to_gear"] > driven["from_gear"]
    return Sweeps(driven["t_s"].to_numpy(), driven["from_gear"].to_numpy(), upward.to_numpy())
