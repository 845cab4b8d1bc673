"""Analyses beside plain loops: ``python -m tests.benchmarks.analyses [--json] [--quick]``.

1,000 rides of an hour, copied with noise of their own from a dozen simulated ones, stand in a store
in memory with their true gears. Each analysis of the usage pipeline runs on them as the pipeline
runs it, and beside it, in the same run, a plain Python loop over the same rows, ride by ride. The
query that hands the rows of a ride to the loop counts as its own; the loop alone is told as well.
Time, way and climbing are told of a ride as it is read: there both begin with its rows in memory,
ours with the columns of the reader, and ours stores what it finds. All others read samples that the
store has laid side by side; what that takes, once, is told, too, and is in the figure for all
analyses together. Results must be equal. All is timed in processor time,
threads together. Then the whole way, from simulated files over inferred gears to the use of gears
and the shifts, is held against what was truly ridden. ``--quick`` takes 100
rides. Figures of other analyses are added by ``MORE``.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.analysis.road import ridden_road
from ridelab.resources import data_dir
from ridelab.telemetry.ride import PAUSE_SCHEMA
from tests.benchmarks import analyses_plain as plain
from tests.benchmarks.analyses_rides import SECONDS, made_store
from tests.benchmarks.analyses_truth import truth_figures

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tests.report.fabricated import FabricatedStore

    Figure = dict[str, object]

#: The goal set for it.
TIMES_PLAIN = 30.0
RIDES, QUICK_RIDES = 1000, 100
#: Rides whose moments are stored at once.
TOGETHER = 20
#: What other analyses add: functions of ``quick`` that return figures.
MORE: list[Callable[[bool], list[Figure]]] = [truth_figures]
_USE_KEYS = {"grade": "grade_from", "speed": "speed_from_mps", "hour": "hour", "month": "month"}


def figures(rides: int) -> list[Figure]:
    """Time and agreement of each analysis."""
    store = made_store(rides)
    out, *_ = _beside(
        store, "time, way and climbing", _moments(store), plain.Moments(), _same_moments
    )
    begin = time.process_time()
    store.lay()
    in_all, looped_in_all = time.process_time() - begin, 0.0
    out.append(figure(f"laying samples side by side, {rides} rides: s", in_all))
    ladders = _ladders(store)
    for name, ours, peer, alike in (
        ("use of gears", _use, plain.Use(), _same_use),
        ("shifts", _shifts, plain.Shifts(ladders), _same_shifts),
        ("cadences and comfort", _cadences, plain.Cadences(ladders), _same_cadences),
    ):
        told, spent, looped = _beside(store, name, ours, peer, alike)
        out, in_all, looped_in_all = out + told, in_all + spent, looped_in_all + looped
    times = looped_in_all / in_all
    return [*out, figure("these three and laying together: times as fast", times, None)]


def _beside(
    store: FabricatedStore,
    name: str,
    ours: Callable[[Any], Any],
    peer: Any,  # noqa: ANN401 - one of the loops
    alike: Callable[[Any, Any], bool],
) -> tuple[list[Figure], float, float]:
    """Return the figures of one analysis, and what it and the loop took of the processor, s."""
    begin, wall = time.process_time(), time.perf_counter()
    found = ours(store)
    spent, wall = time.process_time() - begin, time.perf_counter() - wall
    reading, looping = _loop(store, peer)
    if isinstance(peer, plain.Moments):
        reading = 0.0  # both begin with the ride in memory
    equal, times = alike(found, peer.result()), (reading + looping) / spent
    label = f"{name}, {len(store.frame('recorded_rides'))} rides of {SECONDS // 60} min"
    told = [
        figure(f"{label}: s", spent),
        figure(f"{label}: by the clock, s", wall),
        figure(f"{label}: plain loop, s", reading + looping),
        figure(f"{label}: of these in the loop itself, s", looping),
        figure(f"{label}: times as fast", times, TIMES_PLAIN, times),
        figure(f"{label}: the same (1: yes)", int(equal), 1, int(equal)),
    ]
    return told, spent, reading + looping


def figure(
    name: str, value: float, goal: float | None = None, least: float | None = None
) -> Figure:
    """A line of the table; ``least``: what must reach the goal."""
    met = None if goal is None or least is None else least >= goal
    return {"figure": name, "value": round(value, 4), "goal": goal, "met": met}


def _moments(store: FabricatedStore) -> Callable[[Any], pl.DataFrame]:
    """Return the analysis, given the rides as the reader has them: before they are stored."""
    samples = store.frame("from recorded_samples order by ride, n")
    rides = {str(key[0]): part for key, part in samples.partition_by("ride", as_dict=True).items()}

    def told(_store: FabricatedStore) -> pl.DataFrame:
        for begin in range(0, len(rides), TOGETHER):
            _put_moments(store, dict(list(rides.items())[begin : begin + TOGETHER]))
        return store.frame(
            "select ride, sum(seconds), sum(metres), sum(climb_m) from moments "
            "group by ride order by 1"
        )

    return told


def _put_moments(store: FabricatedStore, rides: dict[str, pl.DataFrame]) -> None:
    """Tell the moments of some rides, and store them at once, as a run does."""
    pauses = PAUSE_SCHEMA.to_frame()
    made, profiles = [], []
    for ride, samples in rides.items():
        moments, profile = ridden_road(samples, pauses, barometer=True)
        made.append(moments.with_columns(pl.lit(ride).alias("ride")))
        profiles.append({"ride": ride, **profile})
    store.add_frame("moments", pl.concat(made))
    store.add_frame("ride_profiles", pl.DataFrame(profiles))


def _fill(store: FabricatedStore, name: str) -> None:
    query = data_dir("sql").joinpath("analysis", f"{name}.sql").read_text("utf-8").strip()
    store.run(f"insert into {name} by name ({query})")


def _shifts(store: FabricatedStore) -> tuple[pl.DataFrame, pl.DataFrame]:
    _fill(store, "shifts")
    return store.frame("shifts"), store.frame("shift_habits")


def _use(store: FabricatedStore) -> dict[str, pl.DataFrame]:
    _fill(store, "ridden_gears")
    return {by: store.frame(f"use_by_{by}") for by in ("gear", *_USE_KEYS)}


def _cadences(store: FabricatedStore) -> dict[str, pl.DataFrame]:
    _fill(store, "ridden_cadences")
    names = ("cadence_habits", "comfortable_cadence", "outside_comfort")
    return {name: store.frame(name) for name in names}


def _loop(store: FabricatedStore, peer: Any) -> tuple[float, float]:  # noqa: ANN401 - one of the loops
    """Hand the rides to a loop; return what reading and looping took of the processor, s."""
    clock = time.process_time
    reading = looping = 0.0
    rides = store.frame("select ride, vehicle, started_at from recorded_rides order by ride")
    for batch in rides.iter_slices(50):
        begin = clock()
        rows = _rows(store, peer, batch["ride"][0], batch["ride"][-1])
        reading += clock() - begin
        begin = clock()
        for ride, vehicle, started_at in batch.iter_rows():
            first = f"{started_at:%Y-%m}-01" if isinstance(peer, plain.Use) else ride
            peer.add(first, vehicle, rows[ride])
        looping += clock() - begin
    begin = clock()
    peer.result()
    return reading, looping + clock() - begin


def _rows(
    store: FabricatedStore,
    peer: Any,  # noqa: ANN401 - one of the loops
    first: str,
    last: str,
) -> dict[str, list[tuple[Any, ...]]]:
    """Read the rows of some rides as plain Python reads them, by ride."""
    laid = "ridden_samples inner join numbered_rides using (number)"
    table = "recorded_samples" if isinstance(peer, plain.Moments) else laid
    found: dict[str, list[tuple[Any, ...]]] = {}
    for ride, *row in store.rows(
        f"select ride, {', '.join(peer.COLUMNS)} from {table} "  # noqa: S608 - columns of our own
        f"where ride between '{first}' and '{last}' order by ride, n"
    ):
        found.setdefault(ride, []).append(tuple(row))
    return found


def _ladders(store: FabricatedStore) -> dict[str, dict[int, float]]:
    ladders: dict[str, dict[int, float]] = {}
    for vehicle, gear, ratio in store.frame("all_gears")["vehicle", "gear", "ratio"].iter_rows():
        ladders.setdefault(vehicle, {})[gear] = ratio
    return ladders


def _same_moments(ours: pl.DataFrame, theirs: list[tuple[Any, ...]]) -> bool:
    return len(ours) == len(theirs) and all(
        one[0] == other[0] and _close(one[1:], other[1:])
        for one, other in zip(ours.rows(), theirs, strict=True)
    )


def _same_shifts(ours: Any, theirs: Any) -> bool:  # noqa: ANN401 - pairs of results
    told, habits = ours
    often = dict(habits["vehicle", "shifts_per_km"].iter_rows())
    return (
        len(told) == len(theirs[0])
        and all(
            one[0] == other[0]
            and all(_as_close(value, peer) for value, peer in zip(one[1:], other[1:], strict=True))
            for one, other in zip(sorted(told.rows()), theirs[0], strict=True)
        )
        and all(math.isclose(often[name], value, rel_tol=1e-9) for name, value in theirs[1].items())
    )


def _as_close(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-9)


def _same_use(ours: dict[str, pl.DataFrame], theirs: dict[tuple[Any, ...], list[float]]) -> bool:
    found = {}
    for by, frame in ours.items():
        for row in frame.filter(pl.col("seconds") > 0).to_dicts():
            band = [row[_USE_KEYS[by]]] if by in _USE_KEYS else []
            key = map(str, band) if by == "month" else band
            sums = [row[name] or 0.0 for name in ("seconds", "metres", "climb_m", "work_j")]
            found[(by, row["vehicle"], row["gear"], *key)] = sums
    return found.keys() == theirs.keys() and all(
        _close(sums, theirs[key]) for key, sums in found.items()
    )


def _same_cadences(ours: dict[str, pl.DataFrame], theirs: dict[tuple[str, ...], float]) -> bool:
    found: dict[tuple[str, ...], float] = {}
    for row in ours["cadence_habits"].to_dicts():
        found[row["vehicle"], "median"] = row["median_rpm"]
    for row in ours["comfortable_cadence"].to_dicts():
        found[row["vehicle"], "low"] = row["low_rpm"]
        found[row["vehicle"], "high"] = row["high_rpm"]
    for row in ours["outside_comfort"].filter(pl.col("seconds") > 0).to_dicts():
        found[row["vehicle"], row["side"], row["why"]] = row["seconds"]
    return found.keys() == theirs.keys() and all(
        math.isclose(value, theirs[key], rel_tol=1e-9) for key, value in found.items()
    )


def _close(ours: Sequence[float], theirs: Sequence[float]) -> bool:
    return all(
        math.isclose(one, other, rel_tol=1e-6, abs_tol=1e-6)
        for one, other in zip(ours, theirs, strict=True)
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; 0 if all goals are met."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.analyses")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true")
    chosen = parser.parse_args(arguments)
    found = figures(QUICK_RIDES if chosen.quick else RIDES)
    for more in MORE:
        found += more(chosen.quick)
    if chosen.json:
        sys.stdout.write(json.dumps(found, indent=1) + "\n")
    else:
        for one in found:
            met = {None: "", True: "  met", False: "  NOT MET"}[one["met"]]  # type: ignore[index]
            goal = "" if one["goal"] is None else f"  {one['goal']}{met}"
            sys.stdout.write(f"{one['figure']:<72}{one['value']:>10}{goal}\n")
    return 0 if all(one["met"] is not False for one in found) else 1


if __name__ == "__main__":
    sys.exit(main())
