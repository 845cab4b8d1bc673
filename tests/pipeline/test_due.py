"""The day that services are due by: today, or any other that is given."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from ridelab.campaign import load
from ridelab.pipeline import run

if TYPE_CHECKING:
    from tests.pipeline.conftest import Bench

QUICK = '[[stages]]\nrun = "read"\n[[stages]]\nquery = "service"\neach_run = true\n'


def test_services_are_told_for_the_day_of_the_run(bench: Bench) -> None:
    """Run again later without a new ride, and what was not due is overdue."""
    bench.edit("[drivetrains.fourteen]\n", "[drivetrains.fourteen]\nservice.every_months = 6\n")
    bench.edit('drivetrain = "fourteen"\nrides', 'drivetrain = "fourteen"\nodometer_km = 7\nrides')
    campaign, pipeline = load(bench.root / "campaign.toml"), bench.pipeline(QUICK)
    for today, state in ((date(2031, 6, 1), "later"), (date(2031, 11, 5), "overdue")):
        run(pipeline, campaign, bench.store, bench.root / "report", today=today)
        [row] = bench.frame("service").filter(vehicle="heron").to_dicts()
        assert (row["told_on"], row["due_on"]) == (today, date(2031, 11, 4))
        assert row["state"] == state
        assert row["odometer_m"] > 7000


def test_day_is_todays_where_none_is_given(bench: Bench) -> None:
    """In UTC, as all times are."""
    before = datetime.now(UTC).date()
    bench.run(QUICK)
    assert before <= bench.frame("told_on").item() <= datetime.now(UTC).date()


def test_interval_without_a_start_is_told(bench: Bench) -> None:
    """As a note on the vehicle; the months still count, from its first ride."""
    bench.edit(
        "[drivetrains.fourteen]\n",
        "[drivetrains.fourteen]\nservice = { every_km = 5000, every_months = 6 }\n",
    )
    bench.run(QUICK)
    told = bench.told("service")
    assert [(path, severity) for path, severity, _ in told] == [("heron", "note")] * 2
    [row] = bench.frame("service").filter(vehicle="heron").to_dicts()
    assert (row["counted_from"], row["due_on"]) == ("first ride", date(2031, 11, 4))
