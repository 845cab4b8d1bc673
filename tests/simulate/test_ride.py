"""A simulated ride as frames and as a file, read back by the project's own reader."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np
import pytest
from polars import col
from polars.testing import assert_frame_equal

from ridelab.simulate import (
    TRUE_SHIFT_SCHEMA,
    TRUTH_SCHEMA,
    Sensors,
    SimulatedRide,
    Tyre,
    simulate_ride,
)
from ridelab.telemetry import read_ride
from ridelab.telemetry.ride import SAMPLE_SCHEMA
from tests.simulate.rides import chain_ride, hub_ride, stepless_ride, windy_ride

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.simulate import Scenario

STARTED = datetime(2026, 4, 11, 8, 5, tzinfo=UTC)


def ln_over(ride: SimulatedRide) -> np.ndarray:
    """Recorded ln(development) minus the true gear's, coupled samples with a speed."""
    seen = ride.recorded.join(ride.truth, on="t_s", suffix="_true").filter(
        col("coupled") & (col("cadence_rpm") > 20) & (col("speed_mps") > 1)
    )
    rollout_m = ride.scenario.vehicle.rollout_m
    over = 60 * seen["speed_mps"] / seen["cadence_rpm"] / (seen["ratio"] * rollout_m)
    return over.log().to_numpy()


def test_same_seed_same_bytes() -> None:
    """A ride can be made again to the last bit; another seed makes another."""
    one, again, other = (simulate_ride(hub_ride(), seed).fit_content(STARTED) for seed in (5, 5, 6))
    assert one == again
    assert one != other


def test_wheel_sensor_clusters_within_one_per_cent() -> None:
    """Spread near 0.5 to 1 % as in real files, middle on the true gear."""
    over = ln_over(simulate_ride(hub_ride(), 1))
    assert np.median(over) == pytest.approx(0.0, abs=0.003)
    assert 0.002 < 1.4826 * np.median(np.abs(over - np.median(over))) < 0.01


def test_satellites_cluster_more_loosely() -> None:
    """As in real files: several times as wide as with a wheel sensor."""
    wheel = np.abs(ln_over(simulate_ride(hub_ride(), 1)))
    sky = np.abs(ln_over(simulate_ride(hub_ride(sensors=Sensors(speed="satellite")), 1)))
    assert np.median(sky) > 3 * np.median(wheel)


def test_a_wrong_wheel_setting_scales_speed_and_distance() -> None:
    """The unit multiplies turns by the wheel size it was told."""
    told = Sensors(set_rollout_m=2.1 * 1.02, dropouts_per_hour=0.0)
    right, wrong = (
        simulate_ride(hub_ride(sensors=sensors), 1)
        for sensors in (Sensors(dropouts_per_hour=0.0), told)
    )
    scale = wrong.recorded["distance_m"][-1] / right.recorded["distance_m"][-1]
    assert scale == pytest.approx(1.02, rel=1e-5)
    assert np.median(ln_over(wrong)) - np.median(ln_over(right)) == pytest.approx(
        np.log(1.02), abs=1e-3
    )


@pytest.mark.parametrize("fraction", [False, True])
def test_cadence_is_a_whole_number_of_its_steps(fraction: bool) -> None:
    """Whole rpm, or 1/128 where the unit stores fractions."""
    cadence = simulate_ride(hub_ride(sensors=Sensors(cadence_fraction=fraction)), 1).recorded[
        "cadence_rpm"
    ]
    steps = (cadence.drop_nulls() * (128 if fraction else 1)).to_numpy()
    assert (steps == np.rint(steps)).all()
    assert ((cadence.drop_nulls() % 1 != 0).any()) == fraction


@pytest.mark.parametrize(
    "ride", [hub_ride(), chain_ride(), stepless_ride()], ids=["hub", "chain", "stepless"]
)
def test_truth_has_its_columns_and_follows_its_shifts(ride: Scenario) -> None:
    """One row of truth a record; the gear is that of the last shift before it."""
    made = simulate_ride(ride, 2)
    assert made.truth.schema == TRUTH_SCHEMA
    assert made.shifts.schema == TRUE_SHIFT_SCHEMA
    assert made.recorded.schema == SAMPLE_SCHEMA
    assert made.truth["t_s"].equals(made.recorded["t_s"])
    if made.shifts.is_empty():
        assert made.truth["gear"].is_null().all()
        return
    held = made.truth.with_columns(col("t_s") + 1e-6).join_asof(made.shifts, on="t_s")
    after = held.drop_nulls("to_gear")
    assert len(after) > 800
    assert after["gear"].equals(after["to_gear"], check_names=False)


def test_the_reader_finds_what_was_recorded(tmp_path: Path) -> None:
    """Samples, sensors and the source of the speed come back from the file."""
    made = simulate_ride(hub_ride(sensors=Sensors(power_meter=True, cadence_fraction=True)), 3)
    made.to_fit(tmp_path / "ride.fit", STARTED)
    ride = read_ride(tmp_path / "ride.fit")
    assert_frame_equal(ride.samples, made.recorded, abs_tol=1e-6)
    assert ride.started_at == STARTED
    assert ride.sensors == ("bike_speed", "bike_cadence", "bike_power")
    assert ride.speed_source == "wheel sensor"
    assert ride.cadence_resolution_rpm == 1 / 128
    assert ride.problems == ()


