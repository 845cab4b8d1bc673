"""Paired sensors, the source of the speed, the wheel size."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridelab.telemetry import fit
from tests.telemetry.fitbytes import START, Layout, Value, file_id, fit_file, records, table

if TYPE_CHECKING:
    from ridelab.telemetry.ride import Ride

CREATOR = 0

#: FIT profile, type ``source_type``.
ANT, ANTPLUS, BLUETOOTH_LE, LOCAL = 0, 1, 3, 5

#: FIT profile, type ``antplus_device_type``.
POWER, HEART_RATE, SPEED_CADENCE, CADENCE, SPEED = 11, 120, 121, 122, 123

NO_POSITION = records(("speed", "cadence"), (0, 5000, 60), (1, 5000, 60))
WITH_POSITION = records(
    ("speed", "cadence", "position_lat", "position_long"),
    (0, 5000, 60, 600_000_000, 90_000_000),
    (1, 5000, 60, 600_000_100, 90_000_100),
)


def devices(*rows: tuple[Value, ...]) -> bytes:
    """Device messages of (device_index, device_type, source_type)."""
    return table(Layout("device_info", ("device_index", "device_type", "source_type")), *rows)


def session(sport: int = 2, sub_sport: int = 0) -> bytes:
    """A session message."""
    return table(Layout("session", ("start_time", "sport", "sub_sport")), (START, sport, sub_sport))


def read(*messages: bytes, body: bytes = WITH_POSITION) -> Ride:
    """Read an activity of two records and further messages."""
    return fit.read(Path("ride.fit"), fit_file(file_id(), body, *messages))


@pytest.mark.parametrize(
    ("source", "number", "sensors"),
    [
        (ANTPLUS, SPEED, ("bike_speed",)),
        (ANTPLUS, SPEED_CADENCE, ("bike_speed_cadence",)),
        (ANTPLUS, 30, ("unknown_30",)),
        (BLUETOOTH_LE, 4, ("bike_speed",)),  # FIT profile, ble_device_type
        (BLUETOOTH_LE, 1, ("heart_rate",)),
        (BLUETOOTH_LE, SPEED_CADENCE, ("bike_speed_cadence",)),  # as one real unit writes it
        (None, SPEED_CADENCE, ("bike_speed_cadence",)),  # before source_type was written
        (None, POWER, ("bike_power",)),
        (None, 1, ()),  # the unit itself, in old files
        (None, 12, ()),  # its barometer and satellite receiver, in old files
        (None, 2, ()),
        (LOCAL, 4, ()),  # a barometer inside the unit
        (ANT, SPEED, ()),  # a maker's own numbering
        (ANTPLUS, None, ()),
    ],
)
def test_sensors_are_told_by_type_and_source(
    source: int | None, number: int | None, sensors: tuple[str, ...]
) -> None:
    """The meaning of device_type depends on source_type, which old files do not have."""
    assert read(devices((CREATOR, 1, None), (3, number, source))).sensors == sensors


def test_the_unit_itself_is_no_sensor() -> None:
    """Whatever type it gives itself."""
    assert read(devices((CREATOR, SPEED, None))).sensors == ()


@pytest.mark.parametrize(
    ("source", "number", "told"), [(LOCAL, 4, True), (LOCAL, 0, False), (ANTPLUS, 4, False)]
)
def test_a_barometer_is_told_where_the_unit_lists_its_parts(
    source: int | None, number: int, told: bool
) -> None:
    """Type 4 of ``local_device_type`` in the FIT profile; of another source something else."""
    assert read(devices((CREATOR, 1, None), (1, number, source))).barometer is told


def test_each_sensor_is_named_once_in_order_of_first_mention() -> None:
    """Units repeat the list whenever a battery changes."""
    found = read(devices((2, POWER, ANTPLUS), (3, HEART_RATE, ANTPLUS), (2, POWER, ANTPLUS)))
    assert found.sensors == ("bike_power", "heart_rate")


@pytest.mark.parametrize("number", [SPEED, SPEED_CADENCE])
def test_a_paired_wheel_sensor_is_the_source(number: int) -> None:
    """With positions and without."""
    for body in (WITH_POSITION, NO_POSITION):
        found = read(session(), devices((3, number, ANTPLUS)), body=body)
        assert found.speed_source == "wheel sensor"


def test_positions_are_the_source_where_the_list_of_devices_has_no_wheel_sensor() -> None:
    """Cadence, power and heart rate say nothing about the wheel."""
    listed = devices((CREATOR, 1, None), (1, CADENCE, ANTPLUS), (2, POWER, ANTPLUS))
    assert read(session(), listed).speed_source == "satellite"
    assert read(session(), listed, body=NO_POSITION).speed_source == "unknown"


def test_parts_of_the_unit_count_as_a_list_of_devices() -> None:
    """A unit that lists its own receiver would also have listed a sensor."""
    assert read(session(), devices((CREATOR, None, LOCAL), (1, 0, LOCAL))).speed_source == (
        "satellite"
    )


def test_a_file_that_lists_only_the_unit_leaves_the_source_unknown() -> None:
    """It may just not tell of its sensors."""
    assert read(session(), devices((CREATOR, 1, None))).speed_source == "unknown"
    assert read(session()).speed_source == "unknown"


@pytest.mark.parametrize("listed", [devices((3, SPEED, ANTPLUS)), b""])
def test_the_speed_of_a_virtual_ride_is_doubtful(listed: bytes) -> None:
    """FIT profile: sub_sport 58, virtual_activity; software writes its speed, sensor or not."""
    found = read(session(sub_sport=58), listed)
    assert found.speed_source == "unknown"
    assert [p.severity for p in found.problems] == ["warning"]
    assert "software may have computed its speed" in found.problems[0].message


def test_an_indoor_ride_has_a_wheel_speed_if_a_wheel_sensor_is_paired() -> None:
    """FIT profile: sub_sport 6, indoor_cycling."""
    assert read(session(sub_sport=6), devices((3, SPEED, ANTPLUS))).speed_source == "wheel sensor"
    found = read(session(sub_sport=6), devices((3, POWER, ANTPLUS)))
    assert found.speed_source == "unknown"
    assert "indoor" in found.problems[0].message


def test_without_speed_there_is_no_source() -> None:
    """Even with a wheel sensor paired; a distance that grows is as good as a speed."""
    paired = devices((3, SPEED, ANTPLUS))
    still = records(("speed", "cadence"), (0, 0, 60), (1, 0, 60))
    assert read(session(), paired, body=still).speed_source == "none"
    moving = records(("distance", "cadence"), (0, 100, 60), (1, 600, 60))
    assert read(session(), paired, body=moving).speed_source == "wheel sensor"


@pytest.mark.parametrize(
    ("rows", "rollout_m"),
    [
        ([(1, 2096, 0)], 2.096),
        ([(1, 0, 2105)], 2.105),
        ([(1, None, 2105)], 2.105),
        ([(1, 2096, 0), (0, 1563, 0)], 2.096),  # the second one is disabled
        ([(1, 2096, 0), (1, 2096, 0)], 2.096),
        ([(1, 2096, 0), (1, 1563, 0)], None),
        ([(1, 0, 0)], None),
        ([], None),
    ],
)
def test_the_wheel_size_set_in_the_unit(
    rows: list[tuple[Value, ...]], rollout_m: float | None
) -> None:
    """FIT profile, bike_profile: wheel sizes in 1/1000 m; where several differ none is taken."""
    layout = Layout("bike_profile", ("enabled", "custom_wheelsize", "auto_wheelsize"))
    assert read(session(), table(layout, *rows)).wheel_rollout_m == rollout_m


@pytest.mark.parametrize(("number", "told"), [(3_941_870_215, "3941870215"), (0, None)])
def test_unit_is_known_by_its_serial_number(number: int, told: str | None) -> None:
    """FIT profile: serial_number is a uint32z, of which 0 means nothing."""
    first = table(Layout("file_id", ("type", "serial_number")), (4, number))
    assert fit.read(Path("ride.fit"), fit_file(first, WITH_POSITION)).device == told


def test_files_that_name_no_unit_tell_none() -> None:
    """Neither do chained parts of two units."""
    parts = [table(Layout("file_id", ("type", "serial_number")), (4, n)) for n in (1, 2)]
    assert read().device is None
    assert fit.read(Path("r.fit"), fit_file(parts[0], WITH_POSITION, parts[1])).device is None
