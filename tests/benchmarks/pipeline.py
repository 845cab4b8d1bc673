"""The whole pipeline: ``python -m tests.benchmarks.pipeline [--json] [--quick] [--rides N]``.

Simulated rides of two hours, 20 vehicles, from FIT files to the report by ``ridelab run fleet`` in
a process of its own; times by the clock, so other work on the machine counts, and of the
processor beside. ``--rides``: how many, 1,000 if silent; ``--growth 10,100``: other numbers beside
it, for how time and memory grow; ``--quick``: 40 rides. Goals are those for 1,000 rides on two
cores. What is slow in the run is told by its own ``run_stages``, and by a profile of a share of the
rides in one process. ``tests.benchmarks.durability`` kills runs.
"""

from __future__ import annotations

import argparse
import cProfile
import json
import os
import pstats
import statistics
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from ridelab.campaign import load
from ridelab.pipeline import load as load_pipeline
from ridelab.pipeline import run
from ridelab.store import Store
from tests.benchmarks.pipeline_plain import seconds_a_ride
from tests.benchmarks.pipeline_rides import write_campaign
from tests.benchmarks.process_tree import Took, took

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    Figure = dict[str, object]

RIDES, QUICK_RIDES = 1000, 40
GROWTH = (10, 100)
#: Rides of the share on which one worker is held against two, and that is profiled.
SHARE = 100
PLAIN_FILES, STARTS = 5, 9
GOAL_S_A_RIDE, GOAL_PLAIN, GOAL_BYTES = 0.06, 15.0, 1.5e9
GOAL_NEW_S, GOAL_NOTHING_S, GOAL_HELP, GOAL_TWO, GOAL_GROWTH = 3.0, 1.0, 1.5, 1.7, 0.15
FUNCTIONS_TOLD = 12
RUN = ("-m", "ridelab", "run", "fleet")


