"""How much of each service interval is used up."""

from __future__ import annotations

from datetime import UTC, date, datetime

import polars as pl

from ridelab.report.fleet_section import service_rows


def test_without_a_stated_service_time_counts_from_the_first_ride() -> None:
    """By hand: ridden first on 3 March, due on 3 September (184 days), told on 1 October: 212 days.

    As the relation counts its due day; an overdue vehicle must not be missing from the chart.
    """
    service = pl.DataFrame(
        {
            "vehicle": ["ibis", "knot"],
            "since_service_m": [300e3, 100e3],
            "remaining_m": [None, 300e3],
            "serviced_on": pl.Series([None, date(2026, 9, 1)], dtype=pl.Date),
            "due_on": [date(2026, 9, 3), date(2026, 10, 31)],
            "told_on": [date(2026, 10, 1)] * 2,
        }
    )
    days = [datetime(2026, 3, day, 23, tzinfo=UTC) for day in (5, 3, 4)]
    rides = pl.DataFrame({"vehicle": ["ibis", "ibis", "knot"], "started_at": days})
    found = service_rows(service, rides)
    assert found["vehicle"].to_list() == ["ibis", "knot", "knot"]
    assert found["kind"].to_list() == ["by time", "by distance", "by time"]
    assert found["used"].round(2).to_list() == [115.22, 25.0, 50.0]
