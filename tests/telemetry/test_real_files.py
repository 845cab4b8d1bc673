"""Recordings of real units, against the decoder's own values and against a table read by eye.

The folder ``shared/rides`` lies beside the checkout, not in it; without it these tests skip.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import fitdecode
import numpy as np
import pytest

from ridelab.errors import RideError
from ridelab.telemetry import read_ride, sha256_of
from ridelab.telemetry.fit.messages import FIT_EPOCH_S, WANTED, decode

RIDES = Path(__file__).parents[2].parent / "shared" / "rides"

pytestmark = pytest.mark.skipif(not RIDES.is_dir(), reason=f"real ride files are not at {RIDES}")


class Read(NamedTuple):
    """What a file is expected to be read as; ``told`` are parts of its problems, in order."""

    samples: int
    sensors: tuple[str, ...]
    speed_source: str
    told: tuple[str, ...] = ()


NO_CADENCE = "no cadence: no gear can be named"

GOOD = {
    "multisport": Read(
        3131,
        (),
        "unknown",
        (
            "generic: 11683, running: 8894, transition: 531",
            NO_CADENCE,
            "missing at 29 places: up to 5 s",
            "1 silence of more than 10 s outside pauses, the longest 30 s",
        ),
    ),
    "old-unit": Read(1808, (), "unknown", ("software may have computed its speed",)),
    "power-1": Read(2243, ("bike_power",), "satellite"),
    "power-2": Read(3763, ("bike_power",), "satellite", ("missing at 2 places",)),
    "power-3": Read(4977, ("bike_power",), "satellite", ("missing at 1 place",)),
    "road-long": Read(
        13471,
        ("bike_power", "bike_speed_cadence", "bike_speed", "heart_rate"),
        "wheel sensor",
    ),
    "satellite-hilly": Read(8357, ("heart_rate", "bike_power"), "satellite"),
    "sensor-long": Read(
        10671,
        ("bike_speed_cadence", "heart_rate"),
        "wheel sensor",
        ("15 records with the time of another", "missing at 17 places: up to 2 s"),
    ),
    "sensor-short": Read(
        3095,
        ("bike_speed_cadence", "heart_rate"),
        "wheel sensor",
        ("3 records with the time of another", "unevenly, 1 to 10 s apart", "1 silence"),
    ),
    "trainer": Read(
        2263,
        ("heart_rate", "bike_power"),
        "none",
        ("no speed and no distance: no gear can be named", "missing at 1 place"),
    ),
}

ODD: dict[str, Read | str] = {
    "activity-activity-filecrc": "only running",
    "activity-filecrc": "only running",
    "activity-settings": "only running",
    "activity-settings-corruptheader": "only running",
    "activity-settings-nodata": "only running",
    "activity-unexpected-eof": "only running",
    "corrupt-1": Read(268, ("bike_power", "heart_rate"), "unknown"),
    "corrupt-2": Read(960, (), "satellite", (NO_CADENCE, "unevenly, 1 to 10 s apart")),
    "corrupt-3": "an activity without a single record",
    "developer-data": "none of its 3 records has a time",
    "dump": "only running",
    "misaligned-fields": Read(
        11272,
        (),
        "unknown",
        ("at byte 41093: event.data takes 1 byte,", NO_CADENCE, "missing at 1 place: up to 7 s"),
    ),
    "monitoring": "a monitoring file, not an activity",
    "no-application-id": Read(132, ("bike_speed", "bike_power", "heart_rate"), "wheel sensor"),
    "phone-app": "only running",
    "phone-app-2017": "only fitness equipment",
    "run-compressed-speed": "only running",
    "run-developer-types": "only running",
    "settings": "a settings file, not an activity",
    "several-headers": Read(
        854,
        ("heart_rate", "unknown_30"),
        "satellite",
        ("running: 518, swimming: 349, transition: 52",),
    ),
    "short-2013": "only running",
    "short-2015": Read(221, (), "satellite", (NO_CADENCE, "12 silences of more than 10 s")),
    "swim-event-timestamp": "only swimming",
    "truncated-ride": Read(
        14383,
        (),
        "unknown",
        (
            "at byte 403437: the file breaks off, 9 bytes too early",
            "8 records with the time of another",
            NO_CADENCE,
        ),
    ),
    "weight": "a weight file, not an activity",
    "workout": "a workout file, not an activity",
}


def check_read(path: Path, expected: Read) -> None:
    """Compare one ride with the table."""
    found = read_ride(path)
    assert len(found.samples) == expected.samples
    assert found.sensors == expected.sensors
    assert found.speed_source == expected.speed_source
    assert found.sha256 == sha256_of(path)
    assert len(found.problems) == len(expected.told)
    for problem, told in zip(found.problems, expected.told, strict=True):
        assert told in problem.message


@pytest.mark.parametrize("name", GOOD)
def test_rides_that_a_user_would_bring(name: str) -> None:
    """Samples, sensors, source of the speed and problems, as found by reading the files by eye."""
    check_read(RIDES / "good" / f"{name}.fit", GOOD[name])


@pytest.mark.parametrize("name", ODD)
def test_odd_files_are_read_with_problems_or_set_aside_with_a_reason(name: str) -> None:
    """Never anything but a ride or a declared error."""
    path = RIDES / "odd" / f"{name}.fit"
    expected = ODD[name]
    if isinstance(expected, Read):
        check_read(path, expected)
    else:
        with pytest.raises(RideError) as caught:
            read_ride(path)
        assert str(caught.value).startswith(f"{path}: ")
        assert expected in str(caught.value)


def test_every_odd_file_is_in_the_table() -> None:
    """A file that is added is not passed over."""
    assert {path.stem for path in (RIDES / "odd").glob("*.fit")} == set(ODD)
    assert {path.stem for path in (RIDES / "good").glob("*.fit")} == set(GOOD)


@pytest.mark.parametrize("name", ["power-1", "trainer", "sensor-short", "satellite-hilly"])
def test_every_record_value_is_the_decoders_own(name: str) -> None:
    """The values that fitdecode gives, asked for by name, record by record."""
    path = RIDES / "good" / f"{name}.fit"
    found = decode(path.read_bytes())["record"]
    with fitdecode.FitReader(path, check_crc=fitdecode.CrcCheck.RAISE) as frames:
        records = [
            frame
            for frame in frames
            if frame.frame_type == fitdecode.FIT_FRAME_DATA and frame.name == "record"
        ]
    assert len(found) == len(records)
    for field in WANTED["record"]:
        theirs = [record.get_value(field, fallback=None) for record in records]
        if field == "timestamp":
            theirs = [time.timestamp() - FIT_EPOCH_S for time in theirs]
        if field.startswith("enhanced_"):  # unpacked by the decoder, stored in none of these files
            assert found[field].null_count() == len(found)
        else:
            assert found[field].to_list() == theirs, field


def test_samples_are_the_decoders_values_in_si_units() -> None:
    """Positions against fitdecode's own conversion of semicircles to degrees."""
    path = RIDES / "good" / "satellite-hilly.fit"
    samples = read_ride(path).samples
    standard = fitdecode.StandardUnitsDataProcessor()
    with fitdecode.FitReader(path, processor=standard) as frames:
        records = [
            frame
            for frame in frames
            if frame.frame_type == fitdecode.FIT_FRAME_DATA and frame.name == "record"
        ]
    for column, field, scale in (
        ("lat_deg", "position_lat", 1.0),
        ("lon_deg", "position_long", 1.0),
        ("speed_mps", "enhanced_speed", 1 / 3.6),
        ("distance_m", "distance", 1000.0),
        ("altitude_m", "enhanced_altitude", 1.0),
    ):
        theirs = np.array([record.get_value(field) for record in records]) * scale
        np.testing.assert_allclose(samples[column].to_numpy(), theirs, rtol=1e-12)


