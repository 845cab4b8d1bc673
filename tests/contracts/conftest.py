"""Stores that contracts are held against: the demo's, and a small one with what the demo lacks."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import load
from ridelab.pipeline import load as load_pipeline
from ridelab.pipeline import run
from ridelab.simulate import simulate_ride
from ridelab.simulate.demo import write_demo
from ridelab.store import Store
from tests.pipeline import test_losing
from tests.simulate.rides import hub_ride

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

#: Two power meters, services, replays, a vehicle without papers, an inbox, a file that is no ride.
CAMPAIGN = f"""
[campaign]
name = "Invented odds and ends"
rides = ["inbox/*.fit"]

[vehicles.otter]
kind = "trike"
tyre = "47-622"
rollout_m = 2.1
drivetrain = "fourteen"
rides = ["rides/*.fit"]
odometer_km = 400
comfortable_rpm = [65, 95]
replay_onto = ["four"]
serviced = [{{ on = 2031-05-03, odometer_km = 390 }}]

[vehicles.stork]
kind = "bicycle"
rides = ["stork/*.fit"]

[drivetrains.fourteen]
stages = [
  {{ name = "chain", driver = [38], driven = [15] }},
  {{ name = "hub", speeds = 14, range = 5.26, lowest = 0.279 }},
]
service = {{ every_km = 5000, every_months = 6 }}

[drivetrains.five]
stages = [{{ name = "chain", driver = [40], driven = [28, 24, 20, 17, 14] }}]

[[claims]]
drivetrain = "five"
quantity = "range"
value = 2

[[claims]]
drivetrain = "fourteen"
quantity = "range"
value = "526 %"
tolerance = "5 %"
{test_losing.CAMPAIGN}
"""


@pytest.fixture(scope="session")
def odds_and_ends(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """Rides of ten minutes that fill the relations which the demo's rides leave empty."""
    root = tmp_path_factory.mktemp("odds_and_ends")
    (root / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    for number, place in enumerate(("rides/a", "rides/b", "stork/c", "inbox/d"), 1):
        ride = simulate_ride(hub_ride(duration_s=600), number)
        path = root / f"{place}.fit"
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(ride.fit_content(datetime(2031, 5, 4, 8, tzinfo=UTC) + timedelta(number)))
    (root / "rides/none.fit").write_bytes(b"no ride")
    for day in (1, 2):
        (root / f"day-2031-06-0{day}.csv").write_text(test_losing.ride(day), encoding="utf-8")
    with _run(root, "fleet", "usage") as store:
        yield store


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """The demo's six vehicles, after a run of the pipeline that fills most."""
    root = write_demo(tmp_path_factory.mktemp("demo") / "demo").parent
    with _run(root, "fleet") as store:
        yield store


def _run(root: Path, *pipelines: str) -> Store:
    campaign, path = load(root / "campaign.toml"), root / "ridelab.duckdb"
    for name in pipelines:
        chosen = load_pipeline(name)
        steps = tuple(step for step in chosen.steps if step.name != "report")
        outcome = run(replace(chosen, steps=steps), campaign, path, root / "report")
        assert outcome.failed == ()
    return Store.open(path, read_only=True)
