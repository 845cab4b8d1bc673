"""Two ladders side by side: every gear is below, alike, between or above those of the other."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.drivetrain.beside import BESIDE_SCHEMA, along, ladders_beside, on_wheel
from ridelab.drivetrain.ladder import Ladder, published_ladder
from ridelab.drivetrain.stages import Drivetrain, Stage, from_ratios, from_teeth, stepless

PLACES = ("gears_below", "gears_alike", "gears_between", "gears_above")
ladders = st.lists(st.floats(0.2, 5), min_size=1, max_size=20).map(
    lambda ratios: ladder(from_ratios("hub", ratios))
)


def ladder(*stages: Stage) -> Ladder:
    """Return the published ladder of these stages."""
    return published_ladder(Drivetrain("d", stages))


def test_gears_are_placed_among_those_of_the_other() -> None:
    """By hand: 0.5 below, 1.01 like 1, 1.5 between 1 and 2, 2 alike, 3 and 4 above."""
    one = ladder(from_ratios("hub", [0.5, 1.01, 1.5, 2, 3, 4]))
    rows = ladders_beside(one, ladder(from_ratios("hub", [1, 2])))
    assert rows.schema == BESIDE_SCHEMA
    assert rows.select(PLACES).rows() == [(1, 2, 1, 2), (0, 2, 0, 0)]
    assert rows["beyond_lowest"].to_list() == [0.5, 1]
    assert rows["beyond_highest"].to_list() == [2, 1]


@given(one=ladders, other=ladders)
def test_every_gear_has_one_place(one: Ladder, other: Ladder) -> None:
    """The four places add up to the gears; a ladder with a gear beyond says how far it goes."""
    rows = ladders_beside(one, other)
    for row in rows.to_dicts():
        assert sum(row[place] for place in PLACES) == row["gears"]
        assert row["beyond_lowest"] < 1 or not row["gears_below"]
        assert row["beyond_highest"] > 1 or not row["gears_above"]
    # seen from either side, one goes beyond the other at an end, or neither does
    assert rows["beyond_lowest"].max() == 1
    assert rows["beyond_highest"].min() == 1


@given(one=ladders)
def test_a_ladder_beside_itself_is_alike(one: Ladder) -> None:
    """Nothing below, between or above."""
    rows = ladders_beside(one, one)
    assert rows["gears_alike"].to_list() == [len(one.gears)] * 2


def test_beside_a_stepless_hub() -> None:
    """Whatever lies in its span is alike, but for its hole from 1.9 to 2.2."""
    free = ladder(from_teeth("chain", [10, 44], [10]), stepless("hub", 0.5, 1.9))
    one = ladder(from_ratios("hub", [0.4, 1, 2.05, 3, 9]))
    rows = ladders_beside(one, free).to_dicts()
    assert [rows[0][place] for place in PLACES] == [1, 2, 1, 1]
    assert [rows[1][place] for place in PLACES] == [None] * 4
    assert rows[1]["gears"] is rows[1]["mean_step"] is None
    assert rows[1]["range"] == pytest.approx(4.4 * 3.8)


def test_speeds_on_a_wheel() -> None:
    """Ratio 0.5 on 2 m at 60 rpm: 1 m/s; ratio 3 at 100 rpm: 10 m/s; by hand."""
    both = ladders_beside(ladder(from_ratios("a", [0.5, 3])), ladder(from_ratios("b", [1, 1.5])))
    row = on_wheel(both, "heron", 2.0).row(0, named=True)
    assert (row["vehicle"], row["lowest_cadence_rpm"], row["highest_cadence_rpm"]) == (
        "heron", 60, 100,
    )  # fmt: skip
    assert row["lowest_speed_mps"] == pytest.approx(1.0)
    assert row["highest_speed_mps"] == pytest.approx(10.0)
    assert on_wheel(both, None, None)["lowest_speed_mps"].null_count() == 2


@pytest.mark.parametrize(("low_mph", "high_mph"), [(3, 28), (3, 33)])
def test_trade_speeds_fit_eighteen_gears_within_their_rounding(
    low_mph: float, high_mph: float
) -> None:
    """60 rpm and 3 mph in the lowest, 100 rpm and 28 or 33 mph in the highest, over 636 %.

    Common practice, no source. Highest over lowest speed is range × 100/60; each speed is rounded
    to a whole mile an hour, so their quotient may lie anywhere between those of the ends.
    """
    most, least = (high_mph + 0.5) / (low_mph - 0.5), (high_mph - 0.5) / (low_mph + 0.5)
    assert least <= 6.36 * 100 / 60 <= most


def test_places_along_a_logarithmic_scale() -> None:
    """The geometric mean lies in the middle; a scale without a length has all at its start."""
    assert along([1, 2, 4], 1, 4) == pytest.approx([0, 0.5, 1])
    assert along([2, 2], 2, 2) == [0, 0]
