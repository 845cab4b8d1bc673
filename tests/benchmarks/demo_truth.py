"""Demo rides, inferred against true: ``python -m tests.benchmarks.demo_truth [--json] [--quick]``.

Writes demos of several seeds, runs the pipeline up to the shifts, and compares the store with the
truth that the simulator kept. The peer, run on the same samples, names each sample's gear by the
nearest ratio, and is told the true ladder. ``--quick`` runs one seed.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import polars as pl
from polars import col

from ridelab import pipeline
from ridelab.campaign import load
from ridelab.simulate.demo import DEMO_SEED, write_demo
from ridelab.store import Store
from tests.benchmarks import scoring

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

SEEDS = (DEMO_SEED, 1, 2)
STEPS = ("read", "measure", "shifts")

LADDER_MEDIAN, LADDER_WORST, RIGHT_AWAY, SHIFTS_F1, RANGE_ERROR = 0.003, 0.01, 0.97, 0.85, 0.01
#: Of 95 % intervals over some fifty gears, nine in ten may hold the truth by bad luck.
COVERED = 0.9


class Figure(NamedTuple):
    """One line of the result; ``value`` and ``goal`` are shares or relative errors."""

    figure: str
    value: float
    goal: str
    met: bool


@dataclass
class Tally:
    """What was counted for one vehicle over all seeds."""

    ladders: list[scoring.LadderError]
    ranges: list[float]
    gears: int = 0
    gears_covered: int = 0
    coupled: int = 0
    right: int = 0
    peer_right: int = 0
    away: int = 0
    away_right: int = 0
    true_shifts: int = 0
    found_shifts: int = 0
    hits: int = 0


def measure(seeds: Sequence[int], folder: Path) -> dict[str, Tally]:
    """Run the demo of every seed and count, vehicle by vehicle."""
    tallies: dict[str, Tally] = {}
    for seed in seeds:
        root = write_demo(folder / f"demo-{seed}", seed).parent
        campaign = load(root / "campaign.toml")
        fleet = pipeline.load("fleet")
        needed = tuple(step for step in fleet.steps if step.name in STEPS)
        store_path = root / "ridelab.duckdb"
        pipeline.run(replace(fleet, steps=needed), campaign, store_path, root / "report")
        with Store.open(store_path, read_only=True) as store:
            for name in campaign.vehicles:
                count(store, root, name, tallies.setdefault(name, Tally([], [])))
    return tallies


def count(store: Store, root: Path, vehicle: str, tally: Tally) -> None:
    """Add one vehicle of one store to its tally."""
    rides = store.frame("rides").filter(col("vehicle") == vehicle)
    truths = {path: true_ride(root, path) for path in rides["path"]}
    count_range(store, vehicle, truths.values(), tally)
    measured = store.frame("measured_gears").filter(col("vehicle") == vehicle)
    if measured.is_empty():
        return
    true = scoring.true_developments(pl.concat(truths.values()))
    numbers = None
    if measured["published_ratio"].is_null().all():
        numbers = scoring.true_numbers(measured, true)
        measured = measured.with_columns(col("gear").replace(numbers))
    tally.ladders.append(scoring.ladder_error(measured, true))
    covered = scoring.within_interval(measured, true)
    tally.gears += len(covered)
    tally.gears_covered += int(covered.sum())
    for ride, path in rides.select("ride", "path").iter_rows():
        samples = store.frame("samples").filter(col("ride") == ride).sort("t_s")
        if numbers is not None:
            samples = samples.with_columns(col("gear").replace(numbers))
        found = store.frame("shifts").filter(col("ride") == ride)
        count_ride(samples, truths[path], true, found, tally)


def true_ride(root: Path, path: str) -> pl.DataFrame:
    """The truth beside a ride of the demo."""
    mirrored = root / "truth" / Path(path).relative_to("rides").with_suffix(".csv")
    return pl.read_csv(mirrored, schema_overrides={"gear": pl.Int64})


def count_ride(
    samples: pl.DataFrame,
    truth: pl.DataFrame,
    true: pl.DataFrame,
    found: pl.DataFrame,
    tally: Tally,
) -> None:
    """Count samples and shifts of one ride; a ride that broke off is compared as far as it goes."""
    truth = truth.join(samples.select("t_s"), on="t_s", how="semi")
    shifts = scoring.seen_shifts(truth)
    both = (
        samples.with_columns(peer=scoring.nearest_ratio(samples, true))
        .join(truth, on="t_s", suffix="_true")
        .with_columns(
            right=(col("gear") == col("gear_true")).fill_null(value=False),
            peer_right=(col("peer") == col("gear_true")).fill_null(value=False),
        )
        .filter("coupled_true")
    )
    changed = truth.filter(col("gear") != col("gear").shift())["t_s"]
    away = both.filter(scoring.away_from_shifts(both["t_s"], changed))
    tally.coupled += len(both)
    tally.right += int(both["right"].sum())
    tally.peer_right += int(both["peer_right"].sum())
    tally.away += len(away)
    tally.away_right += int(away["right"].sum())
    ways = found.select("t_s", direction=(col("to_gear") - col("from_gear")).sign())
    tally.true_shifts += len(shifts)
    tally.found_shifts += len(ways)
    tally.hits += scoring.matched(shifts, ways)


def count_range(store: Store, vehicle: str, truths: Iterable[pl.DataFrame], tally: Tally) -> None:
    """Compare the measured range with the true one between the same two gears, or as ridden."""
    row = store.frame("measured_range").filter(col("vehicle") == vehicle).to_dicts()
    if not row:
        return
    ridden = pl.concat(truths).filter("coupled")
    ratios = ridden["ratio"]
    if row[0]["low_gear"] is not None and row[0]["published_range"] is not None:
        ends = (row[0]["low_gear"], row[0]["high_gear"])
        means = [ridden.filter(col("gear") == gear)["ratio"].mean() for gear in ends]
        if None in means:
            tally.ranges.append(1.0)  # an end that was never ridden
            return
        true = float(np.divide(means[1], means[0]))  # type: ignore[arg-type]
    else:
        true = float(ratios.max() / ratios.min())  # type: ignore[operator,arg-type]
    tally.ranges.append(abs(row[0]["range"] / true - 1.0))


def figures(tallies: dict[str, Tally]) -> list[Figure]:
    """All figures, vehicle by vehicle."""
    found: list[Figure] = []
    for name, tally in tallies.items():
        if tally.ranges:
            found.append(at_most(f"{name}: range, worst error", max(tally.ranges), RANGE_ERROR))
        if not tally.ladders:
            continue
        median = float(np.median([ladder.median for ladder in tally.ladders]))
        worst = max(ladder.worst for ladder in tally.ladders)
        peer = tally.peer_right / tally.coupled
        found += [
            at_most(f"{name}: ladder, median error", median, LADDER_MEDIAN),
            at_most(f"{name}: ladder, worst error", worst, LADDER_WORST),
            at_least(
                f"{name}: samples right, {scoring.AWAY_S:g} s from shifts",
                tally.away_right / tally.away,
                RIGHT_AWAY,
            ),
            at_least(
                f"{name}: samples right, against nearest ratio", tally.right / tally.coupled, peer
            ),
            at_least(
                f"{name}: shifts found, F1 within {scoring.MATCH_S:g} s",
                scoring.f1(tally.hits, tally.true_shifts, tally.found_shifts),
                SHIFTS_F1,
            ),
        ]
    gears = sum(tally.gears for tally in tallies.values())
    covered = sum(tally.gears_covered for tally in tallies.values()) / gears
    return [*found, at_least("all: true ratio within its 95 % interval", covered, COVERED)]


def at_most(figure: str, value: float, goal: float) -> Figure:
    """A figure that should be small."""
    return Figure(figure, round(value, 5), f"<= {goal:.4g}", value <= goal)


def at_least(figure: str, value: float, goal: float) -> Figure:
    """A figure that should be large."""
    return Figure(figure, round(value, 5), f">= {goal:.4g}", value >= goal)


def main() -> None:
    """Run, and print a table or, with --json, a list of objects and nothing else."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true", help="one seed instead of three")
    arguments = parser.parse_args()
    seeds = SEEDS[:1] if arguments.quick else SEEDS
    with TemporaryDirectory() as folder:
        tallies = measure(seeds, Path(folder))
    found = figures(tallies)
    if arguments.json:
        lines = [json.dumps([figure._asdict() for figure in found], indent=1)]
    else:
        samples = sum(tally.coupled for tally in tallies.values())
        shifts = sum(tally.true_shifts for tally in tallies.values())
        named = ", ".join(map(str, seeds))
        lines = [
            f"demo of seeds {named}: {samples} coupled samples, {shifts} true shifts",
            *(
                f"{figure.figure:<48} {figure.value:>9.5f}  {figure.goal:<10} "
                f"{'met' if figure.met else 'NOT MET'}"
                for figure in found
            ),
        ]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
