"""The published ladder holds every distinct ratio once, in order."""

import math
from itertools import pairwise, product
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.drivetrain.grouping import group_starts
from ridelab.drivetrain.ladder import published_ladder
from ridelab.drivetrain.stages import (
    Drivetrain,
    Stage,
    epicyclic,
    from_range,
    from_ratios,
    from_teeth,
    stepless,
)
from ridelab.errors import NotAccepted

chains = st.builds(
    from_teeth,
    st.just("chain"),
    st.lists(st.integers(20, 60), min_size=1, max_size=3, unique=True),
    st.lists(st.integers(9, 52), min_size=1, max_size=8, unique=True),
)
hubs = st.builds(from_range, st.just("hub"), st.integers(2, 14), st.floats(1.1, 7))


def drivetrain(*stages: Stage) -> Drivetrain:
    """Return a drivetrain of these stages."""
    return Drivetrain("d", stages)


def test_a_hub_behind_a_fixed_chain_keeps_its_settings() -> None:
    """One shifted stage: its settings are the gears, the chain scales them."""
    ladder = published_ladder(drivetrain(from_teeth("chain", [38], [19]), epicyclic("hub", 20, 60)))
    assert [gear.label for gear in ladder.gears] == ["1", "2", "3"]
    assert [gear.number for gear in ladder.gears] == [1, 2, 3]
    assert ladder.ratios == pytest.approx((1.5, 2, 8 / 3))
    assert [gear.step for gear in ladder.gears] == [None, *(pytest.approx(1 / 3),) * 2]
    assert ladder.range == pytest.approx(16 / 9)


def test_close_combinations_share_a_gear() -> None:
    """38/18 = 2.111 and 34/16 = 2.125 are 0.7 % apart: one gear at their geometric mean."""
    ladder = published_ladder(drivetrain(from_teeth("chain", [34, 38], [18, 16])))
    assert [gear.label for gear in ladder.gears] == ["34/18", "38/18 = 34/16", "38/16"]
    shared = ladder.gears[1]
    assert shared.ratio == pytest.approx(math.sqrt(38 / 18 * 34 / 16))
    assert shared.members == (38 / 18, 34 / 16)


def test_a_chain_of_neighbours_is_cut_at_the_lowest_of_its_group() -> None:
    """1.000, 1.010, 1.020 with 1.5 %: the third is within reach of the second, not of the first."""
    stages = (from_ratios("a", [1.0, 1.01, 1.02]), from_ratios("b", [1.0, 10.0]))
    ladder = published_ladder(drivetrain(*stages))
    assert [len(gear.members) for gear in ladder.gears] == [2, 1, 2, 1]


def test_merge_within_is_settable() -> None:
    """With nothing merged but equal ratios, 38/19 and 34/17 still are one gear."""
    stages = from_teeth("chain", [34, 38], [17, 19, 18])
    ladder = published_ladder(drivetrain(stages), merge_within=0)
    assert "34/17 = 38/19" in [gear.label for gear in ladder.gears]
    assert len(ladder.gears) == 5


def test_settings_of_one_shifted_stage_are_not_merged() -> None:
    """A maker's two settings that are 1 % apart are two gears: whether they are is for rides."""
    assert len(published_ladder(drivetrain(from_ratios("hub", [1.0, 1.01, 2.0]))).gears) == 3


def test_labels_of_several_shifted_stages_name_each() -> None:
    """A bare setting is told by its stage's name, teeth speak for themselves."""
    ladder = published_ladder(
        drivetrain(
            from_ratios("crank", [1.0, 2.5]),
            from_teeth("chain", [38], [19]),
            from_ratios("hub", [1.0, 1.4]),
        )
    )
    assert [gear.label for gear in ladder.gears] == [
        "crank 1 · hub 1",
        "crank 1 · hub 2",
        "crank 2 · hub 1",
        "crank 2 · hub 2",
    ]
    ladder = published_ladder(
        drivetrain(from_teeth("chain", [30, 50], [15]), from_ratios("hub", [1.0, 1.4]))
    )
    assert ladder.gears[0].label == "30/15 · hub 1"


def test_a_single_speed_has_one_gear() -> None:
    """Without any choice the ladder is one gear, named by what is there."""
    ladder = published_ladder(drivetrain(from_teeth("chain", [44], [16])))
    assert [(gear.label, gear.ratio, gear.step) for gear in ladder.gears] == [("44/16", 2.75, None)]
    assert ladder.range == 1