def test_a_truncated_ride_keeps_every_record() -> None:
    """14391 records stand before the break; eight share their second with another."""
    path = RIDES / "odd" / "truncated-ride.fit"
    assert len(decode(path.read_bytes())["record"]) == 14391
    assert len(read_ride(path).samples) == 14391 - 8


def test_reading_goes_on_behind_records_that_are_too_short() -> None:
    """The file of a phone app, sixteen records of which lack four bytes (found by eye).

    Such a record swallows the head of the next, and then no message is where one should be. The
    short record itself comes out with a time of no meaning; every other one is found.
    """
    content = (RIDES / "odd" / "phone-app.fit").read_bytes()
    found = decode(content)
    assert found.damage[0].offset == 7471
    assert "local message 11 not defined; 8 bytes skipped" in found.damage[0].text
    assert "the file breaks off" in found.damage[-1].text
    times = found["record"]["timestamp"].drop_nulls()
    assert len(times) == 5331
    plausible = (times - times.median()).abs() < 3600
    assert plausible.sum() == 5331 - 16


def test_pauses_of_a_real_ride_agree_with_the_units_own_timer() -> None:
    """session.total_timer_time of the file, as fitdecode reads it, is what was not paused.

    Times of events are whole seconds, so each of the pauses may be off by one.
    """
    path = RIDES / "good" / "sensor-long.fit"
    with fitdecode.FitReader(path) as frames:
        (timer_s,) = [
            frame.get_value("total_timer_time")
            for frame in frames
            if frame.frame_type == fitdecode.FIT_FRAME_DATA and frame.name == "session"
        ]
    found = read_ride(path)
    paused_s = sum(end - start for start, end in found.pauses.iter_rows())
    assert found.duration_s - paused_s == pytest.approx(timer_s, abs=len(found.pauses) / 2)