def test_the_reader_takes_satellite_speed_for_what_it_is(tmp_path: Path) -> None:
    """No wheel sensor is listed, and positions are there."""
    simulate_ride(hub_ride(sensors=Sensors(speed="satellite")), 3).to_fit(
        tmp_path / "ride.fit", STARTED
    )
    assert read_ride(tmp_path / "ride.fit").speed_source == "satellite"


def test_pauses_come_back_and_hold_no_records(tmp_path: Path) -> None:
    """With auto pause the timer stops while standing, and the truth has no rows there either."""
    made = simulate_ride(hub_ride(sensors=Sensors(auto_pause=True)), 3)
    made.to_fit(tmp_path / "ride.fit", STARTED)
    ride = read_ride(tmp_path / "ride.fit")
    assert len(made.pauses) > 0
    assert_frame_equal(ride.pauses, made.pauses)
    assert len(ride.samples) == len(made.truth) < 900
    for start, end in made.pauses.iter_rows():
        assert not made.recorded["t_s"].is_between(start, end, closed="none").any()


def test_electronic_shifting_of_a_chain_tells_teeth(tmp_path: Path) -> None:
    """Every change of setting is recorded, in whole seconds, with positions and teeth."""
    made = simulate_ride(chain_ride(sensors=Sensors(gear_events=True)), 3)
    made.to_fit(tmp_path / "ride.fit", STARTED)
    found = read_ride(tmp_path / "ride.fit").gear_changes
    assert_frame_equal(found, made.gear_changes.with_columns(col("t_s").floor()))
    assert len(found) == len(made.shifts) + 1
    assert set(found["front_teeth"]) <= {24, 38}
    assert found["rear_teeth"].is_between(11, 36).all()


def test_electronic_shifting_of_a_hub_tells_the_gear(tmp_path: Path) -> None:
    """A hub has positions only: they are the gears as published."""
    made = simulate_ride(hub_ride(sensors=Sensors(gear_events=True)), 3)
    made.to_fit(tmp_path / "ride.fit", STARTED)
    found = read_ride(tmp_path / "ride.fit").gear_changes
    assert found["rear_gear"][1:].to_list() == made.shifts["to_gear"].to_list()
    assert found["rear_teeth"].is_null().all()
    assert found["front_gear"].is_null().all()


def test_recording_on_change_leaves_out_what_is_not_news() -> None:
    """Intervals of 1 to 8 s, the same values at the same times, and truth for what was kept."""
    every = simulate_ride(hub_ride(), 3)
    fewer = simulate_ride(hub_ride(sensors=Sensors(recording="on change")), 3)
    steps = fewer.recorded["t_s"].diff().drop_nulls()
    assert 1.5 < steps.mean() < 7.0  # type: ignore[operator]
    assert set(steps) <= {float(i) for i in range(1, 9)}
    assert_frame_equal(fewer.recorded, every.recorded.join(fewer.recorded, on="t_s", how="semi"))
    assert fewer.truth["t_s"].equals(fewer.recorded["t_s"])


def test_a_lost_radio_leaves_no_gap_where_the_unit_shows_the_last_value() -> None:
    """Speed, distance and cadence stand still together with nothing missing."""
    lost = Sensors(dropouts_per_hour=60.0)
    held = simulate_ride(hub_ride(sensors=replace(lost, dropout="last value")), 3).recorded
    assert simulate_ride(hub_ride(sensors=lost), 3).recorded["speed_mps"].null_count() > 20
    assert held["speed_mps"].null_count() < 20
    frozen = (held["distance_m"].diff() == 0) & (held["speed_mps"] > 2)
    assert frozen.sum() > 20


def test_a_sensor_at_the_driven_wheel_does_not_see_the_tyre_change() -> None:
    """Turns of wheel and crank keep the ratio, on whatever tyre; those of the other wheel do not.

    Standard deviation over sixteen days, each with a stray of 2 % so that it shows.
    """
    vehicle = replace(hub_ride().vehicle, tyre=Tyre(day=0.02))
    spreads = {}
    for wheel in ("driven", "other"):
        sensors = Sensors(wheel=wheel)
        scenario = hub_ride(vehicle=vehicle, sensors=sensors, duration_s=400)
        middles = [np.median(ln_over(simulate_ride(scenario, seed))) for seed in range(16)]
        spreads[wheel] = np.std(middles)
    assert spreads["driven"] < 0.003
    assert spreads["other"] == pytest.approx(0.02 * np.sqrt(2), rel=0.45)


def test_eighty_four_combinations_are_ridden_as_gears_of_the_ladder() -> None:
    """Truth names merged gears: every ratio ridden lies within 1.5 % of its gear's lowest."""
    made = simulate_ride(windy_ride(), 2)
    spans = made.truth.group_by("gear").agg(over=col("ratio").max() / col("ratio").min())
    assert len(spans) > 5
    assert spans["over"].max() <= 1.015 + 1e-9  # type: ignore[operator]
