"""Bytes -> tables: every way in which the FIT protocol may lay out a value."""

from __future__ import annotations

import pytest

from ridelab.telemetry.fit.messages import decode, enumeration
from tests.telemetry.fitbytes import (
    START,
    Layout,
    Raw,
    crc16,
    file_id,
    fit_file,
    records,
    ride,
    table,
)


def test_the_packer_computes_the_published_crc() -> None:
    """CRC-16/ARC of "123456789" is 0xBB3D: the check value of the CRC catalogues."""
    assert crc16(b"123456789") == 0xBB3D


def test_an_intact_file_has_no_damage() -> None:
    """Headers of 12 and of 14 bytes, with and without a header checksum, are all right."""
    body = (file_id(), records(("cadence",), (0, 90)))
    for content in (
        fit_file(*body),
        fit_file(*body, header_size=12),
        fit_file(*body, header_crc=0),
    ):
        assert decode(content).damage == ()


def test_values_are_scaled_by_the_profile() -> None:
    """FIT profile, record: speed 1/1000 m/s, distance 1/100 m, altitude 1/5 m less 500 m."""
    body = records(("speed", "distance", "altitude", "power"), (0, 7250, 123456, 3000, 251))
    row = decode(fit_file(body))["record"].row(0, named=True)
    assert row["speed"] == 7.25
    assert row["distance"] == 1234.56
    assert row["altitude"] == 100.0
    assert row["power"] == 251.0
    assert row["timestamp"] == START


@pytest.mark.parametrize("name", ["speed", "cadence", "distance", "position_lat", "altitude"])
def test_invalid_values_are_null(name: str) -> None:
    """The value that the protocol reserves for "not known" never comes out as a number."""
    found = decode(fit_file(records((name,), (0, None))))["record"]
    assert found[name].to_list() == [None]


def test_both_byte_orders_give_the_same() -> None:
    """The byte order is the definition's, and may differ within a file."""
    fields = ("timestamp", "speed", "distance", "position_lat")
    row = (START, 5123, 987654, -123456789)
    little = decode(fit_file(table(Layout("record", fields), row)))["record"]
    big = decode(fit_file(table(Layout("record", fields, big_endian=True), row)))["record"]
    assert little.equals(big)


def test_a_local_number_may_be_laid_out_anew() -> None:
    """The same local number holds a speed first, then a cadence."""
    found = decode(fit_file(records(("speed",), (0, 4000)), records(("cadence",), (1, 77))))[
        "record"
    ]
    assert found["speed"].to_list() == [4.0, None]
    assert found["cadence"].to_list() == [None, 77.0]


def test_a_stored_value_beats_one_unpacked_from_another_field() -> None:
    """A null speed does not hide a valid enhanced_speed, whichever comes first in the layout."""
    for fields, row in (
        (("speed", "enhanced_speed"), (0, None, 6000)),
        (("enhanced_speed", "speed"), (0, 6000, 9000)),
        (("speed", "enhanced_speed"), (0, 9000, 6000)),
    ):
        found = decode(fit_file(records(fields, row)))["record"]
        assert found["enhanced_speed"].to_list() == [6.0], fields


def test_a_time_in_the_header_counts_on_from_the_last_full_one() -> None:
    """FIT protocol: five bits of seconds, which roll over into the next 32."""
    full = Layout("record", ("timestamp", "cadence"))
    short = Layout("record", ("cadence",), local=1)
    first = START // 32 * 32 + 30
    content = fit_file(
        table(full, (first, 60)),
        short.definition(),
        *(short.compressed((first + s) % 32, 60 + s) for s in (1, 2, 3)),
    )
    found = decode(content)["record"]
    assert (found["timestamp"] - first).to_list() == [0, 1, 2, 3]


def test_compressed_speed_and_distance_are_unpacked() -> None:
    """FIT profile: 12 bits of speed (1/100 m/s), 12 bits of running distance (1/16 m)."""
    packed = (512 | 160 << 12).to_bytes(3, "little")
    field = Raw(8, 3, 0x0D)
    found = decode(fit_file(records((field,), (0, packed))))["record"]
    assert found["speed"].to_list() == [5.12]
    assert found["distance"].to_list() == [10.0]


