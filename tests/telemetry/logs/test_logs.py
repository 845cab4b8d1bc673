"""A CSV file belongs to the one logger that fits its header; what is wrong in it is counted."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.errors import NotARide, RideError, UnknownFormat
from ridelab.telemetry import logs, read_ride
from ridelab.telemetry.ride import SAMPLE_SCHEMA, Ride
from tests.telemetry.logs.logged import PATH, PLAIN, logger, read, table, told

if TYPE_CHECKING:
    from pathlib import Path

ROWS = [(second, 5 + second / 10, 60 + second) for second in range(8)]
TEXT = table("t,speed,cadence", ROWS)


def test_rows_become_samples() -> None:
    """One a row, in SI, with all columns of a ride and nothing in those that were not logged."""
    ride = read(TEXT)
    assert ride.samples.schema == SAMPLE_SCHEMA
    assert ride.samples.select("t_s", "speed_mps", "cadence_rpm").rows() == ROWS
    assert ride.samples["power_w"].null_count() == len(ROWS)
    assert (ride.format, ride.sha256) == ("csv", hashlib.sha256(TEXT.encode()).hexdigest())
    assert ride.speed_source == "unknown"


def test_every_quantity_finds_its_column_and_unit() -> None:
    """Factors as the campaign computes them: 36 km/h is 10 m/s, 1 kW is 1000 W (exact)."""
    everything = logger(
        speed=1 / 3.6, cadence=1.0, distance=1000.0, power=1000.0, wheel_power=1.0,
        altitude=0.3048, latitude=1.0, longitude=1.0,
    )  # fmt: skip
    text = table(
        "altitude,longitude,t,distance,speed,cadence,power,latitude,note,wheel_power",
        [
            (100, -9.1, 0, 1.5, 36, 61.5, 0.2, 38.7, "x", 190),
            (100, -9.1, 1, 1.51, 36, 62, 0.2, 38.7, "", 191),
        ],
    )
    sample = read(text, everything).samples.row(0, named=True)
    assert sample["speed_mps"] == pytest.approx(10.0)
    assert sample["altitude_m"] == pytest.approx(30.48)
    known = {name: sample[name] for name in ("cadence_rpm", "distance_m", "power_w", "lat_deg")}
    assert known == {"cadence_rpm": 61.5, "distance_m": 1500, "power_w": 200, "lat_deg": 38.7}
    assert sample["wheel_power_w"] == 190


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"delimiter": ";", "decimal": ","}, TEXT.replace(",", ";").replace(".", ",")),
        ({"delimiter": "\t"}, TEXT.replace(",", "\t")),
        ({"delimiter": "|"}, TEXT.replace(",", " | ")),
        ({"skip_rows": 2}, "made by a bench\n\n" + TEXT),
        ({"encoding": "utf-16"}, TEXT.encode("utf-16")),
        ({"encoding": "windows-1252"}, TEXT.encode("cp1252")),
        ({}, b"\xef\xbb\xbf" + TEXT.encode()),
        ({}, TEXT.replace("\n", "\r\n")),
        ({}, TEXT.replace("\n", "\r")),
        ({}, TEXT.replace("\n", ",\n")),
        ({}, TEXT.replace("\n", ",\n").replace("cadence,", "cadence")),
        ({}, TEXT.replace("speed", '"speed"').replace("5.", ' "5').replace('"5', "5.")),
        ({}, TEXT.rstrip("\n")),
    ],
)
def test_same_table_written_otherwise_is_the_same_ride(
    changes: dict[str, object], text: str | bytes
) -> None:
    """Signs, encodings, line ends, a mark in front, lines before the header, a comma too many."""
    ride = read(text, replace(PLAIN, **changes))  # type: ignore[arg-type]
    assert ride.samples.equals(read(TEXT).samples)


def test_quoted_fields_may_hold_the_delimiter() -> None:
    """As a spreadsheet writes a decimal comma."""
    rows = [(second, f'"{5 + second / 10}"'.replace(".", ","), 60) for second in range(5)]
    found = read(table("t,speed,cadence", rows), replace(PLAIN, decimal=","))
    assert found.samples["speed_mps"].to_list() == pytest.approx([5.0, 5.1, 5.2, 5.3, 5.4])


def test_lost_quote_costs_its_own_row_at_most() -> None:
    """A quote that nothing closes would otherwise swallow the rest of the file."""
    lines = TEXT.splitlines()
    lines[3] = lines[3].replace(",", ',"', 1)
    assert len(read("\n".join(lines)).samples) == len(ROWS)


def test_bad_rows_are_counted_with_the_line_of_the_first() -> None:
    """Text in a number, too few and too many fields, no time; the rest is read."""
    lines = TEXT.splitlines()
    lines[2:2] = ["oops,5,60", "1.5,fast,60", "1.6,5", "1.7,5,60,7", "", "1.8,inf,-4"]
    ride = read("\n".join(lines))
    messages = told(ride)
    assert "2 rows without 3 fields, the first in line 5: left out" in messages
    assert any(one.startswith("3 values that cannot be read") for one in messages)
    assert any("cannot be, the first in line 4: left out" in one for one in messages)
    assert "1 row without a time that can be read, the first in line 3: left out" in messages
    lost = [problem for problem in ride.problems if "left out" in problem.message]
    assert [problem.severity for problem in lost] == ["warning"] * 3
    known = ride.samples.drop_nulls("speed_mps")
    assert known.select("t_s", "speed_mps", "cadence_rpm").rows() == ROWS


@settings(deadline=None)
@given(st.lists(st.tuples(st.floats(0, 60), st.floats(0, 199)), min_size=2, max_size=30))
def test_numbers_come_back_as_they_were(values: list[tuple[float, float]]) -> None:
    """Whatever Python writes a number as: 17 digits, exponents."""
    rows = [(second, speed, cadence) for second, (cadence, speed) in enumerate(values)]
    found = read(table("t,speed,cadence", rows)).samples
    assert found.select("t_s", "speed_mps", "cadence_rpm").rows() == rows


def test_smallest_step_of_the_cadence_is_found() -> None:
    """Whole turns, tenths, or one value throughout."""
    for cadences, step in (((60, 61, 63), 1.0), ((60.1, 60.2, 64), 0.1), ((60, 60, 60), 1.0)):
        rows = [(second, 5, cadence) for second, cadence in enumerate(cadences)]
        found = read(table("t,speed,cadence", rows))
        assert found.cadence_resolution_rpm == pytest.approx(step)


def test_logger_is_found_by_its_columns() -> None:
    """Among several; the order of the columns and further ones do not matter."""
    other = logger(name="road", speed=1 / 3.6, crank_pulses=1.0)
    text = "spare,cadence,t,speed\n" + "".join(f"x,60,{n},5\n" for n in range(4))
    assert read(text, other, PLAIN).samples["speed_mps"].to_list() == [5.0] * 4


def test_two_loggers_that_fit_are_told_by_name() -> None:
    """Whichever was taken, it could be the wrong one; the way out is told."""
    twin = replace(PLAIN, name="twin")
    with pytest.raises(RideError, match="loggers 'bench' and 'twin' both fit") as caught:
        read(TEXT, PLAIN, twin)
    assert 'accepted: logger = "bench" in the table of the vehicle' in str(caught.value)


def test_file_that_no_logger_fits_says_which_column_it_lacks() -> None:
    """Of the logger that comes nearest; a file that is no table at all is told as such."""
    with pytest.raises(UnknownFormat, match="'bench' also has 'cadence'"):
        read("t,speed,kadence\n0,5,60\n", logger(name="far", power=1.0), PLAIN)
    for content in (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), b"words\n", b"\0" * 99):
        with pytest.raises(UnknownFormat, match="no logger of the campaign fits it"):
            read(content)


@pytest.mark.parametrize("text", ["t,speed,cadence\n", "t,speed,cadence", TEXT.replace(",", ";")])
def test_file_without_rows_or_columns_is_no_ride(text: str) -> None:
    """With words."""
    with pytest.raises((NotARide, UnknownFormat)):
        read(text)


def test_turns_of_the_wheel_without_a_rollout_are_refused() -> None:
    """The message says which key of the vehicle is missing."""
    wheel = logger(wheel_rpm=1.0, cadence=1.0)
    text = table("t,wheel_rpm,cadence", [(n, 120, 60) for n in range(4)])
    with pytest.raises(RideError, match="accepted: rollout_m or tyre of the vehicle"):
        read(text, wheel)
    ride = read(text, replace(wheel, speed_from="wheel sensor"), rollout_m=2.1)
    assert ride.samples["speed_mps"].to_list() == pytest.approx([4.2] * 4)
    assert (ride.speed_source, ride.wheel_rollout_m) == ("wheel sensor", 2.1)


def test_door_reads_csv_with_loggers_only(tmp_path: Path) -> None:
    """Without one, the message says that a table of the campaign can describe it."""
    path = tmp_path / "bench.csv"
    path.write_text(TEXT)
    assert len(read_ride(path, [PLAIN]).samples) == len(ROWS)
    with pytest.raises(UnknownFormat, match=r"CSV that a \[loggers\] table of the campaign"):
        read_ride(path)


def outcome(content: bytes) -> Ride | RideError:
    """What reading gives; any other error fails the test."""
    try:
        return logs.read(PATH, content, (PLAIN,))
    except RideError as error:
        return error


@settings(deadline=None)
@given(st.data())
def test_damaged_file_is_a_ride_or_a_reason(data: st.DataObject) -> None:
    """Flipped bytes, cuts, lines twice."""
    content = bytearray(TEXT.encode())
    for _ in range(data.draw(st.integers(1, 6))):
        place = data.draw(st.integers(0, len(content) - 1))
        content[place] = data.draw(st.sampled_from(b',"\n\r\0;.-eE09\xff\xc3 '))
    cut = data.draw(st.integers(0, len(content)))
    found = outcome(bytes(content[:cut]) + data.draw(st.binary(max_size=20)))
    assert isinstance(found, Ride | RideError)
    if isinstance(found, Ride):
        assert found.samples["t_s"].is_sorted()
        assert found.started_at >= datetime(1969, 1, 1, tzinfo=UTC)
