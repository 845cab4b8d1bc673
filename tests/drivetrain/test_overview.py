"""A ladder as a whole: its steps, what is felt of it, what each stage adds."""

from __future__ import annotations

import math
from itertools import pairwise
from statistics import fmean, pstdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.drivetrain.ladder import Ladder, published_ladder
from ridelab.drivetrain.overview import (
    COMBINATIONS_SCHEMA,
    STAGES_SCHEMA,
    combination_rows,
    felt_gears,
    stage_rows,
    steps_of,
)
from ridelab.drivetrain.stages import (
    Drivetrain,
    Stage,
    from_range,
    from_ratios,
    from_teeth,
    stepless,
)

SIX = from_range("gearbox", 6, 2.95, 1.0)
FOURTEEN = from_range("hub", 14, 5.26)


def ladder(*stages: Stage) -> Ladder:
    """Return the published ladder of these stages."""
    return published_ladder(Drivetrain("d", stages))


@pytest.mark.parametrize(
    ("speeds", "range_factor", "step"), [(6, 2.95, 0.2416), (18, 6.36, 0.115), (14, 5.26, 0.136)]
)
def test_even_ladders_have_one_step(speeds: int, range_factor: float, step: float) -> None:
    """295 % on six crank-gearbox speeds, 636 % on eighteen, 526 % on fourteen hub gears.

    Common practice, no source; the steps follow by hand, 2.95^(1/5) - 1 and so on.
    """
    even = steps_of(ladder(from_range("hub", speeds, range_factor)))
    assert even is not None
    assert (even.smallest, even.mean, even.largest) == pytest.approx((step,) * 3, abs=5e-4)
    assert even.largest_over_smallest == pytest.approx(1)
    assert even.variation == pytest.approx(0, abs=1e-12)


@given(ratios=st.lists(st.floats(0.1, 10), min_size=2, max_size=30))
def test_unevenness_is_the_variation_of_the_logarithms(ratios: list[float]) -> None:
    """Against the standard library's mean and standard deviation."""
    found = ladder(from_ratios("hub", ratios))
    steps = steps_of(found)
    logs = [math.log(upper / lower) for lower, upper in pairwise(found.ratios)]
    if not logs:
        assert steps is None
        return
    assert steps is not None
    assert steps.variation == pytest.approx(pstdev(logs) / fmean(logs), rel=1e-6, abs=1e-9)
    assert steps.largest == pytest.approx(math.expm1(max(logs)))
    assert steps.largest_over_smallest == pytest.approx(
        math.expm1(max(logs)) / math.expm1(min(logs)), rel=1e-6
    )


def test_a_single_gear_and_a_stepless_hub_have_no_steps() -> None:
    """None, and no gears to be felt where there are none."""
    assert steps_of(ladder(from_teeth("chain", [44], [16]))) is None
    assert steps_of(ladder(stepless("hub", 0.5, 1.9))) is None
    assert felt_gears(ladder(stepless("hub", 0.5, 1.9))) == 0


def test_gears_closer_than_five_percent_feel_as_one() -> None:
    """1.00 and 1.04 are one to a rider, 1.06 is another: 1.04 → 1.06 is not asked."""
    assert felt_gears(ladder(from_ratios("hub", [1.0, 1.04, 1.06]))) == 2


def test_six_before_fourteen() -> None:
    """84 combinations; range is the product of ranges, 295 % × 526 % = 1552 %."""
    found = ladder(SIX, from_teeth("chain", [30], [36]), FOURTEEN)
    assert sum(len(gear.members) for gear in found.gears) == 84
    assert found.range == pytest.approx(15.517)
    rows = stage_rows(Drivetrain("d", (SIX, from_teeth("chain", [30], [36]), FOURTEEN)))
    gears = len(found.gears)
    assert rows.schema == STAGES_SCHEMA
    assert rows["settings"].to_list() == [6, 1, 14]
    assert rows["range"].to_list() == pytest.approx([2.95, 1, 5.26])
    assert rows["gears"].to_list() == [gears] * 3
    assert rows["gears_without"].to_list() == [14, gears, 6]


