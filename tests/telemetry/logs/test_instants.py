"""Times in every form that the campaign takes: true instants, in order, one row each."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.campaign.loggers import TimeColumn
from tests.telemetry.logs.logged import PLAIN, logger, read, table, told

START = datetime(2031, 5, 4, 8, 0, tzinfo=UTC)


def timed(times: list[object], form: str, zone: str = "UTC") -> tuple[datetime, list[float]]:
    """Start and elapsed times of a file with these in its time column."""
    rows = [(f'"{time}"', 5, 60) for time in times]
    made = replace(PLAIN, time=TimeColumn("t", form, zone))
    ride = read(table("t,speed,cadence", rows), made)
    return ride.started_at, ride.samples["t_s"].to_list()


@settings(deadline=None)
@given(st.integers(631_152_000, 3_786_912_000), st.integers(-840, 840))
def test_iso_times_with_a_zone_are_instants(unix_s: int, offset_min: int) -> None:
    """Written by the standard library's isoformat, T or space, in any zone (ISO 8601)."""
    start = datetime.fromtimestamp(unix_s, UTC)
    there = start.astimezone(timezone(timedelta(minutes=offset_min)))
    later = there + timedelta(seconds=1.5)
    found, elapsed = timed([there.isoformat(), later.isoformat(" ")], "iso")
    assert abs(found - start) < timedelta(microseconds=2)
    assert elapsed == pytest.approx([0.0, 1.5], abs=1e-5)


@pytest.mark.parametrize(
    ("form", "first", "second"),
    [
        ("iso", "2031-05-04T08:00:00Z", "2031-05-04T08:00:01,5Z"),
        ("iso", "2031-05-04 10:00+02:00", "2031-05-04 10:00:01.5 +0200"),
        ("iso", "2031-05-04T08:00:00", "2031-05-04 08:00:01.500"),
        ("%d.%m.%Y %H:%M:%S%.f", "04.05.2031 08:00:00", "04.05.2031 08:00:01,5"),
        (
            "%m/%d/%y %I:%M:%S%.f %p %z",
            "05/04/31 10:00:00 AM +0200",
            "05/04/31 10:00:01.5 AM +0200",
        ),
        ("unix seconds", "1935648000", "1935648001.5"),
        ("unix milliseconds", "1935648000000", "1935648001500"),
    ],
)
def test_the_same_instant_in_every_form(form: str, first: str, second: str) -> None:
    """1935648000 is 2031-05-04 08:00 UTC (checked with date -u -d @1935648000)."""
    assert timed([first, second], form) == (START, [0.0, 1.5])


def test_time_without_a_zone_is_of_the_zone_named() -> None:
    """In May Lisbon is one hour ahead of UTC (IANA time zone database)."""
    assert timed(["2031-05-04T09:00:00", "2031-05-04T09:00:01"], "iso", "Europe/Lisbon")[0] == START
    assert timed(["2031-05-04T10:00:00", "2031-05-04T10:00:01"], "iso", "+02:00")[0] == START


def test_hour_that_comes_twice_goes_on() -> None:
    """On 26 October 2031 the clocks of Lisbon go from 2:00 back to 1:00: elapsed time is kept."""
    zoned = ["2031-10-26T01:59:59+01:00", "2031-10-26T01:00:00+00:00"]
    assert timed(list(zoned), "iso")[1] == [0.0, 1.0]


@pytest.mark.parametrize(
    ("starts_at", "expected"),
    [
        (START, START),
        (START.replace(hour=10, tzinfo=None), START),
        ("bench-%Y%m%d-%H%M", START.replace(hour=6)),
    ],
)
def test_counted_time_starts_where_the_campaign_says(
    starts_at: datetime | str, expected: datetime
) -> None:
    """Here the zone is +02:00 where none is given; the file is bench-20310504-0800.csv."""
    made = replace(PLAIN, starts_at=starts_at, time=TimeColumn("t", "milliseconds", "+02:00"))
    ride = read(table("t,speed,cadence", [(500, 5, 60), (1500, 5, 60)]), made)
    assert ride.started_at == expected + timedelta(seconds=0.5)
    assert ride.samples["t_s"].to_list() == [0.0, 1.0]


@pytest.mark.parametrize("starts_at", [None, "other-%Y%m%d"])
def test_unknown_start_is_told(starts_at: str | None) -> None:
    """The ride can be measured; when it was ridden nobody knows."""
    ride = read(
        table("t,speed,cadence", [(0, 5, 60), (1, 5, 60)]), replace(PLAIN, starts_at=starts_at)
    )
    assert ride.started_at.year == 1970
    assert any("when it was recorded" in message for message in told(ride))


def test_rows_out_of_order_are_put_in_order() -> None:
    """Told, and none lost."""
    rows = [(0, 5, 60), (2, 7, 62), (1, 6, 61), (3, 8, 63)]
    ride = read(table("t,speed,cadence", rows))
    assert ride.samples["speed_mps"].to_list() == [5, 6, 7, 8]
    assert any("steps back 1 time" in message for message in told(ride))


def test_rows_of_one_instant_become_one() -> None:
    """A row for each channel, as some loggers write: nothing lost, nothing averaged."""
    rows = [row for n in range(4) for row in ((n, 5 + n, None), (n, None, 60 + n))]
    found = read(table("t,speed,cadence", rows)).samples
    assert found.select("t_s", "speed_mps", "cadence_rpm").rows() == [
        (n, 5 + n, 60 + n) for n in range(4)
    ]


def test_rows_under_a_coarse_clock_are_averaged() -> None:
    """Ten rows a second under a clock of whole seconds: the mean of each second."""
    rows = [(n // 10, n / 10, 60) for n in range(40)]
    found = read(table("t,speed,cadence", rows)).samples
    assert found["t_s"].to_list() == [0, 1, 2, 3]
    assert found["speed_mps"].to_list() == pytest.approx([0.45, 1.45, 2.45, 3.45])


def test_time_far_from_all_others_is_a_typing_error() -> None:
    """One row of the year 2099 must not make a ride of seventy years."""
    rows = [(n, 5, 60) for n in range(9)] + [(2e9, 5, 60)]
    ride = read(table("t,speed,cadence", rows))
    assert ride.duration_s == 8
    assert any("1 row without a time that can be read" in message for message in told(ride))


def test_distance_shows_where_a_clock_was_set() -> None:
    """The clock goes ahead an hour while the wheel goes on: elapsed time is that of the wheel."""
    made = replace(
        logger(speed=1.0, cadence=1.0, distance=1.0), time=TimeColumn("t", "unix seconds")
    )
    base = int(START.timestamp())
    rows = [(base + n + (3600 if n >= 60 else 0), 5, 60 + n % 3, 5 * n) for n in range(120)]
    ride = read(table("t,speed,cadence,distance", rows), made)
    assert ride.duration_s == pytest.approx(119, abs=1)
    assert any("the clock jumped ahead" in message for message in told(ride))
