"""The FIT writer, read back by fitdecode, a decoder of its own origin."""

from __future__ import annotations

import io
from typing import Any

import fitdecode
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.simulate.fitfile import by_time, crc16, fit_bytes

ACTIVITY = ("file_id", pl.DataFrame({"type": ["activity"], "manufacturer": ["development"]}))


def decoded(content: bytes) -> list[fitdecode.FitDataMessage]:
    """All data messages; raises on a wrong checksum or layout."""
    reader = fitdecode.FitReader(
        io.BytesIO(content),
        check_crc=fitdecode.CrcCheck.RAISE,
        error_handling=fitdecode.ErrorHandling.RAISE,
        processor=fitdecode.DefaultDataProcessor(),
    )
    return [frame for frame in reader if frame.frame_type == fitdecode.FIT_FRAME_DATA]


def values(content: bytes, message: str, field: str) -> list[Any]:
    """One field of all messages of a name."""
    return [m.get_value(field, fallback=None) for m in decoded(content) if m.name == message]


def test_checksum_of_the_nine_digits() -> None:
    """Check value of CRC-16/ARC in the published catalogues of checksums: 0xBB3D."""
    assert crc16(b"123456789") == 0xBB3D


def test_checksum_over_a_whole_file_is_zero() -> None:
    """A file followed by its own checksum divides without rest (FIT protocol)."""
    assert crc16(fit_bytes([ACTIVITY])) == 0


def test_one_bit_flipped_is_noticed() -> None:
    """Fitdecode refuses the file when its content no longer matches the checksum."""
    content = bytearray(fit_bytes([ACTIVITY]))
    content[-3] ^= 1
    with pytest.raises(fitdecode.FitCRCError):
        decoded(bytes(content))


def test_record_comes_back_in_the_units_of_the_profile() -> None:
    """Scale and offset of speed, distance, altitude and fractional cadence (FIT profile)."""
    row = {
        "timestamp": 1_000_000_000,
        "enhanced_speed": 7.123,
        "distance": 12345.67,
        "enhanced_altitude": -12.4,
        "cadence": 83,
        "fractional_cadence": 0.5,
        "power": 212,
        "position_lat": -2_000_000,
    }
    (found,) = [
        message
        for message in decoded(fit_bytes([ACTIVITY, ("record", pl.DataFrame([row]))]))
        if message.name == "record"
    ]
    for field, value in row.items():
        if field != "timestamp":
            assert found.get_value(field) == pytest.approx(value, abs=1e-9), field
    assert found.get_raw_value("timestamp") == row["timestamp"]


def test_null_is_the_invalid_value_of_its_type() -> None:
    """A value that is not known comes back as None from unsigned, signed and z types alike."""
    record = pl.DataFrame({"cadence": [None, 80], "position_lat": [None, 5], "power": [None, 1]})
    event = pl.DataFrame({"front_gear_num": [None, 2]}).cast(pl.Int64)
    content = fit_bytes([ACTIVITY, ("record", record), ("event", event)])
    assert values(content, "record", "cadence") == [None, 80]
    assert values(content, "record", "position_lat") == [None, 5]
    assert values(content, "record", "power") == [None, 1]
    assert values(content, "event", "front_gear_num") == [None, 2]


def test_words_and_texts() -> None:
    """An enumeration takes its word, a string field its text, whatever the length."""
    table = pl.DataFrame({"type": ["activity"], "product_name": ["dyke – invented"]})
    content = fit_bytes([("file_id", table)])
    assert values(content, "file_id", "type") == ["activity"]
    assert values(content, "file_id", "product_name") == ["dyke – invented"]


def test_packed_gear_change_is_taken_apart() -> None:
    """FIT profile, event.gear_change_data: rear number, rear teeth, front number, front teeth."""
    packed = 5 | 17 << 8 | 2 << 16 | 34 << 24
    event = pl.DataFrame(
        {"event": ["rear_gear_change"], "event_type": ["marker"], "data": [packed]}
    )
    (found,) = [m for m in decoded(fit_bytes([ACTIVITY, ("event", event)])) if m.name == "event"]
    names = ("rear_gear_num", "rear_gear", "front_gear_num", "front_gear")
    assert [found.get_value(name) for name in names] == [5, 17, 2, 34]


def test_more_layouts_than_local_numbers() -> None:
    """FIT protocol: 16 local message types; further layouts take a number over."""
    fields = ["cadence", "power", "distance", "enhanced_speed", "heart_rate"]
    tables = [
        ("record", pl.DataFrame({first: [1], second: [2]}))
        for first in fields
        for second in fields
        if first != second
    ]
    content = fit_bytes(tables + tables)
    assert values(content, "record", "cadence").count(1) == 8
    assert values(content, "record", "cadence").count(2) == 8


def test_rows_follow_each_other_by_time() -> None:
    """Events are written where they happened, before the record of the same second."""
    event = pl.DataFrame({"timestamp": [10, 12], "event": ["timer", "timer"]})
    record = pl.DataFrame({"timestamp": [10, 11, 12, 13], "cadence": [1, 2, 3, 4]})
    found = decoded(fit_bytes(by_time([("event", event), ("record", record)])))
    assert [m.name for m in found] == ["event", "record", "record", "event", "record", "record"]
    assert [m.get_value("cadence", fallback=0) for m in found] == [0, 1, 2, 0, 3, 4]


def test_value_out_of_bounds_names_field_and_bounds() -> None:
    """A cadence of one byte takes 0 to 254; 255 means not known."""
    with pytest.raises(ValueError, match=r"record\.cadence cannot hold 255; it takes 0 to 254"):
        fit_bytes([("record", pl.DataFrame({"cadence": [255]}))])


@pytest.mark.parametrize(
    ("table", "message"),
    [
        (("rekord", pl.DataFrame({"cadence": [1]})), "no message rekord"),
        (("record", pl.DataFrame({"kadence": [1]})), "no field kadence"),
        (("event", pl.DataFrame({"event": ["tea"]})), "knows no tea"),
    ],
)
def test_what_the_profile_does_not_have(table: tuple[str, pl.DataFrame], message: str) -> None:
    """A misspelt message, field or word is refused by name."""
    with pytest.raises(ValueError, match=message):
        fit_bytes([table])


def within(low: float, high: float) -> st.SearchStrategy[list[float | None]]:
    """Lists of values between two bounds, some not known."""
    return st.lists(st.none() | st.floats(low, high), min_size=1, max_size=20)


@settings(max_examples=60, deadline=None)
@given(
    speed=within(0, 65),
    distance=within(0, 1e6),
    altitude=within(-400, 9000),
    latitude=within(-(2**31), 2**31 - 2),
)
def test_any_value_comes_back_to_the_resolution_of_its_field(
    speed: list[float | None],
    distance: list[float | None],
    altitude: list[float | None],
    latitude: list[float | None],
) -> None:
    """FIT profile: 1 mm/s, 1 cm, 0.2 m and one semicircle; rounding is off by half of that."""
    for field, given_values, resolution in (
        ("enhanced_speed", speed, 0.001),
        ("distance", distance, 0.01),
        ("enhanced_altitude", altitude, 0.2),
        ("position_lat", latitude, 1.0),
    ):
        frame = pl.DataFrame({field: given_values}, schema={field: pl.Float64})
        found = values(fit_bytes([("record", frame)]), "record", field)
        for before, after in zip(given_values, found, strict=True):
            if before is None:
                assert after is None
            else:
                assert after == pytest.approx(before, abs=resolution / 2 + 1e-6)
