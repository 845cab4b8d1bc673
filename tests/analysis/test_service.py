"""When a service is due: every date and distance here was worked out by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from ridelab.resources import data_dir
from tests.report.fabricated import FabricatedStore

TODAY = date(2031, 6, 1)


def due(
    rides: dict[date, float] | None = None,
    services: dict[date, float | None] | None = None,
    today: date = TODAY,
    **stated: object,
) -> dict[str, Any]:
    """The row of "heron": ``rides`` in km by day, ``services`` with the reading in km."""
    store = FabricatedStore()
    store.add("told_on", {"day": today})
    usual = {"place": 1, "vehicle": "heron", "kind": "trike", "rollout_is_measured": True}
    store.add("stated_vehicles", usual | stated)
    for on, km in (services or {}).items():
        store.add("stated_services", {"vehicle": "heron", "serviced_on": on, "odometer_km": km})
    for day, km in (rides or {}).items():
        store.add("recorded_rides", a_ride(day, km))
    query = data_dir("sql").joinpath("analysis", "service.sql").read_text("utf-8")
    return store.frame(query).row(0, named=True)


def a_ride(day: date, km: float) -> dict[str, object]:
    """A ride at noon."""
    return {
        "ride": str(day),
        "vehicle": "heron",
        "path": f"{day}.fit",
        "sha256": str(day),
        "format": "fit",
        "started_at": datetime(day.year, day.month, day.day, 12, tzinfo=UTC),
        "duration_s": 3600.0,
        "distance_m": km * 1000,
        "samples": 3600,
        "speed_source": "wheel sensor",
        "sensors": "bike_speed",
        "cadence_resolution_rpm": 1.0,
        "reader": "invented",
    }


def weekly(km: float, weeks: int = 8, *, every_second: bool = False) -> dict[date, float]:
    """A ride a week back from today, or one of double length every second week."""
    return {
        TODAY - timedelta(days=7 * week): km * (2 * (week % 2) if every_second else 1)
        for week in range(weeks)
    }


@pytest.mark.parametrize(
    ("serviced", "months", "on"),
    [
        (date(2030, 8, 31), 6, date(2031, 2, 28)),  # February has no 31st
        (date(2031, 8, 31), 6, date(2032, 2, 29)),  # nor in a leap year
        (date(2032, 2, 29), 12, date(2033, 2, 28)),
        (date(2031, 3, 1), 12, date(2032, 3, 1)),
        (date(2031, 12, 31), 2, date(2032, 2, 29)),
        (date(2031, 1, 1), 1.5, date(2031, 2, 16)),  # half a month is 15 days
    ],
)
def test_months_end_where_the_calendar_ends_them(serviced: date, months: float, on: date) -> None:
    """Counted from the service, the day of the month kept where there is one."""
    row = due(services={serviced: None}, service_every_months=months)
    assert row["due_on"] == on
    assert row["next_by"] == "months"
    assert row["remaining_days"] == (on - TODAY).days


def test_way_is_counted_from_the_last_service() -> None:
    """400 km before, 50 + 60 since: at 510 km, 9890 of 10000 left, due at 10400."""
    rides = {date(2031, 2, 1): 30.0, date(2031, 3, 1): 50.0, date(2031, 3, 9): 60.0}
    services: dict[date, float | None] = {date(2030, 3, 1): 100.0, date(2031, 3, 1): 400.0}
    row = due(rides, services, odometer_km=412.0, service_every_km=10000)
    assert row["odometer_m"] == 510_000
    assert row["since_service_m"] == 110_000  # the ride on the day itself counts as after it
    assert row["due_at_m"] == 10_400_000
    assert row["remaining_m"] == 9_890_000
    assert row["counted_from"] == "service"


def test_service_before_the_first_ride_takes_the_odometer_along() -> None:
    """Serviced at 300 km, 412 before the first ride, 50 ridden: 162 since."""
    services: dict[date, float | None] = {date(2031, 1, 1): 300.0}
    row = due({date(2031, 3, 1): 50.0}, services, odometer_km=412.0, service_every_km=5000)
    assert row["odometer_m"] == 462_000
    assert row["since_service_m"] == 162_000


def test_service_without_a_reading_counts_the_rides_since() -> None:
    """412 + 30 + 50 on the odometer, 50 of them since the service."""
    rides = {date(2031, 2, 1): 30.0, date(2031, 3, 9): 50.0}
    row = due(rides, {date(2031, 3, 1): None}, odometer_km=412.0, service_every_km=5000)
    assert row["odometer_m"] == 492_000
    assert row["since_service_m"] == 50_000
    assert row["due_at_m"] == 492_000 + 4_950_000


def test_without_a_service_the_odometer_counts_from_new() -> None:
    """412 + 50 of 500 km: 38 left, which is less than a tenth."""
    row = due({date(2031, 3, 9): 50.0}, odometer_km=412.0, service_every_km=500)
    assert (row["counted_from"], row["remaining_m"], row["state"]) == ("odometer", 38_000, "soon")


def test_without_an_odometer_way_and_months_count_from_the_first_ride() -> None:
    """Nothing says what was before; months count all the same."""
    row = due({date(2031, 3, 9): 50.0}, service_every_km=500, service_every_months=6)
    assert row["odometer_m"] is None
    assert row["due_at_m"] is None
    assert (row["counted_from"], row["since_service_m"]) == ("first ride", 50_000)
    assert row["due_on"] == date(2031, 9, 9)


@pytest.mark.parametrize(
    ("stated", "state"),
    [
        ({"service_every_km": 49.0}, "overdue"),
        ({"service_every_km": 50.0}, "soon"),  # to the metre: nothing left, nothing over
        ({"service_every_km": 500.0}, "later"),
        ({"service_every_months": 2.0}, "overdue"),  # since 9 May
        ({"service_every_months": 3.0}, "soon"),  # on 9 June
        ({"service_every_months": 4.0}, "later"),  # on 9 July
        ({}, "no interval"),
    ],
)
def test_state_is_told_in_a_word(stated: dict[str, Any], state: str) -> None:
    """One of both limits is enough."""
    row = due({date(2031, 3, 9): 50.0}, {date(2031, 3, 9): None}, **stated)
    assert row["state"] == state


def test_vehicle_that_was_never_ridden_knows_its_odometer_only() -> None:
    """No start to count months from, but way from new."""
    row = due(odometer_km=412.0, service_every_km=5000, service_every_months=6)
    assert (row["odometer_m"], row["remaining_m"]) == (412_000, 4_588_000)
    assert (row["due_on"], row["expected_on"], row["pace"]) == (None, None, "unknown")
    assert due(service_every_months=6)["state"] == "unknown"


def test_day_of_the_way_follows_from_the_pace() -> None:
    """70 km a week are 10 a day; 4440 of 5000 left last 444 days, the months only 200 or so."""
    first = min(weekly(70))
    row = due(weekly(70), {first: None}, service_every_km=5000, service_every_months=9)
    assert row["metres_per_week"] == 70_000
    assert row["pace"] == "steady"
    assert row["expected_on"] == TODAY + timedelta(days=444)
    assert row["next_by"] == "months"
    row = due(weekly(70), {first: None}, service_every_km=5000)
    assert (row["next_on"], row["next_by"]) == (TODAY + timedelta(days=444), "distance")


def test_pace_that_changes_is_told() -> None:
    """0 and 140 in turn: mean 70, deviation 74.8, of the mean of eight 26.5: 38 % of 70."""
    assert due(weekly(70, every_second=True), service_every_km=5000)["pace"] == "uneven"


def test_one_week_makes_no_pace() -> None:
    """Nor a day to expect it on."""
    row = due(weekly(70, weeks=1), odometer_km=0, service_every_km=5000)
    assert (row["pace"], row["expected_on"]) == ("unknown", None)


def test_unit_set_to_another_wheel_is_set_right() -> None:
    """Set to 2.2 m, the wheel rolls 2.0: 110 km recorded are 100."""
    row = due({date(2031, 3, 9): 110.0}, odometer_km=0, unit_factor=1.1, service_every_km=500)
    assert row["since_service_m"] == pytest.approx(100_000)
