"""A vehicle over its rides: the thread from recordings to a ladder with true intervals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from ridelab.drivetrain.ladder import Gear, Ladder
from ridelab.gears import measure_vehicle
from ridelab.gears.result import ENGAGED_SCHEMA, MEASURED_SCHEMA
from ridelab.telemetry.ride import GEAR_CHANGE_SCHEMA
from tests.gears.riding import COAST, EVEN_14, ride, sweep
from tests.gears.test_ladder import UNEVEN, ladder


def test_measured_beside_published() -> None:
    """Every gear ridden is measured within 0.3 %, the others are left out."""
    made = ride(sweep(range(3, 13)), EVEN_14, rollout_m=2.08)
    found = measure_vehicle("heron", [made], ladder(EVEN_14), 2.11)
    assert found.gears.schema == MEASURED_SCHEMA
    assert found.gears["gear"].to_list() == list(range(3, 13))
    assert found.gears["deviation"].abs().max() < 0.003  # type: ignore[operator]
    assert found.rollout is not None
    assert found.rollout.value == pytest.approx(2.08, rel=0.002)
    assert found.range is not None
    assert (found.range.low_gear, found.range.high_gear) == (3, 12)
    assert found.range.complete is False


def test_complete_range_of_a_14_speed_hub() -> None:
    """All fourteen gears ridden: 526 % (the published range) lies in the interval."""
    found = measure_vehicle("heron", [ride(sweep(range(1, 15)), EVEN_14)], ladder(EVEN_14), 2.1)
    assert found.range is not None
    assert found.range.complete is True
    assert found.range.range.low < 5.26 < found.range.range.high
    assert found.range.range.high / found.range.range.low < 1.02


def test_wrong_tyre_setting_is_one_wrong_rollout_not_wrong_gears() -> None:
    """A wheel 7 % smaller than stated shows in the rollout, with a warning; the ratios stay."""
    made = ride(sweep(range(1, 8)), UNEVEN, rollout_m=1.95)
    found = measure_vehicle("heron", [made], ladder(UNEVEN), 2.10)
    assert found.rollout is not None
    assert found.rollout.value == pytest.approx(1.95, rel=0.002)
    assert found.gears["deviation"].abs().max() < 0.003  # type: ignore[operator]
    assert any("check the tyre" in problem.message for problem in found.problems)


def test_engaged_has_a_row_for_every_sample() -> None:
    """Also samples without any gear have their row, and the gear persists while coasting."""
    made = ride([*sweep([2, 3, 5]), (COAST, 30), (5, 60)], UNEVEN)
    engaged = measure_vehicle("heron", [made], ladder(UNEVEN), 2.1).rides[0].engaged
    assert engaged.schema == ENGAGED_SCHEMA
    assert len(engaged) == len(made.samples)
    coasting = engaged[241:269]
    assert coasting["gear"].to_list() == [5] * 28
    assert not coasting["coupled"].any()
    assert coasting["development_m"].is_null().all()


def test_without_published_ladder_gears_are_numbered_over_those_found() -> None:
    """Ratios are then development over the stated rollout; nothing published is invented."""
    found = measure_vehicle("mine", [ride(sweep([2, 4, 5, 7]), UNEVEN)], None, 2.1)
    assert found.gears["gear"].to_list() == [1, 2, 3, 4]
    assert found.gears["published_ratio"].is_null().all()
    np.testing.assert_allclose(found.gears["ratio"], np.array(UNEVEN)[[1, 3, 4, 6]], rtol=0.003)


def test_the_number_of_gears_carries_its_probability() -> None:
    """Clear gears are counted surely; with a published ladder there is no count to be sure of."""
    made = ride(sweep([2, 4, 5, 7]), UNEVEN)
    found = measure_vehicle("mine", [made], None, 2.1)
    assert found.count_probability is not None
    assert found.count_probability > 0.95
    assert not found.problems
    assert measure_vehicle("mine", [made], ladder(UNEVEN), 2.1).count_probability is None


def test_a_count_in_doubt_is_told() -> None:
    """Gears 3 % apart in noise of 2 %: how sure the number found is, and what else it may be."""
    close = (1.0, 1.25, 1.285, 1.6)
    doubted = []
    for seed in range(3):
        made = ride(sweep([1, 2, 3, 4], 30, 4), close, noise=0.02, seed=seed)
        found = measure_vehicle("mine", [made], None, 2.1)
        said = [p.message for p in found.problems if "number of gears is not sure" in p.message]
        assert found.count_probability is not None
        assert bool(said) == (found.count_probability < 0.9)
        doubted += said
    assert any("3 found" in one and "4 possible, too" in one for one in doubted)


def test_without_any_rollout_there_is_development_and_no_ratio() -> None:
    """A ratio needs a rollout; development and range do not."""
    found = measure_vehicle("mine", [ride(sweep([2, 4, 5, 7]), UNEVEN)], None, None)
    assert found.gears["ratio"].is_null().all()
    assert found.gears["development_m"].is_not_null().all()
    assert found.range is not None
    assert found.range.range.value == pytest.approx(UNEVEN[6] / UNEVEN[1], rel=0.005)


def test_rides_are_pooled_and_their_order_does_not_matter() -> None:
    """Two rides of different gears make one ladder, the same whichever comes first."""
    first = ride(sweep(range(1, 5)), UNEVEN, name="a", seed=1)
    second = ride(sweep(range(3, 8)), UNEVEN, name="b", seed=2)
    one = measure_vehicle("heron", [first, second], ladder(UNEVEN), 2.1)
    other = measure_vehicle("heron", [second, first], ladder(UNEVEN), 2.1)
    assert one.gears["gear"].to_list() == list(range(1, 8))
    assert one.gears["rides"].to_list() == [1, 1, 2, 2, 1, 1, 1]
    for column in ("ratio", "ratio_low", "ratio_high"):
        np.testing.assert_allclose(one.gears[column], other.gears[column], rtol=1e-4)


def test_a_ride_that_names_no_gear_spoils_nothing() -> None:
    """A ride without speed is kept, says why, and leaves the ladder as it was."""
    good = ride(sweep(range(1, 8)), UNEVEN, name="good")
    mute = ride([(3, 100)], UNEVEN, name="mute")
    mute = replace(mute, samples=mute.samples.with_columns(speed_mps=pl.lit(None, pl.Float64)))
    alone = measure_vehicle("heron", [good], ladder(UNEVEN), 2.1)
    both = measure_vehicle("heron", [mute, good], ladder(UNEVEN), 2.1)
    assert both.gears.equals(alone.gears)
    assert both.rides[0].gear_source == "none"
    assert both.rides[0].engaged["gear"].is_null().all()
    assert [p.path for p in both.problems] == ["mute.fit"]


def test_a_ride_that_stands_most_of_the_time_is_used_without_a_warning() -> None:
    """A stopped wheel has no development to be sure of; what was ridden counts as before."""
    rested = ride(sweep(range(1, 8)), UNEVEN, name="rested")
    waiting = pl.DataFrame(
        {
            "t_s": np.arange(rested.samples.height, 3.0 * rested.samples.height),
            "speed_mps": 0.0,
            "cadence_rpm": 0.0,
            "timer_running": True,
        }
    )
    samples = pl.concat([rested.samples, waiting], how="diagonal")
    found = measure_vehicle("heron", [replace(rested, samples=samples)], ladder(UNEVEN), 2.1)
    assert found.gears["gear"].to_list() == list(range(1, 8))
    np.testing.assert_allclose(found.gears["ratio"], UNEVEN, rtol=0.005)


def test_intervals_cover_the_truth() -> None:
    """Over 40 rides of known gears, 95 % intervals of ratios hold the truth in 90 % or more.

    Binomial: with 280 intervals and true coverage 95 %, fewer than 252 has probability 1e-3.
    """
    inside = 0
    for seed in range(40):
        made = ride(sweep(range(1, 8), 30, 2), UNEVEN, noise=0.008, seed=seed)
        found = measure_vehicle("heron", [made], ladder(UNEVEN), 2.1).gears
        truth = np.array(UNEVEN)
        inside += int(
            (
                (found["ratio_low"].to_numpy() <= truth) & (truth <= found["ratio_high"].to_numpy())
            ).sum()
        )
    assert inside >= 252


def test_recorded_gear_changes_are_kept_beside_the_inferred_ones() -> None:
    """Recorded teeth become gear numbers of the same ladder, and the agreement is reported."""
    ratios = (40 / 28, 40 / 24, 40 / 21, 40 / 18)
    made = ride([(1, 60), (2, 60), (3, 60), (4, 60)], ratios)
    events = pl.DataFrame(
        {"t_s": [0.0, 60.0, 120.0, 180.0], "front_teeth": 40, "rear_teeth": [28, 24, 21, 18]}
    )
    changes = events.select(
        (pl.col(c) if c in events.columns else pl.lit(None)).cast(kind).alias(c)
        for c, kind in GEAR_CHANGE_SCHEMA.items()
    )
    found = measure_vehicle("x", [replace(made, gear_changes=changes)], ladder(ratios), 2.1)
    engaged = found.rides[0].engaged
    assert engaged["recorded_gear"].to_list() == np.repeat([1, 2, 3, 4], 60).tolist()
    assert found.rides[0].gear_source == "both"
    assert any("agree on" in problem.message for problem in found.problems)


def test_no_rides_is_no_error() -> None:
    """A vehicle nobody rode has no gears, and it says so."""
    found = measure_vehicle("idle", [], ladder(UNEVEN), 2.1)
    assert found.gears.is_empty()
    assert found.problems[0].message == "no ride of this vehicle names a gear"


def test_a_gear_that_nobody_published_is_measured_with_a_number_of_its_own() -> None:
    """An eighth ratio on a seven-speed ladder: gear 8, no published ratio, no end of the range."""
    built = (*UNEVEN, UNEVEN[6] * 1.24)
    found = measure_vehicle("x", [ride(sweep(range(1, 9)), built)], ladder(UNEVEN), 2.1)
    stranger = found.gears.row(by_predicate=pl.col("gear") == 8, named=True)
    assert stranger["published_ratio"] is None
    assert stranger["label"] == "outside the published ladder"
    assert stranger["ratio"] == pytest.approx(built[7], rel=0.003)
    assert found.range is not None
    assert (found.range.low_gear, found.range.high_gear) == (1, 7)
    assert any("fit no gear of the published ladder" in note.message for note in found.problems)


def test_soft_pedalling_above_the_top_gear_is_no_gear_that_nobody_published() -> None:
    """Two minutes of it hold still, 29 % above gear 7, while the vehicle slows down as if rolling.

    The crank drives at a steady pace before and after, and stands for a while.
    """
    made = ride([*sweep(range(1, 8)), (COAST, 40), (7, 60), (8, 120), (7, 60)],
                (*UNEVEN, UNEVEN[6] * 1.29))  # fmt: skip
    t = made.samples["t_s"].to_numpy()
    rolls = (t >= 560) & (t < 600) | (t >= 660) & (t < 780)
    downhill = np.where(rolls, -0.06 - 0.0033 * made.samples["speed_mps"].to_numpy() ** 2, 0.0)
    height = 200.0 + np.cumsum(downhill * made.samples["speed_mps"].to_numpy()) / 9.80665
    lower = replace(made, samples=made.samples.with_columns(altitude_m=pl.Series(height)))
    found = measure_vehicle("x", [lower], ladder(UNEVEN), 2.1)
    assert found.gears["gear"].to_list() == [1, 2, 3, 4, 5, 6, 7]
    assert not any("fit no gear" in note.message for note in found.problems)


def test_combinations_that_share_a_gear_are_followed_where_they_are() -> None:
    """Of two combinations 1.4 % apart only the higher is ridden: 1.8 % below the next gear.

    Its gear's published ratio is their mean, further from it than half way; still it is named.
    """
    members = (2.4068, 2.4402)
    shared = Gear(2, "2", float(np.sqrt(members[0] * members[1])), 0.1, members)
    published = Ladder(
        "paper",
        (Gear(1, "1", 2.2, None, (2.2,)), shared, Gear(3, "3", 2.485, 0.025, (2.485,)),
         Gear(4, "4", 2.9, 0.167, (2.9,))),
    )  # fmt: skip
    made = ride(sweep([1, 2, 4], 60, 3), (2.2, 2.4402, 2.485, 2.9))
    found = measure_vehicle("x", [made], published, 2.1, rollout_is_measured=True)
    assert found.gears["gear"].to_list() == [1, 2, 4]


def test_a_gear_that_may_be_a_neighbour_misread_is_not_listed() -> None:
    """Gears 2 % apart, only one of them ridden, in noise of 2 %: the other one is not measured."""
    close = (1.0, 1.25, 1.275, 1.6)
    for seed in range(6):
        made = ride(sweep([1, 2, 4], 60, 3), close, noise=0.02, seed=seed)
        found = measure_vehicle("x", [made], ladder(close), 2.1)
        assert 3 not in found.gears["gear"].to_list()
