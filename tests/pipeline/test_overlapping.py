"""Of several recordings of one ride the richest is measured; none is lost, and it is told."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.pipeline.overlapping import same_time
from tests.pipeline.test_reading import READ

if TYPE_CHECKING:
    from tests.pipeline.conftest import Bench

DAY = datetime(2031, 5, 4, 8, tzinfo=UTC)


def record(start_min: float, end_min: float, source: str = "wheel sensor") -> dict[str, Any]:
    """What is known of a ride, from one minute of the day to another."""
    return {
        "started_at": DAY + timedelta(minutes=start_min),
        "duration_s": 60 * (end_min - start_min),
        "speed_source": source,
        "format": "fit",
    }


def poorer(records: dict[str, dict[str, Any]], **seconds: float) -> dict[str, str]:
    """The rides that another stands for, each with that one."""
    paths = {ride: f"{ride}.fit" for ride in records}
    found = same_time(paths, records, lambda asked: {ride: seconds[ride] for ride in asked})
    return {ride: richer.ride for ride, (_, richer) in found.items()}


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        ((0, 60), (0, 60), False),
        ((0, 60), (10, 20), False),
        ((0, 60), (58, 120), False),
        ((0, 60), (59.5, 120), True),
        ((0, 60), (60, 120), True),
        ((0, 60), (61, 120), True),
        ((0, 60), (30, 30.5), False),
        ((0, 0), (0, 60), False),
    ],
)
def test_recordings_that_share_more_than_a_minute_are_of_one_ride(
    one: tuple[float, float], other: tuple[float, float], apart: bool
) -> None:
    """Or half of the shorter one; a minute is what clocks may differ by."""
    found = poorer({"a": record(*one), "b": record(*other)}, a=2000, b=1000)
    assert found == ({} if apart else {"b": "a"})


def test_speed_of_a_wheel_sensor_is_worth_four_times_that_of_satellites() -> None:
    """More seconds win between equals; beside another source they must be many more."""
    satellite, wheel = record(0, 60, "satellite"), record(0, 60)
    assert poorer({"s": satellite, "w": wheel}, s=3600, w=1000) == {"s": "w"}
    assert poorer({"s": satellite, "w": wheel}, s=3600, w=800) == {"w": "s"}
    assert poorer({"s": satellite, "w": record(0, 60, "satellite")}, s=3600, w=3500) == {"w": "s"}


def test_recording_stands_before_its_export() -> None:
    """A GPX file of the same ride, be it a few seconds longer, tells nothing that FIT does not."""
    export = record(0, 60, "unknown") | {"format": "gpx"}
    assert poorer({"a": export, "b": record(0, 60, "satellite")}, a=3600, b=3590) == {"a": "b"}


def test_equal_recordings_are_told_apart_by_path() -> None:
    """The same one at every run, in whatever order they come."""
    assert poorer({"b": record(0, 60), "a": record(0, 60)}, a=5, b=5) == {"b": "a"}


def test_recordings_without_a_time_of_day_are_left_alone() -> None:
    """Two logs that begin at zero need not be of one ride."""
    unset = record(0, 60) | {"started_at": datetime(1970, 1, 1, tzinfo=UTC)}
    assert poorer({"a": unset, "b": unset}, a=5, b=5) == {}


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 300), st.integers(1, 120), st.integers(0, 9)),
        min_size=1,
        max_size=9,
    )
)
def test_no_two_that_are_measured_share_a_time(rides: list[tuple[int, int, int]]) -> None:
    """And each that is not shares one with a richer ride that is."""
    records = {f"{n}": record(start, start + long) for n, (start, long, _) in enumerate(rides)}
    seconds = {f"{n}": float(worth) for n, (_, _, worth) in enumerate(rides)}
    found = poorer(records, **seconds)
    measured = records.keys() - found.keys()
    assert set(found.values()) <= measured
    for ride, richer in found.items():
        assert seconds[richer] >= seconds[ride]
    for one in measured:
        for other in measured - {one}:
            shared = min(
                records[one]["started_at"] + timedelta(seconds=records[one]["duration_s"]),
                records[other]["started_at"] + timedelta(seconds=records[other]["duration_s"]),
            ) - max(records[one]["started_at"], records[other]["started_at"])
            assert shared <= timedelta(minutes=1)


def statuses(bench: Bench) -> dict[str, str]:
    """What was made of each file of the first vehicle."""
    rows = bench.frame("select path, status from files where vehicle = 'heron'").rows()
    return {path.removeprefix("rides/heron/"): status for path, status in rows}


def measured(bench: Bench) -> set[str]:
    """Files of the rides that the first vehicle is measured by."""
    rows = bench.frame("select path from rides where vehicle = 'heron'").rows()
    return {path.removeprefix("rides/heron/") for (path,) in rows}


def half_of(bench: Bench) -> bytes:
    """The first ride, as a file that breaks off halfway."""
    return bench.fits[0][: len(bench.fits[0]) // 2]


def test_richer_recording_stands_for_both(bench: Bench, reads: list[str]) -> None:
    """The other is stored, listed as a duplicate, told with both worths, and never read again."""
    bench.put("rides/heron/A-broken-off.fit", half_of(bench))
    for _ in range(2):
        outcome = bench.run(READ)
        assert (outcome.duplicates, outcome.exit_code) == (1, 0)
    assert len(reads) == 4
    assert measured(bench) == {"a.fit", "b.fit"}
    assert statuses(bench)["A-broken-off.fit"] == "duplicate"
    assert len(bench.frame("rides")) == 4
    [(path, severity, message)] = bench.told("files")
    assert (path, severity) == ("rides/heron/A-broken-off.fit", "note")
    assert "same time as rides/heron/a.fit, which tells more of it" in message


def test_richer_recording_that_comes_later_takes_over(bench: Bench) -> None:
    """The vehicle is measured again, by the richer one."""
    bench.put("rides/heron/a.fit", half_of(bench))
    bench.run()
    assert measured(bench) == {"a.fit", "b.fit"}
    bench.put("rides/heron/whole.fit", 0)
    assert bench.run().measured == ("heron",)
    assert measured(bench) == {"whole.fit", "b.fit"}
    assert bench.run().kept == ("heron", "otter")


def test_richer_recording_whose_file_is_gone_still_stands(bench: Bench) -> None:
    """Its ride is stored, and so is what it tells."""
    bench.put("rides/heron/half.fit", half_of(bench))
    bench.run(READ)
    (bench.root / "rides/heron/a.fit").unlink()
    bench.run(READ)
    assert measured(bench) == {"a.fit", "b.fit"}
    assert statuses(bench)["half.fit"] == "duplicate"


def test_poorer_recording_stands_in_where_the_richer_is_claimed_no_more(bench: Bench) -> None:
    """Whoever takes a file out of the globs wants it out of the figures."""
    bench.put("rides/heron/half.fit", half_of(bench))
    bench.run(READ)
    bench.edit("rides/heron/*.fit", "rides/heron/[bh]*.fit")
    bench.run(READ)
    assert measured(bench) == {"half.fit", "b.fit"}


def test_two_vehicles_may_be_ridden_at_one_time(bench: Bench) -> None:
    """A fleet has more than one rider."""
    bench.put("rides/otter/half.fit", half_of(bench))
    outcome = bench.run(READ)
    assert (outcome.read, outcome.duplicates) == (4, 0)
    assert bench.told("files") == []
