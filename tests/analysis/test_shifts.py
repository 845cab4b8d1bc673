"""The shifts query: given a few samples, the sweeps that a person would count by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import duckdb
import polars as pl
import pytest

from ridelab.resources import data_dir

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

SAMPLES = """
create table samples (
    ride text, n int, t_s double, speed_mps double, cadence_rpm double, power_w double,
    gear int, coupled bool
)
"""
CONTEXT = """
create table moments (ride text, n int, grade double);
create table rides (ride text, vehicle text);
insert into rides values ('a', 'heron'), ('b', 'heron');
create table vehicles (vehicle text, drivetrain text);
insert into vehicles values ('heron', 'nine');
create table published_gears (drivetrain text, gear int, ratio double);
insert into published_gears
values ('nine', 1, 1.0), ('nine', 2, 1.2), ('nine', 3, 1.5), ('nine', 4, 2.0);
create table measured_gears (vehicle text, gear int, ratio double, development_m double);
insert into measured_gears values ('heron', 1, 1.0, 2.0), ('heron', 2, 1.25, 2.5);
"""
LAID = """
create or replace table numbered_rides as
select ride, cast(row_number() over (order by ride) as int) as number
from (select distinct ride from samples);
create or replace table ridden_samples as
select number, samples.* exclude (ride), grade
from samples
inner join numbered_rides using (ride)
left join moments using (ride, n)
order by number, n
"""
COLUMNS = ["ride", "t_s", "from_gear", "to_gear", "step", "speed_mps", "cadence_before_rpm"]
COLUMNS += ["cadence_after_rpm", "power_w", "grade", "while_decoupled"]


@pytest.fixture
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    """An in-memory store with one vehicle: gears 1 and 2 measured, all four published."""
    with duckdb.connect() as connection:
        connection.execute(SAMPLES + ";" + CONTEXT)
        yield connection


def put(con: duckdb.DuckDBPyConnection, ride: str, rows: Sequence[dict[str, Any]]) -> None:
    """Store samples; what a row does not say is pedalled steadily at 6 m/s on the flat."""
    for n, row in enumerate(rows):
        whole: dict[str, Any] = {
            "speed_mps": 6.0,
            "cadence_rpm": 80.0,
            "power_w": 150.0,
            "grade": 0.0,
        }
        whole |= {"ride": ride, "n": n, "coupled": True} | row
        grade = whole.pop("grade")
        con.execute(
            "insert into samples values ($ride, $n, $t_s, $speed_mps, $cadence_rpm, $power_w,"
            " $gear, $coupled)",
            whole,
        )
        con.execute("insert into moments values (?, ?, ?)", [ride, n, grade])


def each_second(gears: Sequence[int | None], coasting: Sequence[int] = ()) -> list[dict[str, Any]]:
    """One sample a second in the gears given; decoupled at the seconds ``coasting``."""
    return [
        {"t_s": float(t), "gear": gear, "coupled": t not in coasting}
        for t, gear in enumerate(gears)
    ]


def shifts(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Run the query as the pipeline does."""
    query = data_dir("sql").joinpath("analysis", "shifts.sql").read_text("utf-8")
    con.execute(LAID)
    return pl.DataFrame(con.sql(query))


def seen(con: duckdb.DuckDBPyConnection) -> list[tuple[float, int, int]]:
    """Time and gears of each shift."""
    return shifts(con).select("t_s", "from_gear", "to_gear").rows()


def test_columns_are_those_of_the_relation(con: duckdb.DuckDBPyConnection) -> None:
    """The contract of the relation, in its order, also where there is no shift."""
    assert shifts(con).columns == COLUMNS
    assert shifts(con).is_empty()


def test_one_change_is_one_row_between_its_samples(con: duckdb.DuckDBPyConnection) -> None:
    """A shift lies halfway between the last sample before and the first after."""
    put(con, "a", each_second([1] * 5 + [2] * 5))
    assert shifts(con).row(0, named=True) == pytest.approx(
        {
            "ride": "a",
            "t_s": 4.5,
            "from_gear": 1,
            "to_gear": 2,
            "step": 0.25,
            "speed_mps": 6.0,
            "cadence_before_rpm": 80.0,
            "cadence_after_rpm": 80.0,
            "power_w": 150.0,
            "grade": 0.0,
            "while_decoupled": False,
        }
    )


@pytest.mark.parametrize(
    ("gears", "expected"),
    [
        pytest.param([1, 1, 2, 3, 4, 4], [(2.5, 1, 4)], id="three gears in three seconds"),
        pytest.param([4, 4, 3, 3, 2, 2], [(2.5, 4, 2)], id="two seconds apart"),
        pytest.param([1, 2, 2, 2, 3, 3], [(0.5, 1, 2), (3.5, 2, 3)], id="three seconds apart"),
        pytest.param([1, 1, 2, 1, 1], [(1.5, 1, 2), (2.5, 2, 1)], id="there and back"),
        pytest.param([1, 3, 3], [(0.5, 1, 3)], id="two gears at once"),
        pytest.param([1, 1, 1], [], id="no change"),
        pytest.param([None] * 4, [], id="no gear can be named"),
        pytest.param([None, 1, None, 2], [(2.0, 1, 2)], id="unnamed for a moment"),
        pytest.param([1, *[None] * 12, 2], [], id="unnamed for long"),
    ],
)
def test_sweeps(
    con: duckdb.DuckDBPyConnection,
    gears: Sequence[int | None],
    expected: list[tuple[float, int, int]],
) -> None:
    """Changes in one direction less than 3 s apart are one shift; others stand alone."""
    put(con, "a", each_second(gears))
    assert seen(con) == expected