def test_a_developer_field_named_like_one_of_the_profile_is_not_taken_for_it() -> None:
    """Developer fields bear any name; here ``cadence`` of something that is no crank."""
    developer = Layout("developer_data_id", ("developer_data_index",), local=1)
    description = Layout(
        "field_description",
        ("developer_data_index", "field_definition_number", "fit_base_type_id", Raw(3, 8, 0x07)),
        local=2,
    )
    layout = Layout("record", ("timestamp", "cadence"), local=3, developer=((7, 1, 0),))
    content = fit_file(
        table(developer, (0,)),
        table(description, (0, 7, 2, b"cadence")),
        layout.definition(),
        layout.data(START, 80, extra=b"\x05"),
        layout.data(START + 1, None, extra=b"\x06"),
    )
    assert decode(content)["record"]["cadence"].to_list() == [80.0, None]


def test_of_an_array_the_first_valid_value_is_taken() -> None:
    """Some units store several speeds, or cadences, in one record."""
    layout = Layout("record", ("timestamp", Raw(6, 4, 0x84), Raw(4, 2, 0x02)))
    speeds = b"".join(mmps.to_bytes(2, "little") for mmps in (3500, 3600))
    found = decode(fit_file(layout.definition(), layout.data(START, speeds, b"\xff\x58")))
    row = found["record"].row(0, named=True)
    assert (row["speed"], row["enhanced_speed"], row["cadence"]) == (3.5, None, 88.0)


def test_a_number_without_a_word_is_told_as_unknown() -> None:
    """Makers use numbers of their own in enumerations."""
    found = decode(fit_file(table(Layout("session", ("sport",)), (2,), (200,))))["session"]
    assert found["sport"].to_list() == ["cycling", "unknown_200"]


def test_chained_parts_are_numbered() -> None:
    """A file may hold several complete FIT files one after the other."""
    found = decode(ride() + ride(seconds=2))
    assert found["record"]["part"].to_list() == [0] * 5 + [1] * 2
    assert found.damage == ()


def test_a_wrong_checksum_is_told_and_everything_is_read() -> None:
    """The offset is that of the checksum itself."""
    whole = ride()
    found = decode(whole[:-2] + bytes(2))
    assert len(found["record"]) == 5
    (damage,) = found.damage
    assert damage.offset == len(whole) - 2
    assert "does not match its checksum" in damage.text
    assert found.broken_at is None


def test_a_wrong_header_checksum_is_told() -> None:
    """The header carries a checksum of its own, which may also be left 0."""
    found = decode(fit_file(records(("cadence",), (0, 90)), header_crc=1))
    assert [damage.offset for damage in found.damage] == [0]
    assert len(found["record"]) == 1


def test_a_missing_checksum_is_told_as_such() -> None:
    """A unit that lost power has often written all but the last two bytes."""
    found = decode(ride()[:-2])
    assert len(found["record"]) == 5
    assert [damage.text for damage in found.damage] == ["the closing checksum is missing"]


def test_a_message_without_definition_ends_the_reading_at_its_byte() -> None:
    """What stands before it is kept."""
    before = (file_id(), records(("cadence",), (0, 90), (1, 91)))
    found = decode(fit_file(*before, b"\x0b", b"more bytes"))
    assert found["record"]["cadence"].to_list() == [90.0, 91.0]
    assert found.broken_at is not None
    assert found.broken_at.offset == 14 + sum(map(len, before))
    assert "local message 11 not defined" in found.broken_at.text


def test_bytes_after_the_end_are_told_with_their_number() -> None:
    """Such a tail costs nothing of the ride."""
    whole = ride()
    for tail, told in (
        (b"\0", "1 byte of no FIT data"),
        (b"seventeen bytes..", "17 bytes of no FIT data"),
    ):
        found = decode(whole + tail)
        assert len(found["record"]) == 5
        assert found.broken_at is not None
        assert found.broken_at.offset == len(whole)
        assert found.broken_at.text == told


def test_a_field_of_impossible_size_is_told_and_the_rest_is_read() -> None:
    """Three bytes cannot be a whole number of uint16; the framing still holds."""
    layout = Layout("record", ("timestamp", Raw(6, 3, 0x84), "cadence"))
    found = decode(fit_file(layout.definition(), layout.data(START, b"\1\2\3", 88)))
    assert found["record"]["cadence"].to_list() == [88.0]
    assert found["record"]["speed"].to_list() == [None]
    (damage,) = found.damage
    assert damage.offset == 14
    assert "record.speed takes 3 bytes" in damage.text


def test_enumerations_come_from_the_profile() -> None:
    """FIT profile, antplus_device_type: 11 is a power meter, 121 speed and cadence, 123 speed."""
    known = enumeration("antplus_device_type")
    assert [known[n] for n in (11, 121, 123)] == ["bike_power", "bike_speed_cadence", "bike_speed"]
