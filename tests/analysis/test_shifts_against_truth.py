"""The shifts query on rides whose truth is known, told the true gear of every record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb
import numpy as np
import polars as pl
import pytest

from ridelab.resources import data_dir
from ridelab.simulate import Rider, Sensors, simulate_ride
from tests.benchmarks.scoring import seen_shifts
from tests.simulate.rides import chain_ride, hub_ride

if TYPE_CHECKING:
    from ridelab.simulate import SimulatedRide

CONTEXT = """
create table numbered_rides as select 'a' as ride, 1 as number;
create table rides (ride text, vehicle text);
create table vehicles (vehicle text, drivetrain text);
create table published_gears (drivetrain text, gear int, ratio double);
create table measured_gears (vehicle text, gear int, ratio double, development_m double);
"""


class Stream:
    """Hands a frame to the database without another library between."""

    def __init__(self, frame: pl.DataFrame) -> None:
        self._frame = frame

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        return self._frame.__arrow_c_stream__(requested_schema)


@pytest.fixture(scope="module", params=["hub", "chain"])
def made(request: pytest.FixtureRequest) -> SimulatedRide:
    """A rider of many double shifts on the hills, with a power meter."""
    scenario = {"hub": hub_ride, "chain": chain_ride}[request.param]
    sensors = Sensors(power_meter=True, cadence_fraction=True, dropouts_per_hour=0.0)
    return simulate_ride(scenario(rider=Rider(hunting=0.2), sensors=sensors, duration_s=1800), 8)


def shifts(made: SimulatedRide) -> pl.DataFrame:
    """What the query makes of the records beside the true gears."""
    samples = Stream(
        made.recorded.select(
            "t_s", "speed_mps", "cadence_rpm", "power_w", "altitude_m", "distance_m"
        )
        .with_row_index("n")
        .with_columns(made.truth["gear"], made.truth["coupled"], number=1, grade=0.0)
    )
    query = data_dir("sql").joinpath("analysis", "shifts.sql").read_text("utf-8")
    with duckdb.connect() as con:
        con.execute(CONTEXT)
        con.register("records", samples)
        con.execute("create table ridden_samples as from records order by n")
        return pl.DataFrame(con.sql(query)).sort("t_s")


def test_sweeps_are_those_that_records_can_show(made: SimulatedRide) -> None:
    """Times and directions as counted without SQL; multi-gear shifts are one row each."""
    found = shifts(made)
    expected = seen_shifts(made.truth)
    assert len(found) >= 30
    assert found["t_s"].to_list() == expected["t_s"].to_list()
    assert (found["to_gear"] - found["from_gear"]).sign().to_list() == (
        expected["direction"].to_list()
    )
    assert ((found["to_gear"] - found["from_gear"]).abs() > 1).sum() >= 5


def test_gears_are_those_that_drove_before_and_after(made: SimulatedRide) -> None:
    """The last gear that drove two seconds or less before the shift, the first one after it."""
    drove = made.truth.filter("coupled")
    t_s, gear = drove["t_s"].to_numpy(), drove["gear"].to_numpy()
    for at, from_gear, to_gear in shifts(made).select("t_s", "from_gear", "to_gear").iter_rows():
        sweep = np.flatnonzero(np.abs(t_s - at) <= 30.0)
        before, after = sweep[t_s[sweep] < at], sweep[t_s[sweep] > at]
        assert from_gear in gear[before][-4:]
        assert to_gear in gear[after][:4]


def test_cadence_before_and_after_is_that_of_the_crank(made: SimulatedRide) -> None:
    """Against the crank itself in steps of a fifth of a second, in the same four seconds.

    Half of them within 1.5 rpm: near a shift the cadence changes by several rpm a second, and what
    is recorded comes some tenths of a second late.
    """
    trace, drove = made.trace, made.truth.filter("coupled")["t_s"].to_numpy()
    off = []
    for row in shifts(made).filter(~pl.col("while_decoupled")).iter_rows(named=True):
        left, reached = drove[drove < row["t_s"]].max(), drove[drove > row["t_s"]].min()
        for told, begins, ends in (
            (row["cadence_before_rpm"], left - 4.0, left),
            (row["cadence_after_rpm"], reached - 1.0, reached + 3.0),
        ):
            inside = (trace.t_s > begins) & (trace.t_s <= ends)
            off.append(told - trace.cadence_rpm[inside].mean())
    assert len(off) >= 60
    assert np.median(np.abs(off)) < 1.5


def test_shift_while_decoupled_is_one_in_a_pause_of_driving(made: SimulatedRide) -> None:
    """Where the crank did not drive for more than three seconds around it, it is flagged."""
    found = shifts(made)
    drove = made.truth.filter("coupled")["t_s"].to_numpy()
    pause = np.array(
        [drove[drove >= at].min() - drove[drove <= at].max() for at in found["t_s"].to_list()]
    )
    flagged = found["while_decoupled"].to_numpy()
    assert flagged.sum() >= 1
    assert (pause[~flagged] <= 3.0).all()
    assert np.median(pause[flagged]) > 3.0


def test_power_is_that_of_the_records_in_the_shift(made: SimulatedRide) -> None:
    """Means over the records from the last before to the first after, by hand."""
    drove = made.truth.filter("coupled")["t_s"].to_numpy()
    single = shifts(made).filter((pl.col("to_gear") - pl.col("from_gear")).abs() == 1)
    for at, power_w in single.select("t_s", "power_w").head(20).iter_rows():
        left, reached = drove[drove < at].max(), drove[drove > at].min()
        inside = made.recorded.filter(pl.col("t_s").is_between(left, reached))
        if (left + reached) / 2 == at:
            assert power_w == pytest.approx(inside["power_w"].mean())