def test_eighteen_even_gears_of_six_by_three() -> None:
    """Three settings six steps apart behind six of one step: none of the 18 repeats another.

    How 18-speed crank gearboxes are built: common practice, no source.
    """
    step = 6.36 ** (1 / 17)
    found = ladder(from_range("a", 6, step**5), from_range("b", 3, step**12))
    steps = steps_of(found)
    assert len(found.gears) == 18
    assert found.range == pytest.approx(6.36)
    assert steps is not None
    assert steps.variation == pytest.approx(0, abs=1e-9)


@given(
    stages=st.lists(
        st.lists(st.floats(0.3, 3), min_size=1, max_size=6).map(
            lambda ratios: from_ratios(f"{ratios}", ratios)
        ),
        min_size=2,
        max_size=3,
        unique_by=lambda stage: stage.name,
    ),
    merge=st.floats(0, 0.05),
)
def test_gears_without_a_stage_are_those_of_the_others(stages: list[Stage], merge: float) -> None:
    """The reference is the ladder of a drivetrain that lacks the stage."""
    rows = stage_rows(Drivetrain("d", tuple(stages)), merge)
    for stage, row in zip(stages, rows.to_dicts(), strict=True):
        others = tuple(other for other in stages if other is not stage)
        assert row["gears_without"] == len(published_ladder(Drivetrain("d", others), merge).gears)


def test_a_stage_multiplies_both_ends_of_the_ladder() -> None:
    """Lowest gear × its lowest ratio, highest × its highest: against the ladder without it."""
    row = stage_rows(Drivetrain("d", (SIX, FOURTEEN))).row(0, named=True)
    without, whole = ladder(FOURTEEN).ends, ladder(SIX, FOURTEEN).ends
    assert without[0] * row["lowest_ratio"] == pytest.approx(whole[0])
    assert without[1] * row["highest_ratio"] == pytest.approx(whole[1])


def test_a_chain_shifted_on_both_sides_tells_them_apart() -> None:
    """Two chainrings on three sprockets: 150 % and 200 %, six gears, without either 3 and 2."""
    rows = stage_rows(Drivetrain("d", (from_teeth("chain", [24, 36], [11, 17, 22]),)))
    assert rows["shifts"].to_list() == [None, "driver", "driven"]
    assert rows["range"].to_list() == pytest.approx([3, 1.5, 2])
    assert rows["gears"].to_list() == [6, 6, 6]
    assert rows["gears_without"].to_list() == [1, 3, 2]


def test_a_stepless_stage_counts_no_gears() -> None:
    """Its range is told; settings and gears are null."""
    rows = stage_rows(Drivetrain("d", (SIX, stepless("hub", 0.5, 1.9))))
    assert rows["settings"].to_list() == [6, None]
    assert rows["gears"].null_count() == rows["gears_without"].null_count() == 2
    assert rows["range"].to_list() == pytest.approx([2.95, 3.8])


def test_combinations_say_what_they_repeat() -> None:
    """38/18 and 34/16 are 0.7 % apart and share gear 2; the others stand alone."""
    rows = combination_rows(ladder(from_teeth("chain", [34, 38], [18, 16])))
    assert rows.schema == COMBINATIONS_SCHEMA
    assert rows["gear"].to_list() == [1, 2, 2, 3]
    assert rows["combination"].to_list() == ["34/18", "38/18", "34/16", "38/16"]
    assert rows["same_gear_as"].to_list() == [None, "34/16", "38/18", None]
    assert rows["ratio"].to_list() == pytest.approx([34 / 18, 38 / 18, 34 / 16, 38 / 16])
    assert rows["deviation"].to_list() == pytest.approx([0, -0.003273, 0.003284, 0], abs=1e-6)