def test_shift_while_coasting_lies_in_the_middle_of_the_coast(
    con: duckdb.DuckDBPyConnection,
) -> None:
    """Wherever the decoder puts the change inside the coast, the middle is the best guess."""
    put(con, "a", each_second([2] * 5 + [3] * 15, coasting=range(3, 13)))
    found = shifts(con)
    assert found.select("t_s", "from_gear", "to_gear", "while_decoupled").rows() == [
        (7.5, 2, 3, True)
    ]


def test_there_and_back_while_coasting_is_not_seen(con: duckdb.DuckDBPyConnection) -> None:
    """A coast that ends in the gear it began in shows no shift."""
    put(con, "a", each_second([2, 2, 3, 3, 3, 2, 2], coasting=[1, 2, 3, 4, 5]))
    assert seen(con) == []


def test_moment_of_slack_under_load_is_no_coasting(con: duckdb.DuckDBPyConnection) -> None:
    """A shift itself decouples the crank for a second."""
    put(con, "a", each_second([2, 2, 2, 3, 3], coasting=[2]))
    assert shifts(con)["while_decoupled"].to_list() == [False]


def test_recording_gap_hides_shifts(con: duckdb.DuckDBPyConnection) -> None:
    """Over more than 10 s without a sample no shift is counted; 10 s are still one."""
    put(con, "a", [{"t_s": 0.0, "gear": 1}, {"t_s": 10.0, "gear": 2}, {"t_s": 20.5, "gear": 3}])
    found = shifts(con)
    assert found.select("t_s", "while_decoupled").rows() == [(5.0, False)]


def test_rides_are_apart(con: duckdb.DuckDBPyConnection) -> None:
    """The end of one ride and the start of the next are no shift."""
    put(con, "a", each_second([1, 1, 2]))
    put(con, "b", each_second([4, 4, 3, 3]))
    assert shifts(con).select("ride", "from_gear", "to_gear").rows() == [("a", 1, 2), ("b", 4, 3)]


def test_step_takes_measured_ratios_before_published(con: duckdb.DuckDBPyConnection) -> None:
    """Gear 2 is measured as 1.25, not 1.2; gear 3 has its published 1.5 alone."""
    put(con, "a", each_second([1] * 5 + [2] * 5 + [3] * 5 + [1] * 5))
    assert shifts(con)["step"].to_list() == pytest.approx([0.25, 0.2, 1 / 1.5 - 1])


def test_step_without_ratios_comes_from_developments(con: duckdb.DuckDBPyConnection) -> None:
    """No drivetrain and no rollout: 2.5 m over 2.0 m is a step of 25 %."""
    con.execute("update vehicles set drivetrain = null; update measured_gears set ratio = null")
    put(con, "a", each_second([1] * 5 + [2] * 5))
    assert shifts(con)["step"].to_list() == pytest.approx([0.25])


def test_cadence_is_that_of_three_seconds_in_the_gear(con: duckdb.DuckDBPyConnection) -> None:
    """Means over t in [1, 4] in the old gear and [5, 8] in the new one, nothing of other gears."""
    rows = each_second([1] * 5 + [2] * 4 + [3])
    for row, cadence in zip(rows, [10, 70, 72, 74, 76, 60, 62, 64, 66, 10], strict=True):
        row["cadence_rpm"] = float(cadence)
    put(con, "a", rows)
    first = shifts(con).row(0, named=True)
    assert (first["cadence_before_rpm"], first["cadence_after_rpm"]) == (73.0, 63.0)


def test_power_and_speed_are_means_over_the_span(con: duckdb.DuckDBPyConnection) -> None:
    """Ends included, unknown values left out: power (200 + 0 + 100) / 3, speed (6 + 9) / 2."""
    rows = each_second([1, 1, 1, 2, 2], coasting=[2])
    for row, power, speed in zip(
        rows, [500.0, 200.0, 0.0, 100.0, 500.0], [1.0, 6.0, None, 9.0, 1.0], strict=True
    ):
        row |= {"power_w": power, "speed_mps": speed}
    put(con, "a", rows)
    assert shifts(con).select("power_w", "speed_mps").rows() == [(100.0, 7.5)]


def test_grade_is_the_mean_of_that_before_and_after(con: duckdb.DuckDBPyConnection) -> None:
    """4 % in the last moment of the old gear, 6 % in the first of the new one."""
    rows = each_second([1] * 20 + [2] * 20)
    for row in rows:
        row["grade"] = 0.04 if row["t_s"] < 20 else 0.06
    put(con, "a", rows)
    assert shifts(con)["grade"].to_list() == pytest.approx([0.05])


@pytest.mark.parametrize("unknown", ["grade", "power_w", "speed_mps"])
def test_unknown_stays_unknown(con: duckdb.DuckDBPyConnection, unknown: str) -> None:
    """A ride without a sensor has shifts with a gap in that column, not a zero."""
    rows = [row | {unknown: None} for row in each_second([1] * 5 + [2] * 5)]
    put(con, "a", rows)
    assert shifts(con)[unknown].to_list() == [None]


def test_without_moments_there_are_shifts_without_grade(con: duckdb.DuckDBPyConnection) -> None:
    """A pipeline of a user's own need not have the stage that tells them."""
    put(con, "a", each_second([1] * 5 + [2] * 5))
    con.execute("delete from moments")
    assert shifts(con)["grade"].to_list() == [None]