def test_one_stepless_stage_makes_the_ladder_stepless() -> None:
    """Lowest times lowest to highest times highest, without gears."""
    ladder = published_ladder(
        drivetrain(from_teeth("chain", [40, 20], [20]), stepless("hub", 0.5, 1.9))
    )
    assert ladder.stepless
    assert (ladder.gears, ladder.ratios) == ((), ())
    assert ladder.continuous == pytest.approx((0.5, 3.8))
    assert ladder.range == pytest.approx(7.6)


def test_settings_wider_apart_than_a_stepless_stage_leave_holes() -> None:
    """Chain 1:1 and 4:1 before 0.5 to 1.9: 0.5 to 1.9 and 2 to 7.6, nothing between; by hand."""
    ladder = published_ladder(
        drivetrain(from_teeth("chain", [20, 80], [20]), stepless("hub", 0.5, 1.9))
    )
    assert ladder.continuous == pytest.approx((0.5, 7.6))
    (hole,) = ladder.holes
    assert hole == pytest.approx((1.9, 2.0))


def test_four_stages_of_ten() -> None:
    """10,000 combinations are all there, each in one gear."""
    stages = [from_range(name, 10, 2.0 + place) for place, name in enumerate("abcd")]
    ladder = published_ladder(drivetrain(*stages))
    assert sum(len(gear.members) for gear in ladder.gears) == 10_000
    assert ladder.range == pytest.approx(2 * 3 * 4 * 5, rel=0.02)


def test_more_combinations_than_any_drivetrain_has_are_refused() -> None:
    """A campaign cannot fill the memory."""
    stages = [from_range(name, 1000, 2.0) for name in "ab"]
    with pytest.raises(NotAccepted, match="1000000 combinations"):
        published_ladder(drivetrain(*stages))


@given(stages=st.lists(chains | hubs, min_size=1, max_size=3), merge=st.floats(0, 0.05))
def test_every_combination_is_in_one_gear(stages: list[Stage], merge: float) -> None:
    """Gears rise; their members are all products, none further than merge_within from the lowest.

    The reference is the plain product of itertools.
    """
    ladder = published_ladder(drivetrain(*stages), merge)
    products = sorted(
        math.prod(choice.ratio for choice in combination)
        for combination in product(*(stage.choices for stage in stages))
    )
    members = [ratio for gear in ladder.gears for ratio in gear.members]
    assert members == pytest.approx(products)
    assert all(lower < upper for lower, upper in pairwise(ladder.ratios))
    for gear in ladder.gears:
        assert gear.members[-1] <= gear.members[0] * (1 + merge) * (1 + 1e-9)
        assert gear.members[0] * (1 - 1e-9) <= gear.ratio <= gear.members[-1] * (1 + 1e-9)
        assert gear.label == " = ".join(gear.settings)
        assert len(gear.settings) == len(gear.members)


@given(
    stages=st.lists(chains | hubs, min_size=2, max_size=3),
    merge=st.floats(0.001, 0.05),
    shuffled=st.randoms(use_true_random=False),
)
def test_the_order_of_stages_does_not_change_the_ladder(
    stages: list[Stage], merge: float, shuffled: Random
) -> None:
    """Ratios multiply in any order; a tolerance within rounding of a quotient is not met here."""
    other = list(stages)
    shuffled.shuffle(other)
    one, two = (published_ladder(drivetrain(*order), merge) for order in (stages, other))
    assert one.ratios == pytest.approx(two.ratios)
    assert [len(gear.members) for gear in one.gears] == [len(gear.members) for gear in two.gears]


@given(
    ratios=st.lists(st.floats(0.1, 10), min_size=1, max_size=60),
    merge=st.floats(0, 0.1),
)
def test_groups_are_those_of_a_plain_loop(ratios: list[float], merge: float) -> None:
    """A group begins where a ratio is beyond the lowest of the group before, in plain Python."""
    ascending = sorted(ratios)
    starts, lowest = [], 0.0
    for place, ratio in enumerate(ascending):
        if ratio > lowest * (1 + merge + 1e-12):
            starts.append(place)
            lowest = ratio
    assert group_starts(np.array(ascending), merge).tolist() == starts


@given(stages=st.lists(chains | hubs, min_size=1, max_size=3))
def test_range_is_the_product_of_ranges(stages: list[Stage]) -> None:
    """Overall range = product of the stages' ranges, to within what merging takes at each end."""
    ranges = math.prod(stage.ends[1] / stage.ends[0] for stage in stages)
    ladder = published_ladder(drivetrain(*stages))
    assert ranges / 1.015**2 <= ladder.range * (1 + 1e-9)
    assert ladder.range <= ranges * (1 + 1e-9)
    assert published_ladder(drivetrain(*stages), 0).range == pytest.approx(ranges)