def figures(rides: int, growth: Sequence[int]) -> Iterator[Figure]:
    """Yield all figures, those of the whole run first."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        write_campaign(folder, rides)
        whole = _run(folder)
        yield from _of_the_run(folder, rides, whole)
        yield from _again(folder, rides)
    yield from _growing(rides, whole, growth)
    yield from _starting()
    yield from _of_a_share(min(rides, SHARE))
    yield _not_here("kill -9 at random moments", "python -m tests.benchmarks.durability")
    yield _not_here("two workers on a cluster, one killed", "python -m tests.benchmarks.cluster")


def _of_the_run(folder: Path, rides: int, whole: Took) -> Iterator[Figure]:
    label = f"{rides} rides of two hours, {_cores()} cores"
    seconds = whole.seconds
    yield at_most(f"{label}: files to report, s", seconds, GOAL_S_A_RIDE * rides)
    yield figure("of these, of the processor in all processes, s", whole.processor_s)
    plain = seconds_a_ride(sorted(folder.glob("rides/*/*.fit"))[:PLAIN_FILES], _RATIOS, 2.1)
    yield figure(f"plain loop, on {PLAIN_FILES} of the files: s of the processor a ride", plain)
    yield at_least("times as fast as the plain loop", plain * rides / seconds, GOAL_PLAIN)
    yield at_most("peak memory of all processes, MB", whole.peak_bytes / 1e6, GOAL_BYTES / 1e6)
    with Store.open(folder / "ridelab.duckdb", read_only=True) as store:
        stages = store.frame("select stage, seconds from run_stages where run = 1 order by place")
        reading = store.frame("select sum(seconds) from reading_times").item()
    for stage, spent in stages.iter_rows():
        yield figure(f"stage {stage}: s", spent)
    yield figure("beside all stages: s", seconds - float(stages["seconds"].sum()))
    yield figure("reading files, all workers together: s", reading)
    yield figure("store, MB", (folder / "ridelab.duckdb").stat().st_size / 1e6)


#: Of the 14-speed hub behind 38 × 15, as the campaign has it.
_RATIOS = [38 / 15 * 0.279 * 5.26 ** (gear / 13) for gear in range(14)]


def _again(folder: Path, rides: int) -> Iterator[Figure]:
    nothing = _run(folder)
    yield at_most(f"nothing new among {rides}: s", nothing.seconds, GOAL_NOTHING_S)
    yield figure("of these, of the processor: s", nothing.processor_s)
    write_campaign(folder, rides + 1, first=rides)
    one = _run(folder)
    yield at_most(f"one new ride added to {rides}: s", one.seconds, GOAL_NEW_S)
    yield figure("of these, of the processor: s", one.processor_s)
    with Store.open(folder / "ridelab.duckdb", read_only=True) as store:
        told = store.frame(
            "select run, stage, seconds from run_stages "
            "where run > 1 and seconds >= 0.05 order by all"
        )
    for number, stage, spent in told.iter_rows():
        which = {2: "nothing new", 3: "one new ride"}[number]
        yield figure(f"{which}, stage {stage}: s", spent)


def _growing(rides: int, whole: Took, growth: Sequence[int]) -> Iterator[Figure]:
    found = {rides: whole}
    for number in growth:
        with TemporaryDirectory() as name:
            write_campaign(Path(name), number)
            found[number] = _run(Path(name))
    usual = whole.seconds / rides
    for number, one in sorted(found.items()):
        yield figure(f"{number} rides: ms a ride", 1e3 * one.seconds / number)
        yield figure(f"{number} rides: ms of the processor a ride", 1e3 * one.processor_s / number)
        yield figure(f"{number} rides: peak memory, MB", one.peak_bytes / 1e6)
    apart = max(abs(one.seconds / number / usual - 1) for number, one in found.items())
    yield at_most(f"time a ride beside that of {rides}, largest departure", apart, GOAL_GROWTH)


def _starting() -> Iterator[Figure]:
    """Yield how long the help takes beside loading its one dependency, by turns."""
    commands = {"help": ("-m", "ridelab", "--help"), "typer": ("-c", "import typer")}
    times: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(STARTS):
        for name, command in commands.items():
            times[name].append(took(command, Path.cwd()).seconds)
    shown, loaded = (statistics.median(times[name]) for name in commands)
    yield figure("ridelab --help: s", shown)
    yield at_most("ridelab --help beside import typer", shown / loaded, GOAL_HELP)


def _of_a_share(rides: int) -> Iterator[Figure]:
    with TemporaryDirectory() as name:
        folder = Path(name)
        write_campaign(folder, rides)
        times = {}
        for workers in (1, 2):
            (folder / "ridelab.duckdb").unlink(missing_ok=True)
            times[workers] = _run(folder, "--workers", str(workers)).seconds
        yield figure(f"{rides} rides, one worker: s", times[1])
        yield at_least(f"{rides} rides, two workers beside one", times[1] / times[2], GOAL_TWO)
        yield from _profile(folder)


def _profile(folder: Path) -> Iterator[Figure]:
    """Yield the share of the time that the functions take which take most, in one process."""
    (folder / "ridelab.duckdb").unlink(missing_ok=True)
    profile = cProfile.Profile()
    campaign = load(folder / "campaign.toml")
    profile.enable()
    run(load_pipeline("fleet"), campaign, folder / "ridelab.duckdb", folder / "report")
    profile.disable()
    stats = pstats.Stats(profile)
    whole = stats.total_tt  # type: ignore[attr-defined]
    spent = sorted(stats.stats.items(), key=lambda item: -item[1][2])  # type: ignore[attr-defined]
    for (file, _, function), (_, calls, own, _, _) in spent[:FUNCTIONS_TOLD]:
        where = f"{Path(file).name}: {function}" if file != "~" else function
        yield figure(f"profile: share of {where}, {calls} calls", own / whole)


def _run(folder: Path, *more: str) -> Took:
    """Run the pipeline over the campaign of a folder, and see that it ended well."""
    found = took((*RUN, *more, "-c", str(folder / "campaign.toml")), Path.cwd())
    if found.code:
        raise RuntimeError(f"exit code {found.code}: {found.out}")
    return found


def _cores() -> int:
    return len(os.sched_getaffinity(0))


def figure(name: str, value: float) -> Figure:
    """A line of the table that has no goal."""
    return {"figure": name, "value": round(value, 3), "goal": None, "met": None}


def at_most(name: str, value: float, goal: float) -> Figure:
    """A line whose value must not be above the goal."""
    return figure(name, value) | {"goal": f"<= {goal:g}", "met": value <= goal}


def at_least(name: str, value: float, goal: float) -> Figure:
    """A line whose value must not be below the goal."""
    return figure(name, value) | {"goal": f">= {goal:g}", "met": value >= goal}


def _not_here(name: str, where: str) -> Figure:
    return {"figure": f"{name}: {where}", "value": None, "goal": None, "met": None}


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures as they come; 0 if all goals are met."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.pipeline")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--rides", type=int)
    parser.add_argument("--growth", help="numbers of rides, between commas")
    chosen = parser.parse_args(arguments)
    rides = chosen.rides or (QUICK_RIDES if chosen.quick else RIDES)
    growth: tuple[int, ...] = GROWTH if not chosen.quick else ()
    if chosen.growth is not None:
        growth = tuple(int(number) for number in chosen.growth.split(",") if number)
    began, found = time.perf_counter(), []
    for one in figures(rides, growth):
        found.append(one)
        if not chosen.json:
            print_figure(one)
    if chosen.json:
        sys.stdout.write(json.dumps(found, indent=1) + "\n")
    else:
        sys.stdout.write(f"measured in {time.perf_counter() - began:.0f} s\n")
    return 0 if all(one["met"] is not False for one in found) else 1


def print_figure(one: Figure) -> None:
    """Print a line of the table."""
    met = {None: "", True: "  met", False: "  NOT MET"}[one["met"]]  # type: ignore[index]
    goal = "" if one["goal"] is None else f"  {one['goal']}{met}"
    value = "-" if one["value"] is None else one["value"]
    sys.stdout.write(f"{one['figure']:<72}{value!s:>10}{goal}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
