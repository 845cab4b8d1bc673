"""Rides on another drivetrain: gears chosen moment by moment, and what that comes to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.analysis.replay.ahead import Price, best_gears
from ridelab.analysis.replay.comfort import asked, discomfort
from ridelab.analysis.replay.effort import capability, new_speeds, ridden_power_w
from ridelab.analysis.replay.habits import by_habit
from ridelab.analysis.replay.road import batches
from ridelab.analysis.replay.tally import SUMS, Tally, gear_seconds, joined, ride_sums

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from ridelab.analysis.replay.comfort import Band
    from ridelab.analysis.replay.effort import Body
    from ridelab.analysis.replay.gearing import Gearing
    from ridelab.analysis.replay.habits import Habits
    from ridelab.analysis.replay.road import Batch, Road
    from ridelab.analysis.replay.tally import Assumption, Policy

    Floats = NDArray[np.float64]
    Places = NDArray[np.int64]

#: Speeds under constant effort depend on the gears and these on the speeds: so often in turn.
_ROUNDS = 2


@dataclass(frozen=True)
class Rider:
    """Who rides: what they are comfortable with, what shifting costs them, how they do it.

    ``habits`` is None where the rides do not show them; ``body`` moves at constant effort.
    """

    band: Band
    price: Price
    habits: Habits | None
    body: Body


@dataclass(frozen=True)
class Task:
    """What to replay: a ladder, beside the ridden one if that is known."""

    gearing: Gearing
    own: Gearing | None
    policy: Policy
    assumption: Assumption


def as_ridden(
    ridden: Sequence[Road], own: Gearing, rider: Rider, shifts: Mapping[str, int]
) -> Tally:
    """Return what the rides came to as they were; ``shifts``: made in each ride."""
    band, count = rider.band, len(own.numbers)
    place = {number: place for place, number in enumerate(own.numbers)}
    rows, spent = [], []
    for road in ridden:
        seconds = road.driven_s[:, None]
        cadence = np.log(np.where(road.driven, road.cadence_rpm, 60.0))[:, None]
        found = np.array([place.get(number, -1) for number in road.gear.tolist()])[:, None]
        named = np.where(found < 0, 0.0, seconds)
        sums = ride_sums(cadence, seconds, None if own.span_m else found, own, band)
        sums |= _of_road([road]) | {"shifts": np.array([float(shifts.get(road.ride, 0))])}
        rows.append(np.stack([sums.get(name, np.zeros(1)) for name in SUMS], axis=1))
        spent.append(gear_seconds(np.maximum(found, 0), named, count))
    return Tally(own, "as ridden", "speed as ridden", np.concatenate(rows), np.concatenate(spent))


def replayed(ridden: Sequence[Road], task: Task, rider: Rider) -> Tally:
    """Return what the rides would come to on another ladder, in the order given.

    By habit needs ``rider.habits`` and gears.
    """
    order = {road.ride: place for place, road in enumerate(ridden)}
    gears = max(1, len(task.gearing.numbers))
    done = [(batch, _replay(batch, task, rider)) for batch in batches(ridden, gears)]
    places = [order[road.ride] for batch, _ in done for road in batch.roads]
    tally = joined([one for _, one in done])
    back = np.argsort(places)
    return Tally(
        tally.gearing, tally.policy, tally.assumption, tally.sums[back], tally.gear_s[back]
    )


def begins_m(rides: Batch, own: Gearing | None) -> Floats:
    """Return the development that each ride begins with: of its first gear, where one is named."""
    known = dict(zip(own.numbers, own.development_m, strict=True)) if own else {}
    return np.array([_first_m(road, known) for road in rides.roads])


def _first_m(road: Road, known: Mapping[int, float]) -> float:
    named = next((known[gear] for gear in road.gear.tolist() if gear in known), None)
    if named is not None:
        return named
    first = int(road.driven.argmax())
    rpm = road.cadence_rpm[first]
    return 60.0 * float(road.speed_mps[first]) / float(rpm) if rpm > 0 else 3.0


def _replay(rides: Batch, task: Task, rider: Rider) -> Tally:
    speed = np.exp(rides.log_speed) / 60.0
    now, power_w = rides, None
    for _ in range(_ROUNDS if task.assumption == "effort as ridden" else 0):
        if power_w is None:
            power_w = _side_by_side(
                [ridden_power_w(road, rider.body) for road in rides.roads], len(speed)
            )
        chosen_m, _, _ = _chosen(now, task, rider)
        now = rides.at_speed(_speeds(rides, speed, chosen_m, power_w, task, rider))
    chosen_m, places, shifts = _chosen(now, task, rider)
    cadence = now.log_speed - np.log(chosen_m)
    sums = ride_sums(cadence, now.driven_s, places, task.gearing, rider.band)
    sums |= _of_road(rides.roads) | {"shifts": shifts, "moving_s": now.moving_s.sum(axis=0)}
    gears = len(task.gearing.numbers)
    spent = np.zeros((len(rides.roads), 0))
    if places is not None:
        spent = gear_seconds(places, now.driven_s, gears)
        if task.own is not None:
            lower, higher = task.gearing.beyond(task.own)
            sums |= {"lower_s": spent[:, lower].sum(1), "higher_s": spent[:, higher].sum(1)}
    elif task.own is not None:
        sums |= _beyond_stepless(chosen_m, now.driven_s, task.own)
    rows = np.stack([sums.get(name, np.zeros(len(spent))) for name in SUMS], axis=1)
    return Tally(task.gearing, task.policy, task.assumption, rows, spent)


def _chosen(rides: Batch, task: Task, rider: Rider) -> tuple[Floats, Places | None, Floats]:
    """Return the development chosen at each moment, the places of the gears, and the shifts."""
    gearing = task.gearing
    if gearing.span_m is not None:
        wanted_m = np.exp(rides.log_speed - rider.band.log_middle)
        return gearing.nearest_m(wanted_m), None, np.zeros(len(rides.roads))
    if task.policy == "by habit":
        assert rider.habits is not None  # noqa: S101 - asked for only where there are some
        places, shifts = by_habit(rides, gearing, rider.habits, begins_m(rides, task.own))
    else:
        cost = discomfort(
            asked(rides.log_speed, gearing.log_development), rides.driven_s, rider.band
        )
        may_shift = rides.may_shift(standing=gearing.shifts_standing)
        places, _ = best_gears(cost, may_shift, rider.price)
        shifts = (np.diff(places, axis=0) != 0).sum(axis=0).astype(np.float64)
    return np.array(gearing.development_m)[places], places, shifts


def _speeds(
    rides: Batch, speed: Floats, chosen_m: Floats, power_w: Floats, task: Task, rider: Rider
) -> Floats:
    """Return the speeds of the same effort in the gears chosen; the stepless one follows them."""
    band, gearing = rider.band, task.gearing
    ridden = _side_by_side([np.log(road.cadence_rpm) for road in rides.roads], len(speed))
    before = capability(np.nan_to_num(ridden, nan=band.log_middle), band)
    stepless = gearing.span_m is not None

    def gain(t: int, now_mps: Floats) -> Floats:
        minute = 60.0 * now_mps
        taken_m = gearing.nearest_m(minute / np.exp(band.log_middle)) if stepless else chosen_m[t]
        return np.asarray(capability(np.log(minute / taken_m), band) / before[t])

    metres = speed * rides.seconds
    return new_speeds(speed, metres, power_w, gain, rider.body)


def _side_by_side(columns: Sequence[Floats], length: int) -> Floats:
    out = np.zeros((length, len(columns)))
    for place, column in enumerate(columns):
        out[: len(column), place] = column
    return out


def _of_road(ridden: Sequence[Road]) -> dict[str, Floats]:
    return {
        "metres": np.array([road.metres.sum() for road in ridden]),
        "moving_s": np.array([road.moving_s.sum() for road in ridden]),
    }


def _beyond_stepless(chosen_m: Floats, seconds: Floats, own: Gearing) -> dict[str, Floats]:
    from ridelab.drivetrain.grouping import FEEL_WITHIN

    low, high = own.ends_m
    lower, higher = chosen_m < low / (1 + FEEL_WITHIN), chosen_m > high * (1 + FEEL_WITHIN)
    return {
        "lower_s": np.where(lower, seconds, 0.0).sum(axis=0),
        "higher_s": np.where(higher, seconds, 0.0).sum(axis=0),
    }


def every_task(
    candidates: Sequence[Gearing], own: Gearing | None, rider: Rider, *, constant_effort: bool
) -> Iterator[Task]:
    """Yield all replays to be done, those of the ridden ladder first."""
    assumptions: list[Assumption] = ["speed as ridden"]
    if constant_effort:
        assumptions.append("effort as ridden")
    for assumption in assumptions:
        for gearing in (*([own] if own else []), *candidates):
            yield Task(gearing, own, "looking ahead", assumption)
            if rider.habits is not None and gearing.span_m is None:
                yield Task(gearing, own, "by habit", assumption)
