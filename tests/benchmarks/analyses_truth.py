"""Use of gears and shifts, from files of simulated rides to the answer, beside what was ridden."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl

from ridelab.campaign import load
from ridelab.pipeline import load as load_pipeline
from ridelab.pipeline import run
from ridelab.simulate import simulate_ride
from ridelab.store import Store
from tests.benchmarks.scoring import seen_shifts
from tests.simulate.rides import chain_ride, hub_ride

Figure = dict[str, object]

#: The goals set for it: shares within a percent of the time, shifts within a twentieth.
USE, SHIFTS = 0.01, 0.05
RIDES, QUICK_RIDES, SECONDS = 4, 2, 3600
_CAMPAIGN = """
[vehicles.heron]
kind = "bicycle"
rollout_m = 2.1
drivetrain = "fourteen"
rides = ["heron-*.fit"]
[vehicles.otter]
kind = "bicycle"
rollout_m = 2.15
drivetrain = "double"
rides = ["otter-*.fit"]
[drivetrains.fourteen]
stages = [
  { name = "chain", driver = [38], driven = [15] },
  { name = "hub", speeds = 14, range = 5.26, lowest = 0.279 },
]
[drivetrains.double]
stages = [
  { name = "chain", driver = [24, 38], driven = [36, 30, 26, 22, 19, 17, 15, 13, 11] },
]
"""
_PIPELINE = """
[[stages]]
run = "read"
[[stages]]
run = "measure"
[[stages]]
query = "shifts"
[[stages]]
query = "ridden_gears"
"""


def truth_figures(quick: bool) -> list[Figure]:
    """Largest error of a gear's share of the time, and of shifts a kilometre, by vehicle."""
    rides = QUICK_RIDES if quick else RIDES
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        truths = {vehicle: _ride(folder, vehicle, rides) for vehicle in ("heron", "otter")}
        (folder / "campaign.toml").write_text(_CAMPAIGN, encoding="utf-8")
        (folder / "usage.toml").write_text(_PIPELINE, encoding="utf-8")
        campaign, pipeline = load(folder / "campaign.toml"), load_pipeline(folder / "usage.toml")
        run(pipeline, campaign, folder / "store.duckdb", folder / "report")
        with Store.open(folder / "store.duckdb", read_only=True) as store:
            used, habits = store.frame("use_by_gear"), store.frame("shift_habits")
    out: list[Figure] = []
    for vehicle, truth in truths.items():
        whose = {"heron": "14-speed hub", "otter": "two chainrings, nine sprockets"}[vehicle]
        label = f"{whose}, {rides} rides with a wheel sensor"
        off = _off(used.filter(vehicle=vehicle), truth)
        out.append(_at_most(f"{label}: error of a gear's share, worst", off, USE))
        found = habits.filter(vehicle=vehicle).row(0, named=True)
        true = sum(len(seen_shifts(one)) for one in truth)
        often = true / sum(_metres(one) for one in truth) * 1000
        error = abs(found["shifts_per_km"] / often - 1)
        out.append(_at_most(f"{label}: error of shifts a km", error, SHIFTS))
    return out


def _ride(folder: Path, vehicle: str, rides: int) -> list[pl.DataFrame]:
    scenario = {"heron": hub_ride, "otter": chain_ride}[vehicle](duration_s=SECONDS)
    truths = []
    for number in range(rides):
        made = simulate_ride(scenario, 40 + number)
        begin = datetime(2031, 4, 1 + number, 8, tzinfo=UTC) + timedelta(hours=vehicle == "otter")
        made.to_fit(folder / f"{vehicle}-{number}.fit", begin)
        truths.append(made.truth)
    return truths


def _off(used: pl.DataFrame, truth: list[pl.DataFrame]) -> float:
    """Return the largest difference of a gear's share of the time that the crank drove."""
    driven = pl.concat(truth).filter("coupled").group_by("gear").len()
    true = driven.select("gear", true=pl.col("len") / pl.col("len").sum())
    both = used.select("gear", "share").join(true, on="gear", how="full", coalesce=True)
    return float((both["share"].fill_null(0.0) - both["true"].fill_null(0.0)).abs().max())  # type: ignore[arg-type]


def _metres(truth: pl.DataFrame) -> float:
    return float(truth["speed_mps"].sum())


def _at_most(name: str, value: float, goal: float) -> Figure:
    return {"figure": name, "value": round(value, 4), "goal": goal, "met": value <= goal}
