"""GPX -> ride: columns, times, speed along the positions, pauses, and what is no ride."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.errors import DamagedFile, NotARide
from ridelab.telemetry import gpx, read_ride, sha256_of
from ridelab.telemetry.ride import SAMPLE_SCHEMA, Ride
from tests.telemetry.gpxtext import START, one_track, point, ride, segment, track
from tests.telemetry.gpxtext import gpx as whole


def read(*content: str) -> Ride:
    """Read a GPX file of these tracks."""
    return gpx.read(Path("ride.gpx"), whole(*content).encode())


def told(found: Ride) -> list[tuple[str, str]]:
    """Severity and text of each problem."""
    return [(problem.severity, problem.message) for problem in found.problems]


def test_a_ride_has_the_columns_of_every_other_ride(tmp_path: Path) -> None:
    """Through the one door; one second north of the equator at 5 m/s."""
    path = tmp_path / "any.name"
    extra = "<ele>100</ele><extensions><power>200</power></extensions>"
    path.write_text(one_track(*(point(t, 5.0 * t, extra, cad=60) for t in range(5))))
    found = read_ride(path)
    assert (found.path, found.format, found.sha256) == (path, "gpx", sha256_of(path))
    assert found.started_at == START
    assert found.samples.schema == SAMPLE_SCHEMA
    row = found.samples.row(2, named=True)
    assert row == {
        "t_s": 2.0,
        "speed_mps": pytest.approx(5.0, rel=1e-5),
        "cadence_rpm": 60.0,
        "power_w": 200.0,
        "wheel_power_w": None,
        "altitude_m": 100.0,
        "distance_m": pytest.approx(10.0, rel=1e-5),
        "lat_deg": pytest.approx(10.0 / 110_574.3, abs=1e-9),
        "lon_deg": 0.0,
        "timer_running": True,
    }
    assert (found.speed_source, found.cadence_resolution_rpm) == ("satellite", 1.0)
    assert found.problems == ()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2024-05-01T06:00:00Z", START),
        ("2024-05-01T08:00:00+02:00", START),
        ("2024-05-01T03:30:00-0230", START),
        ("2024-05-01T08:00:00+02", START),
        ("2024-05-01T06:00:00.250Z", START + timedelta(milliseconds=250)),
        ("2024-05-01T06:00:00.123456789Z", START + timedelta(microseconds=123_456)),
        ("  2024-05-01T06:00:00Z\n", START),
        ("2024-05-01 06:00:00Z", START),
        ("2024-05-01T06:00:00", START),
        ("1955-05-01T06:00:00Z", datetime(1955, 5, 1, 6, tzinfo=UTC)),
    ],
)
def test_times_are_read_with_their_zone_and_fraction(text: str, expected: datetime) -> None:
    """XML Schema part 2, 3.2.7 (dateTime), and common slips."""
    assert read(track(segment(point(text, cad=60)))).started_at == expected


def test_a_time_without_a_zone_is_told() -> None:
    """GPX demands UTC, so that is what it is taken for."""
    assert ("note", "1 time of no time zone: taken as UTC") in told(
        read(track(segment(point("2024-05-01T06:00:00", cad=60), point(1, 5.0, cad=60))))
    )


def test_points_with_no_time_or_one_that_cannot_be_are_left_out() -> None:
    """There is no place for them."""
    odd = (point(None, 5.0), point("yesterday", 10.0), point("2024-02-30T06:00:00Z", 15.0))
    found = read(track(segment(point(0, cad=60), *odd, point(4, 20.0, cad=60))))
    assert found.samples["t_s"].to_list() == [0.0, 4.0]
    assert ("warning", "3 points without a time: left out") in told(found)


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (track(segment(point(None), point(None))), "none of its 2 track points has a time: a plan"),
        ('<rte><rtept lat="1" lon="2"/></rte>', "a planned route of 1 point, not a track"),
        ('<wpt lat="1" lon="2"/><wpt lat="1" lon="2"/>', "only 2 waypoints, no track"),
        (track(segment()), "a GPX file without a single track point"),
        (track(segment(ride()), kind="Running"), "no cycling track, only Running"),
    ],
)
def test_a_file_that_holds_no_ride_says_why(content: str, reason: str) -> None:
    """Readable, and set aside with its reason."""
    with pytest.raises(NotARide, match=f"ride.gpx: {reason}"):
        read(content)


@pytest.mark.parametrize("content", [b"<gpx", b"<gpx>\xff", b"<gpx><trk><trkseg><trkpt lat='1'>"])
def test_a_file_that_breaks_off_before_its_first_point_is_damaged(content: bytes) -> None:
    """The place is told."""
    with pytest.raises(DamagedFile, match=r"ride.gpx: .*(breaks off|line 1)"):
        gpx.read(Path("ride.gpx"), content)


def test_tracks_of_other_sports_are_set_aside() -> None:
    """And counted; a track that says nothing is kept."""
    found = read(track(segment(ride(5)), kind="hiking"), track(segment(ride(9, start_s=60))))
    assert len(found.samples) == 9
    assert ("note", "5 points of hiking: set aside") in told(found)


@pytest.mark.parametrize(
    ("child", "column"),
    [
        ("<ele>12,5</ele>", "altitude_m"),
        ("<ele>NaN</ele>", "altitude_m"),
        ("<ele>1e999</ele>", "altitude_m"),
        ("<speed>-1</speed>", "speed_mps"),
        ("<extensions><cad>-60</cad></extensions>", "cadence_rpm"),
        ("<extensions><power>x</power></extensions>", "power_w"),
    ],
)
def test_a_value_that_cannot_be_is_left_out_and_counted(child: str, column: str) -> None:
    """The point stays."""
    found = read(track(segment(point(0), point(1, 5.0, child), point(2, 10.0))))
    assert len(found.samples) == 3
    if column != "speed_mps":
        assert found.samples[column].null_count() == 3
    assert ("warning", "1 value that cannot be: left out") in told(found)


def test_a_position_that_cannot_be_is_no_position() -> None:
    """Half a position is none, and the distance runs from the one before to the one after."""
    odd = point(1, 5.0).replace('lon="0.0"', 'lon="200"')
    found = read(track(segment(point(0), odd, point(2, 10.0))))
    assert found.samples["lat_deg"].is_null().to_list() == [False, True, False]
    assert found.samples["speed_mps"].is_null().to_list() == [False, True, False]
    assert found.samples["speed_mps"].drop_nulls().to_list() == pytest.approx([5, 5], rel=1e-5)
    assert found.distance_m == pytest.approx(10.0, rel=1e-5)


def test_speed_is_taken_from_the_point_before_to_the_point_after() -> None:
    """Second order where the points are even; one-sided at the ends and beside a silence."""
    metres = [0.0, 5.0, 11.0, 18.0, 100.0, 110.0]
    times = [0, 1, 2, 3, 30, 31]
    found = read(track(segment(*(point(t, m) for t, m in zip(times, metres, strict=True)))))
    expected = [5.0, 5.5, 6.5, 7.0, 10.0, 10.0]
    assert found.samples["speed_mps"].to_list() == pytest.approx(expected, rel=1e-5)
    assert found.samples["distance_m"].to_list() == pytest.approx(metres, rel=1e-5)


def test_the_end_of_a_segment_is_a_pause() -> None:
    """What lay between is no part of the distance, and no speed is computed across."""
    found = read(track(segment(ride(3)), segment(ride(3, start_s=6))))
    assert found.pauses.rows() == [(2.0, 6.0)]
    assert found.samples["distance_m"].to_list() == pytest.approx([0, 5, 10, 10, 15, 20], rel=1e-5)
    assert found.samples["speed_mps"].to_list() == pytest.approx([5.0] * 6, rel=1e-5)
    assert found.problems == ()


def test_tracks_in_the_wrong_order_are_one_ride() -> None:
    """As a program writes them that lists the newest first."""
    found = read(track(segment(ride(3, start_s=60))), track(segment(ride(3))))
    assert found.started_at == START
    assert found.samples["t_s"].to_list() == [0.0, 1.0, 2.0, 60.0, 61.0, 62.0]
    assert found.pauses.rows() == [(2.0, 60.0)]


def test_a_time_recorded_twice_is_read_once() -> None:
    """Two units on one ride: the track that began first, then what the other has beyond it."""
    found = read(track(segment(ride(6))), track(segment(ride(6, start_s=2, cad=99))))
    assert found.samples["cadence_rpm"].to_list() == [60.0] * 6 + [99.0] * 2
    assert ("warning", "4 points of a time that another segment has already: left out") in told(
        found
    )
    assert found.pauses.rows() == [(5.0, 6.0)]


def test_a_given_speed_is_kept_and_its_source_not_known() -> None:
    """GPX 1.0 does not say what measured it."""
    found = read(track(segment(*(point(t, 5.0 * t, "<speed>4.9</speed>") for t in range(4)))))
    assert found.samples["speed_mps"].to_list() == [4.9] * 4
    assert found.speed_source == "unknown"
    assert found.distance_m == pytest.approx(15.0, rel=1e-5)


@pytest.mark.parametrize(("unit", "factor"), [("km/h", 3.6), ("mph", 2.236936)])
def test_a_speed_in_another_unit_is_found_out(unit: str, factor: float) -> None:
    """No standard names the unit of a speed in extensions; the positions tell."""
    child = f"<extensions><speed>{5 * factor:.2f}</speed></extensions>"
    found = read(track(segment(*(point(t, 5.0 * t, child, cad=60) for t in range(60)))))
    assert found.samples["speed_mps"].to_list() == pytest.approx([5.0] * 60, rel=1e-3)
    assert any(text.endswith(f"taken as {unit}") for _, text in told(found))


def test_a_ride_that_goes_nowhere_has_no_speed() -> None:
    """A trainer: the positions stand still."""
    found = read(track(segment(*(point(t, 0.0, cad=60) for t in range(5)))))
    assert found.speed_source == "none"
    assert ("warning", "no speed and no distance: no gear can be named") in told(found)


def test_a_ride_without_cadence_is_read_and_told() -> None:
    """It cannot name a gear, yet it is a ride."""
    found = read(track(segment(ride(cad=None))))
    assert ("warning", "no cadence: no gear can be named") in told(found)


def test_a_receiver_that_was_not_set_costs_no_time() -> None:
    """1980-01-06 until the first fix."""
    early = (point(f"1980-01-06T00:00:0{t}Z", 5.0 * t, cad=60) for t in range(5))
    found = read(track(segment(*early, ride(9, start_s=5))))
    assert found.samples["t_s"].to_list() == [float(t) for t in range(14)]
    assert found.started_at == START
    assert "on being set" in told(found)[0][1]


@pytest.mark.parametrize(
    ("cadences", "step"),
    [([60, 61, 60], 1.0), ([60, 61.5, 60.5], 0.5), ([60.0078125, 60], 1 / 128)],
)
def test_the_resolution_of_the_cadence_is_that_of_the_values(
    cadences: list[float], step: float
) -> None:
    """The smallest difference of two of them, unless they are whole."""
    found = read(track(segment(*(point(t, 5.0 * t, cad=c) for t, c in enumerate(cadences)))))
    assert found.cadence_resolution_rpm == step


@given(st.data())
def test_a_ride_is_read_back_as_it_was_written(data: st.DataObject) -> None:
    """Times to the microsecond, values to the digit, in any order of segments."""
    count = data.draw(st.integers(1, 12))
    micro = data.draw(st.lists(st.integers(0, 10**9), min_size=count, max_size=count, unique=True))
    times = sorted(one / 1e6 for one in micro)
    value = st.none() | st.floats(0, 1000).map(lambda x: round(x, 3))
    altitude = data.draw(st.lists(value, min_size=count, max_size=count))
    cadence = data.draw(st.lists(value, min_size=count, max_size=count))
    rows = [
        point(t, 3.0 * t, "" if a is None else f"<ele>{a}</ele>", cad=c)
        for t, a, c in zip(times, altitude, cadence, strict=True)
    ]
    cut = data.draw(st.integers(0, count))
    parts = data.draw(st.permutations([segment(*rows[:cut]), segment(*rows[cut:])]))
    found = read(track(*parts))
    assert found.started_at == START + timedelta(seconds=times[0])
    np.testing.assert_allclose(found.samples["t_s"], np.array(times) - times[0], atol=2e-6)
    assert found.samples["altitude_m"].equals(pl.Series("altitude_m", altitude, pl.Float64))
    assert found.samples["cadence_rpm"].equals(pl.Series("cadence_rpm", cadence, pl.Float64))
