"""The fixtures: a ride whose truth is known, as read from its file."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest

from ridelab import read_ride

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"
#: As fixtures/README.md says.
RATIOS, ROLLOUT_M = (1.0, 1.5, 2.2), 2.1


def test_ride_with_known_gears_reads_as_they_turn() -> None:
    """In each gear a crank turn carries ratio times rollout, to within 1 %: no inference in it."""
    ride = read_ride(FIXTURES / "two-minutes.fit")
    truth = pl.read_csv(FIXTURES / "two-minutes.csv")
    assert ride.started_at == datetime(2031, 5, 4, 8, tzinfo=UTC)
    assert (ride.speed_source, ride.problems) == ("wheel sensor", ())
    assert ride.samples["t_s"].to_list() == truth["t_s"].to_list()
    driven = ride.samples.with_columns(truth["gear"], truth["coupled"]).filter("coupled")
    found = driven.group_by("gear").agg(
        m=(60 * pl.col("speed_mps") / pl.col("cadence_rpm")).median()
    )
    assert dict(found.sort("gear").rows()) == pytest.approx(
        {gear: ratio * ROLLOUT_M for gear, ratio in enumerate(RATIOS, 1)}, rel=0.01
    )
