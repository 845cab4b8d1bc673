"""README's notebook example, run as it stands there."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import altair as alt
import polars as pl
import pytest
import vl_convert

from ridelab.gears import VehicleGears
from ridelab.simulate import simulate_ride
from tests.simulate.rides import hub_ride

CAMPAIGN = """
[campaign]
name = "Notebook, invented"
[vehicles.heron]
kind = "bicycle"
rollout_m = 2.1
drivetrain = "fourteen"
rides = ["rides/heron/*.fit"]
[drivetrains.fourteen]
stages = [
  { name = "chain", driver = [38], driven = [15] },
  { name = "hub", speeds = 14, range = 5.26, lowest = 0.279 },
]
"""
README = Path(__file__).resolve().parents[1] / "README.md"


@pytest.fixture(scope="module")
def cells(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What the example's names stand for, after it ran over a simulated ride of ten minutes."""
    section = README.read_text("utf-8").partition("## In a notebook")[2]
    code = section.partition("```python\n")[2].partition("```")[0]
    folder = tmp_path_factory.mktemp("notebook")
    file = folder / "rides" / "heron" / "monday.fit"
    file.parent.mkdir(parents=True)
    simulate_ride(hub_ride(duration_s=600), 1).to_fit(file, datetime(2031, 5, 4, 8, tzinfo=UTC))
    (folder / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    names: dict[str, Any] = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        exec(code, names)  # noqa: S102 - our own README
    return names


def test_frames_have_what_was_measured(cells: dict[str, Any]) -> None:
    """Relations, an own query, and what one file says alone."""
    assert cells["outcome"].read == 1
    assert set(cells["gears"]["vehicle"]) == {"heron"}
    assert cells["often"]["shifts"].sum() > 0
    assert isinstance(cells["alone"], VehicleGears)
    assert len(cells["found"]) > 1


def test_charts_are_drawn(cells: dict[str, Any]) -> None:
    """One of the report and one of the evidence, with marks and a title."""
    for chart in (cells["picture"], cells["cloud"]):
        assert isinstance(chart, alt.Chart | alt.LayerChart)
        svg = vl_convert.vegalite_to_svg(chart.to_json(), vl_version="6.4")
        assert "mark-symbol" in svg or "mark-rect" in svg
        assert "heron: " in svg


def test_words_and_figures_belong_to_the_chart(cells: dict[str, Any]) -> None:
    """A sentence on its steps, and the steps."""
    assert isinstance(cells["behind"], pl.DataFrame)
    assert {"gear", "published_step", "step"} <= set(cells["behind"].columns)
    assert cells["steps"].said.startswith("Steps from")
