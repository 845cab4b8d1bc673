"""The paper ladder is the ladder in metres, speeds and turns a minute."""

import polars as pl
import pytest

from ridelab.drivetrain.ladder import Ladder, published_ladder
from ridelab.drivetrain.paper import PAPER_SCHEMA, paper_ladder
from ridelab.drivetrain.stages import (
    Drivetrain,
    Stage,
    from_range,
    from_ratios,
    from_teeth,
    stepless,
)


def ladder(*stages: Stage) -> Ladder:
    """Return the published ladder of these stages."""
    return published_ladder(Drivetrain("d", stages))


def test_speed_is_development_times_cadence() -> None:
    """Ratio 2 on a wheel of 2.1 m: 4.2 m a turn, at 60, 80 and 100 rpm 4.2, 5.6 and 7.0 m/s.

    By hand: 80 turns a minute of 4.2 m are 336 m a minute, 5.6 m/s.
    """
    row = paper_ladder(ladder(from_teeth("chain", [38], [19])), 2.1).row(0, named=True)
    assert row["development_m"] == pytest.approx(4.2)
    assert row["speed_60rpm_mps"] == pytest.approx(4.2)
    assert row["speed_80rpm_mps"] == pytest.approx(5.6)
    assert row["speed_100rpm_mps"] == pytest.approx(7.0)
    assert (row["gear"], row["label"], row["step"], row["cadence_change_rpm"]) == (
        1, "38/19", None, None,
    )  # fmt: skip


@pytest.mark.parametrize(("speeds", "range_factor", "change"), [(14, 5.26, 11), (18, 6.36, 9)])
def test_cadence_change_of_even_ladders(speeds: int, range_factor: float, change: int) -> None:
    """A shift at 80 rpm changes the cadence by 11 rpm on 14 gears over 526 %, 9 on 18 over 636 %.

    Common practice, no source.
    """
    paper = paper_ladder(ladder(from_range("hub", speeds, range_factor)))
    assert paper["cadence_change_rpm"].drop_nulls().round(0).unique().to_list() == [change]


def test_cadence_change_is_what_the_speed_asks() -> None:
    """At the speed of 80 rpm in a gear, the gear below asks 80 rpm plus the change."""
    paper = paper_ladder(ladder(from_ratios("gearbox", [1.0, 1.2, 1.5])), 2.0)
    below_m = paper["development_m"].shift(1)
    cadence_below_rpm = paper["speed_80rpm_mps"] / below_m * 60
    assert cadence_below_rpm.to_list()[1:] == pytest.approx([80 + 16, 80 + 20])
    assert paper["cadence_change_rpm"].to_list()[1:] == pytest.approx([16, 20])


def test_without_a_rollout_only_ratios_are_told() -> None:
    """No wheel, no metres: development and speeds are null, steps stay."""
    paper = paper_ladder(ladder(from_ratios("gearbox", [1.0, 1.2])))
    assert paper["ratio"].to_list() == [1.0, 1.2]
    metres = paper.select("development_m", pl.selectors.starts_with("speed"))
    assert all(column.null_count() == 2 for column in metres.iter_columns())


def test_stepless_shows_its_two_ends() -> None:
    """Lowest and highest, without gear numbers or steps."""
    paper = paper_ladder(ladder(from_teeth("chain", [40], [20]), stepless("hub", 0.5, 1.9)), 2.0)
    assert paper["label"].to_list() == ["lowest", "highest"]
    assert paper["development_m"].to_list() == pytest.approx([2.0, 7.6])
    assert paper["gear"].null_count() == paper["step"].null_count() == 2


def test_schema_is_the_same_for_every_ladder() -> None:
    """Stepped or stepless, with a rollout or without: one schema."""
    for stage in (stepless("hub", 0.5, 1.9), from_ratios("hub", [1.0, 1.2])):
        for rollout_m in (None, 2.0):
            assert paper_ladder(ladder(stage), rollout_m).schema == PAPER_SCHEMA
