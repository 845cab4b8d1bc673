"""What was inferred is replaced vehicle by vehicle, and never touches what was recorded."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import Campaign, Vehicle
from ridelab.gears.result import Interval
from ridelab.problems import Problem
from ridelab.store.database import Database
from tests.store.recorded import a_file, a_ride, measured

if TYPE_CHECKING:
    import polars as pl

    from ridelab.store import Store

INFERRED = (
    "measured_gears",
    "measured_range",
    "measured_steps",
    "measured_covariance",
    "measured_precision",
    "suggested_teeth",
    "inferred_vehicles",
    "inferred_rides",
    "engaged_samples",
    "lag_curves",
    "inferences",
)


@pytest.fixture
def two(store: Store) -> Store:
    """Two measured vehicles with a ride each."""
    for vehicle in ("heron", "otter"):
        ride = a_ride(vehicle)
        store.put_ride(ride, a_file(ride, vehicle))
        store.put_vehicle_gears(measured(vehicle, ride), f"print of {vehicle}")
    return store


def test_samples_show_the_engaged_gear_beside_what_was_recorded(two: Store) -> None:
    """One row a recorded sample, in the same order."""
    ride = a_ride("heron")
    shown = two.frame("select * from samples where ride = ? order by n", [ride.sha256])
    assert shown["speed_mps"].equals(ride.samples["speed_mps"])
    assert shown["gear"].to_list() == [2] * len(ride.samples)
    facts = two.frame("select speed_lag_s, channel, gear_source, vehicle from rides")
    assert ("heron", 1.5) in facts.select("vehicle", "speed_lag_s").rows()


def test_every_lag_that_was_tried_is_stored_but_those_without_a_figure(two: Store) -> None:
    """A channel too short under some lag has no sharpness there, and no row."""
    curve = two.frame("select * from lag_curves where ride = ?", [a_ride("heron").sha256])
    assert curve.drop("ride").rows() == [("speed field", 0.5, 1.25), ("speed field", 1.5, 2.5)]


def test_measuring_again_replaces_one_vehicle_only(two: Store) -> None:
    """No rows double, none of the other vehicle's change."""
    before = {table: two.frame(table) for table in INFERRED}
    ride = a_ride("heron")
    two.put_vehicle_gears(replace(measured("heron", ride), range=None, rollout=None), "new")
    assert two.fingerprints() == {"heron": "new", "otter": "print of otter"}
    for table in INFERRED:
        if table != "measured_range":
            assert len(two.frame(table)) == len(before[table])
    assert two.frame("measured_range")["vehicle"].to_list() == ["otter"]
    otters = "select effective_rollout_m from inferred_vehicles where vehicle = ?"
    assert two.frame(otters, ["otter"]).item() == 2.0
    assert two.frame(otters, ["heron"]).item() is None


def test_measurement_is_stored_whole_or_not_at_all(
    two: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An interruption leaves the measurement before."""
    before = {table: two.frame(table) for table in INFERRED}
    insert = Database.insert

    def failing(database: Database, table: str, rows: pl.DataFrame) -> None:
        if table == "engaged_samples":
            raise KeyboardInterrupt
        insert(database, table, rows)

    monkeypatch.setattr(Database, "insert", failing)
    with pytest.raises(KeyboardInterrupt):
        two.put_vehicle_gears(measured("heron", a_ride("heron")), "new")
    assert all(two.frame(table).equals(rows) for table, rows in before.items())


def test_clearing_a_vehicle_leaves_its_rides_and_says_why(two: Store) -> None:
    """All that was inferred goes, the recording stays."""
    two.clear_vehicle("heron", [Problem("heron", "measure", "error", "no ladder fits")])
    for table in ("measured_gears", "measured_range", "measured_steps", "suggested_teeth"):
        assert two.frame(table)["vehicle"].unique().to_list() == ["otter"]
    assert len(two.load_rides("heron")) == 1
    told = two.frame("select message from problems where vehicle = 'heron'")
    assert told["message"].to_list() == ["no ladder fits"]


def test_what_queries_made_of_a_vehicle_is_out_of_date_once_it_is_measured_again(
    two: Store,
) -> None:
    """Its shifts go with its gears, so the query must run again even if all is as before."""
    two.fill("gear_use", "select gear, count(*) as samples from samples group by gear", "state")
    assert two.filled_from("gear_use") == "state"
    two.put_vehicle_gears(measured("heron", a_ride("heron")), "print of heron")
    assert two.filled_from("gear_use") is None


def test_agreement_with_recorded_gears_stands_beside_the_ride(two: Store) -> None:
    """In numbers where gears were recorded, else null."""
    found = measured("heron", a_ride("heron"))
    agreeing = replace(found.rides[0], recorded_agreement=0.995, recorded_lag_s=-0.5)
    two.put_vehicle_gears(replace(found, rides=(agreeing,)), "again")
    shown = two.frame("select vehicle, recorded_agreement, recorded_lag_s from rides order by 1")
    assert shown.rows() == [("heron", 0.995, -0.5), ("otter", None, None)]


def test_a_rollout_that_was_only_stated_has_no_interval(two: Store) -> None:
    """Not a number in the frame is null in the store, so that it reads as unknown everywhere."""
    ride = a_ride("heron")
    stated = Interval(2.1, float("nan"), float("nan"))
    two.put_vehicle_gears(replace(measured("heron", ride), rollout=stated), "again")
    shown = two.frame("select * from inferred_vehicles where vehicle = 'heron'")
    assert shown["effective_rollout_m"].to_list() == [2.1]
    assert shown["effective_rollout_low_m"].to_list() == [None]
    assert shown["effective_rollout_high_m"].to_list() == [None]


def test_doubts_about_a_vehicle_stand_beside_it(two: Store) -> None:
    """How sure the placement is and how much fits no gear; unknown where nobody could tell."""
    found = replace(
        measured("heron", a_ride("heron")),
        placement_probability=0.75,
        unexplained_share=0.125,
        count_probability=0.5,
    )
    two.put_vehicle_gears(found, "again")
    fleet = {name: Vehicle(name, "trike", ()) for name in ("heron", "otter", "stork")}
    two.put_campaign(Campaign("fleet", Path("nowhere"), vehicles=fleet))
    shown = two.frame(
        "select vehicle, placement_probability, unexplained_share, count_probability from vehicles"
    )
    unknown = (None, None, None)
    assert shown.rows() == [("heron", 0.75, 0.125, 0.5), ("otter", *unknown), ("stork", *unknown)]


def test_what_reading_told_of_a_ride_is_not_told_again(two: Store) -> None:
    """That it lacks a cadence is one row, however often it is measured; other facts are others."""
    lacking = Problem("jay.fit", "read", "warning", "no cadence: no gear can be named")
    ride = replace(a_ride("jay", hour=11), problems=(lacking,))
    two.put_ride(ride, a_file(ride))
    again = replace(lacking, stage="measure", message="cadence is zero: no gear can be named")
    other = replace(again, path="heron.fit")
    for _ in range(2):
        two.put_vehicle_gears(replace(measured("heron", ride), problems=(again, other)), "print")
    told = two.frame("select path, stage from problems where message like '%no gear can be named'")
    assert sorted(told.rows()) == [("heron.fit", "measure"), ("jay.fit", "read")]
