"""Replays: ``python -m tests.benchmarks.replay [--json] [--quick]``.

A two-hour ride on 18 gears: asked cadences, discomfort and the cheapest gears, in processor time,
best of several, beside the same dynamic programme in plain Python over all pairs of gears, which
must cost the same. Beside it a greedy shifter, who takes the most comfortable gear wherever it may
be shifted, on the same rides. Then replays of simulated rides on the ladder that they were ridden
on: how near the rider's habits come to what the rider did. ``--quick`` takes fewer repetitions and
shorter rides.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from typing import TYPE_CHECKING

import numpy as np

from ridelab.analysis.replay.ahead import Price, best_gears, cost_of
from ridelab.analysis.replay.comfort import Band, asked, discomfort
from ridelab.analysis.replay.road import batch

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Figure = dict[str, object]

MOST_MS, HOURS, GEARS = 50.0, 2, 18
BAND, PRICE = Band(65.0, 95.0), Price(3.0)


def made_speeds(seconds: int, seed: int) -> Floats:
    """Speeds that wander as on hills, m/s."""
    steps = np.random.default_rng(seed).normal(0.0, 0.012, seconds)
    wander = np.zeros(seconds)
    for t in range(1, seconds):
        wander[t] = 0.995 * wander[t - 1] + steps[t]
    return np.asarray(6.0 * np.exp(wander))


def prepared(speed: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Discomfort in each gear, and where a chain may be shifted: the crank rests a fifth of it."""
    from tests.analysis.replay.roads import road

    drives = np.random.default_rng(3).random(len(speed)) < 0.8
    rides = batch([road(speed.tolist(), driven=drives.tolist())])
    log_development = np.log(1.2 * 6.36 ** (np.arange(GEARS) / (GEARS - 1)))
    felt = discomfort(asked(rides.log_speed, log_development), rides.driven_s, BAND)
    return felt, rides.may_shift(standing=False)


def plain(felt: list[list[float]], may: list[bool], price: Price) -> float:
    """The least cost in plain Python, all pairs of gears tried at every moment."""
    gears = range(len(felt[0]))
    prices = [
        [0.0 if a == b else price.fixed + price.each * abs(a - b) for b in gears] for a in gears
    ]
    now = felt[0]
    for t in range(1, len(felt)):
        if may[t]:
            now = [min(now[a] + prices[a][b] for a in gears) + felt[t][b] for b in gears]
        else:
            now = [now[b] + felt[t][b] for b in gears]
    return min(now)


def greedy(felt: Floats, may: NDArray[np.bool_]) -> float:
    """What the most comfortable gear at every moment costs."""
    places = felt.argmin(axis=2)
    for t in range(1, len(felt)):
        places[t] = np.where(may[t], places[t], places[t - 1])
    return float(cost_of(places, felt, PRICE)[0])


def speed_figures(repetitions: int, hours: float) -> list[Figure]:
    """Milliseconds of a ride, beside plain Python, and what it costs beside a greedy shifter."""
    from tests.analysis.replay.roads import road

    seconds = round(3600 * hours)
    speed = made_speeds(seconds, 5)
    ride = road(speed.tolist())
    log_development = np.log(1.2 * 6.36 ** (np.arange(GEARS) / (GEARS - 1)))
    best = float("inf")
    for _ in range(repetitions):
        begin = time.process_time()
        rides = batch([ride])
        felt = discomfort(asked(rides.log_speed, log_development), rides.driven_s, BAND)
        best_gears(felt, rides.may_shift(standing=True), PRICE)
        best = min(best, time.process_time() - begin)
    felt, may = prepared(speed)
    begin = time.process_time()
    theirs = plain(felt[:, 0].tolist(), may[:, 0].tolist(), PRICE)
    plain_s = time.process_time() - begin
    _, costs = best_gears(felt, may, PRICE)
    ours, least = float(costs[0]), greedy(felt, may)
    label = f"{hours:g} h on {GEARS} gears"
    same = abs(ours - theirs) <= 1e-6 * theirs
    return [
        _figure(f"{label}: replay, ms", 1e3 * best, MOST_MS, 1e3 * best <= MOST_MS),
        _figure(f"{label}: plain Python over all pairs, ms", 1e3 * plain_s),
        _figure(f"{label}: times plain Python", plain_s / best),
        _figure(f"{label}: the same cost as plain Python (1: yes)", int(same), 1, same),
        _figure(f"{label}: cost over a greedy shifter's", ours / least, 1.0, ours <= least),
    ]


def habit_figures(seconds: int, rides: int) -> list[Figure]:
    """How near the habits come to what simulated riders did, a hub and a chain, on their ladder."""
    from tests.analysis.replay.habitual import near
    from tests.simulate.rides import DOUBLE, FOURTEEN, chain_ride, hub_ride

    found: list[Figure] = []
    for name, make, drivetrain, rollout_m in (
        ("14-speed hub", hub_ride, FOURTEEN, 2.1),
        ("two chainrings, nine sprockets", chain_ride, DOUBLE, 2.15),
    ):
        told = near(make, drivetrain, rollout_m, seconds, rides)
        label = f"habits on the ridden ladder, {name}"
        found += [
            _figure(f"{label}: shifts a km over ridden", told.shifts),
            _figure(f"{label}: spread of the cadence over ridden", told.spread),
            _figure(f"{label}: driving in the same gears, %", 100 * told.alike),
        ]
    return found


def _figure(name: str, value: float, goal: float | None = None, met: bool = True) -> Figure:
    return {"figure": name, "value": round(value, 3), "goal": goal, "met": bool(met)}


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; 0 if all goals are met."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.replay")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true")
    chosen = parser.parse_args(arguments)
    quick = chosen.quick
    found = [
        *speed_figures(3 if quick else 15, 0.5 if quick else HOURS),
        *habit_figures(1200 if quick else 3600, 2 if quick else 4),
    ]
    if chosen.json:
        sys.stdout.write(json.dumps(found, indent=1) + "\n")
    else:
        for one in found:
            met = "" if one["goal"] is None else ("  met" if one["met"] else "  NOT MET")
            goal = "" if one["goal"] is None else f"  {one['goal']}{met}"
            sys.stdout.write(f"{one['figure']:<78}{one['value']:>9}{goal}\n")
    return 0 if all(one["met"] for one in found) else 1


if __name__ == "__main__":
    sys.exit(main())
