"""How many gears there are: neighbours that are one, ratios that nobody published."""

from __future__ import annotations

import pytest

from tests.analysis import ridden
from tests.analysis.ridden import verdict

COUNT = {"quantity": "gears", "value": 9.0}


def test_gears_hold_once_all_were_ridden() -> None:
    """Nine claimed, nine distinct ratios measured."""
    row = verdict({"quantity": "gears", "value": 9.0})
    assert (row["verdict"], row["measured"]) == ("holds", 9.0)


def test_gears_not_ridden_leave_the_count_open() -> None:
    """Gears 8 and 9 are still to ride."""
    row = verdict(
        {"quantity": "gears", "value": 9.0}, ridden.measured(ridden.numbered(ridden.NINE[:7]))
    )
    assert row["verdict"] == "undecided"
    assert (row["measured_low"], row["measured_high"]) == (7.0, 9.0)
    assert row["reason"].startswith("gears 8 and 9 were not ridden long enough")


def test_two_gears_that_are_one_fail_the_count() -> None:
    """Gears 5 and 6 measured alike within the step that makes two gears one."""
    ratios = ridden.numbered() | {6: 1.281}
    row = verdict({"quantity": "gears", "value": 9.0}, ridden.measured(ratios, error=0.001))
    assert row["verdict"] == "fails"
    assert row["reason"] == "gears 5 and 6 turn out as one, which leaves 8 distinct ratios"


def test_two_gears_that_may_be_one_leave_the_count_open() -> None:
    """2 % apart, each known to 2 %: nobody can tell."""
    ratios = ridden.numbered() | {6: 1.28 * 1.02}
    row = verdict({"quantity": "gears", "value": 9.0}, ridden.measured(ratios, error=0.02))
    assert row["verdict"] == "undecided"
    assert row["reason"].startswith("gears 5 and 6 cannot be told apart yet")


def test_ratio_outside_the_ladder_fails_the_count() -> None:
    """A tenth gear was ridden that the sheet does not list."""
    row = verdict(
        {"quantity": "gears", "value": 9.0}, ridden.measured(ridden.numbered() | {10: 3.6})
    )
    assert row["verdict"] == "fails"
    assert row["reason"] == "a ratio was ridden that is not on the published ladder: 3.6"


def test_more_gears_claimed_than_the_ladder_has() -> None:
    """Every published gear was ridden: there are no more to find."""
    row = verdict({"quantity": "gears", "value": 12.0})
    assert row["verdict"] == "fails"
    assert "which makes 9 distinct ratios" in row["reason"]


def test_gears_that_nobody_rode_are_not_said_to_be_ridden() -> None:
    """Twelve claimed, nine published, seven ridden: at most nine, and the reason says which."""
    row = verdict(COUNT | {"value": 12.0}, ridden.measured(ridden.numbered(ridden.NINE[:7])))
    assert row["verdict"] == "fails"
    assert row["reason"] == (
        "even with gears 8 and 9, which nobody rode, there are at most 9 distinct ratios"
    )


@pytest.mark.parametrize(
    ("stranger", "word"),
    [
        (0.94, "fails"),  # between gears 3 and 4, 10 % from either
        (1.04 * 1.03, "fails"),  # 1.5 % and two errors of 0.5 % away from gear 4
        (1.04 * 1.018, "undecided"),  # may be as near as two settings that share a gear
        (1.04 * 1.002, "holds"),  # gear 4 once more
    ],
)
def test_stranger_counts_by_its_distance_from_every_gear(stranger: float, word: str) -> None:
    """All nine gears ridden, and a tenth ratio that the sheet does not have."""
    row = verdict(COUNT, ridden.measured(ridden.numbered() | {10: stranger}))
    assert row["verdict"] == word
    assert (f"{stranger:.3g}" in row["reason"]) == (word != "holds")


def test_one_stranger_is_enough() -> None:
    """Three gears and a fourth ratio between two of them: no count of nine can save the sheet."""
    row = verdict(COUNT, ridden.measured({4: 1.04, 5: 1.28, 6: 1.58, 10: 1.43}))
    assert (row["verdict"], row["measured"]) == ("fails", 4.0)


@pytest.mark.parametrize(("merge_within", "word"), [(0.015, "holds"), (0.03, "fails")])
def test_gears_are_one_as_close_as_the_campaign_says(merge_within: float, word: str) -> None:
    """Gear 6 measured 2.3 % above gear 5, exactly."""
    ratios = ridden.numbered() | {6: 1.28 * 1.023}
    gears = ridden.measured(ratios, error=0.001)
    assert verdict(COUNT, gears, merge_within=merge_within)["verdict"] == word


@pytest.mark.parametrize(("second", "word"), [(1.010, "holds"), (1.002, "fails")])
def test_gears_published_closer_than_that_are_two_if_built_so(second: float, word: str) -> None:
    """A lever's two settings 1 % apart are published as two gears; 0.2 % apart they are one."""
    published = (1.0, 1.01, 1.3)
    row = verdict(
        COUNT | {"value": 3.0},
        ridden.measured({1: 1.0, 2: second, 3: 1.3}, error=0.0005, published=published),
        ladder=ridden.published(published),
    )
    assert row["verdict"] == word
