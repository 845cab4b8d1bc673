"""The benchmark of the report: its campaign is a campaign, and its peer shows the same data."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.campaign import load
from tests.benchmarks.report import by_row
from tests.benchmarks.report_campaign import write_campaign

if TYPE_CHECKING:
    from pathlib import Path


def test_the_season_has_twenty_vehicles_with_their_rides(tmp_path: Path) -> None:
    """One ride each here, claims on six drivetrains, and replays that some ask for."""
    campaign = load(write_campaign(tmp_path, rides_each=1))
    assert len(campaign.vehicles) == 20
    assert {len(list(tmp_path.glob(f"{name}/ride-*.fit"))) for name in campaign.vehicles} == {1}
    assert {claim.drivetrain for claim in campaign.claims} == set(campaign.drivetrains)
    assert sum(bool(one.replay_onto) for one in campaign.vehicles.values()) == 3


def test_data_row_by_row_are_the_same_data() -> None:
    """What is written by column becomes a row for each value; what is by row stays."""
    packed = {"kind": "a", "x": [1, 2], "y": [0.5, None]}
    spec = {"mark": "point", "datasets": {"one": [packed], "two": [{"z": 1}]}}
    rows = [{"kind": "a", "x": 1, "y": 0.5}, {"kind": "a", "x": 2, "y": None}]
    assert by_row(spec) == {"mark": "point", "datasets": {"one": rows, "two": [{"z": 1}]}}
