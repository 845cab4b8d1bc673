"""Developer fields: kept by the name that the file gives them, and mistaken for nothing else."""

from __future__ import annotations

from pathlib import Path

from ridelab.telemetry import fit
from ridelab.telemetry.fit.messages import decode
from tests.telemetry.fitbytes import CYCLING, START, Layout, Raw, file_id, fit_file, table

DESCRIPTION = Layout(
    "field_description",
    (
        "developer_data_index",
        "field_definition_number",
        "fit_base_type_id",
        Raw(3, 12, 0x07),
        Raw(8, 6, 0x07),
    ),
    local=2,
)
UINT8, SINT16, STRING, UINT32 = 0x02, 0x83, 0x07, 0x86


def described(*rows: tuple[int, int, int, bytes, bytes]) -> bytes:
    """Field descriptions: developer, field number, base type, name, unit."""
    return table(DESCRIPTION, *rows)


def record(*developer: tuple[int, int, int], big_endian: bool = False) -> Layout:
    """Records with developer fields: field number, size, developer."""
    return Layout("record", ("timestamp",), local=3, developer=developer, big_endian=big_endian)


def test_a_field_is_kept_by_its_name_and_unit() -> None:
    """Its own type decides how it is read, in the byte order of the records."""
    layout = record((7, 2, 0), big_endian=True)
    content = fit_file(
        described((0, 7, SINT16, b"lean", b"deg")),
        layout.definition(),
        layout.data(START, extra=(-12).to_bytes(2, "big", signed=True)),
        layout.data(START + 1, extra=b"\x7f\xff"),
    )
    assert decode(content)["record"]["developer.lean [deg]"].to_list() == [-12.0, None]


def test_text_is_kept_as_text() -> None:
    """Up to the first zero byte; bytes that are no UTF-8 do no harm."""
    layout = record((1, 6, 0))
    content = fit_file(
        described((0, 1, STRING, b"mode", b"")),
        layout.definition(),
        layout.data(START, extra=b"eco\0\xff\xff"),
        layout.data(START + 1, extra=b"\xffturbo"),
        layout.data(START + 2, extra=bytes(6)),
    )
    assert decode(content)["record"]["developer.mode"].to_list() == ["eco", "\ufffdturbo", None]


def test_two_fields_of_one_name_are_kept_apart() -> None:
    """Two developers may choose the same name."""
    layout = record((0, 1, 0), (0, 1, 1))
    content = fit_file(
        described((0, 0, UINT8, b"power", b"W"), (1, 0, UINT8, b"power", b"W")),
        layout.definition(),
        layout.data(START, extra=b"\x05\x06"),
    )
    found = decode(content)["record"]
    assert found["developer.power [W]"].to_list() == [5.0]
    assert found["developer.power [W] #2"].to_list() == [6.0]


def test_a_field_without_name_or_type_is_called_by_its_number() -> None:
    """And read as plain bytes, a single one of which is a number."""
    layout = record((9, 1, 4))
    content = fit_file(
        described((4, 9, 0xFF, b"", b"")), layout.definition(), layout.data(START, extra=b"\x21")
    )
    assert decode(content)["record"]["developer.field 9 of developer 4"].to_list() == [33.0]


def test_a_description_holds_in_its_own_part_only() -> None:
    """The same number means another thing in the next chained file."""
    layout = record((0, 1, 0))
    one, other = (
        fit_file(
            described((0, 0, UINT8, name, b"")),
            layout.definition(),
            layout.data(START, extra=b"\1"),
        )
        for name in (b"one", b"other")
    )
    found = decode(one + other)["record"]
    assert found["developer.one"].to_list() == [1.0, None]
    assert found["developer.other"].to_list() == [None, 1.0]


def test_a_size_that_does_not_fit_the_type_does_not_shift_what_follows() -> None:
    """Three bytes of a four-byte number: no value, and the next record is found all the same."""
    layout = record((0, 3, 0))
    content = fit_file(
        described((0, 0, UINT32, b"odd", b"")),
        layout.definition(),
        layout.data(START, extra=b"\1\2\3"),
        layout.data(START + 1, extra=b"\1\2\3"),
    )
    found = decode(content)
    assert found["record"]["timestamp"].to_list() == [START, START + 1]
    assert "developer.odd" not in found["record"].columns
    assert found.damage == ()


def test_a_field_that_nothing_describes_is_stepped_over() -> None:
    """It has neither name nor type."""
    layout = record((3, 2, 0))
    found = decode(fit_file(layout.definition(), layout.data(START, extra=b"\1\2")))
    assert len(found["record"]) == 1
    assert not [name for name in found["record"].columns if name.startswith("developer")]


def test_a_ride_offers_them_beside_its_samples() -> None:
    """One row a sample, in order of time; the samples themselves know nothing of them."""
    layout = Layout("record", ("timestamp", "cadence"), local=3, developer=((0, 1, 0),))
    content = fit_file(
        file_id(),
        described((0, 0, UINT8, b"cadence", b"rpm")),
        layout.definition(),
        layout.data(START + 1, 80, extra=b"\x05"),
        layout.data(START, None, extra=b"\x06"),
        CYCLING,
    )
    ride = fit.read(Path("ride.fit"), content)
    assert ride.samples["cadence_rpm"].to_list() == [None, 80.0]
    assert ride.extra_fields.to_dict(as_series=False) == {
        "t_s": [0.0, 1.0],
        "cadence [rpm]": [6.0, 5.0],
    }


def test_an_extra_field_may_not_pass_for_the_time_of_the_samples() -> None:
    """Whatever a developer calls it."""
    layout = record((0, 1, 0))
    content = fit_file(
        file_id(),
        described((0, 0, UINT8, b"t_s", b"")),
        layout.definition(),
        layout.data(START, extra=b"\x09"),
        CYCLING,
    )
    found = fit.read(Path("ride.fit"), content).extra_fields
    assert found.to_dict(as_series=False) == {"t_s": [0.0], "t_s #2": [9.0]}
