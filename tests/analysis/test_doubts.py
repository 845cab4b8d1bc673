"""Doubts about which gears were ridden reach the verdicts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.analysis import ridden
from tests.analysis.ridden import verdict

if TYPE_CHECKING:
    import polars as pl

RANGE = {"quantity": "range", "value": 5.4}
MEAN = {"quantity": "step", "value": (2.97 / 0.55) ** (1 / 8) - 1}
LARGEST = {"quantity": "step", "value": 0.68 / 0.55 - 1, "which": "largest", "tolerance": 0.1}
COUNT = {"quantity": "gears", "value": 9.0}
OF_THE_LADDER = [RANGE, MEAN, LARGEST, COUNT]
OF_ONE_GEAR = [
    {"quantity": "ratio", "value": 1.04, "gear": "4"},
    {"quantity": "development", "value": 1.56, "gear": "4"},
    {"quantity": "speed", "value": 1.56, "gear": "4", "at_cadence_rpm": 60.0},
    {"quantity": "step", "value": 0.238, "gear": "4", "tolerance": 0.05},
]
#: Seven of nine gears, so that the ladder has room to slide.
SEVEN = ridden.measured(ridden.numbered(ridden.NINE[:7]))


def unsure(probability: float, **known: float | bool) -> pl.DataFrame:
    """A vehicle whose ladder sits where it was placed with this probability."""
    return ridden.vehicles("heron", placement_probability=probability, **known)


@pytest.mark.parametrize("claim", [*OF_ONE_GEAR, *OF_THE_LADDER])
def test_no_doubt_no_objection(claim: dict[str, Any]) -> None:
    """Each of these claims holds where nothing is in doubt, or nothing had to be placed."""
    assert verdict(claim, fleet=unsure(0.95))["verdict"] == "holds"
    fleet = ridden.vehicles("heron", placement_probability=None, unexplained_share=None)
    assert verdict(claim, fleet=fleet)["verdict"] == "holds"


@pytest.mark.parametrize("claim", OF_ONE_GEAR)
@pytest.mark.parametrize("factor", [1.0, 1.5])
def test_gear_that_may_be_its_neighbour_proves_nothing(
    claim: dict[str, Any], factor: float
) -> None:
    """Neither a true claim nor one that is half as much again."""
    row = verdict(claim | {"value": factor * claim["value"]}, SEVEN, fleet=unsure(0.94))
    assert row["verdict"] == "undecided"
    assert row["reason"] == (
        "the ladder may sit one gear higher or lower (probability 6 %): ride the end gears"
    )


def test_nominal_rollout_is_part_of_the_cure() -> None:
    """Measuring it settles where an even ladder sits; asked only of those who have not."""
    claim = OF_ONE_GEAR[0]
    row = verdict(claim, SEVEN, fleet=unsure(0.7, rollout_is_measured=False))
    assert row["reason"].endswith("state a measured rollout_m or ride the end gears")


@pytest.mark.parametrize("claim", OF_THE_LADDER)
def test_ends_of_a_ladder_that_may_slide_are_not_known(claim: dict[str, Any]) -> None:
    """Seven gears of nine may be the lowest seven or not; all nine have nowhere else to sit."""
    low = claim | {"value": 0.5 * claim["value"]}
    row = verdict(low, SEVEN, ridden.measured_range(1.95 / 0.55), fleet=unsure(0.7))
    assert row["verdict"] == "undecided"
    assert "one gear higher or lower" in row["reason"]
    assert verdict(claim, fleet=unsure(0.7))["verdict"] == "holds"


@pytest.mark.parametrize("claim", [*OF_ONE_GEAR, *OF_THE_LADDER])
@pytest.mark.parametrize("factor", [0.5, 1.0])
def test_riding_that_fits_no_gear_judges_nothing(claim: dict[str, Any], factor: float) -> None:
    """A third of it elsewhere is another drivetrain; a quarter is taken for bad habits."""
    claim = claim | {"value": factor * claim["value"]}
    row = verdict(claim, fleet=ridden.vehicles("heron", unexplained_share=0.33))
    assert row["verdict"] == "undecided"
    assert row["reason"].startswith("33 % of the steady pedalling fits no published gear")
    fits = verdict(claim, fleet=ridden.vehicles("heron", unexplained_share=0.25))
    assert fits["verdict"] in {"holds", "fails"}


@pytest.mark.parametrize("claim", [*OF_ONE_GEAR, *OF_THE_LADDER])
def test_ratio_without_steps_judges_no_gears(claim: dict[str, Any]) -> None:
    """Nine gears published, a stepless range of 800 % ridden: nothing is said of either."""
    row = verdict(
        claim,
        ridden.measured({}),
        ridden.measured_range(8.0),
        fleet=ridden.vehicles(
            "heron", stepless=True, placement_probability=None, unexplained_share=None
        ),
    )
    assert row["verdict"] == "undecided"
    assert row["reason"].startswith("the ratio varies without steps, though gears are published")


def test_tenth_gear_fails_the_count_whatever_else_is_in_doubt() -> None:
    """Unless it may be the ninth of a ladder that slid."""
    all_nine = ridden.measured(ridden.numbered() | {10: 3.6})
    fleet = unsure(0.7, unexplained_share=0.33)
    assert verdict(COUNT, all_nine, fleet=fleet)["verdict"] == "fails"
    some = ridden.measured(ridden.numbered(ridden.NINE[:7]) | {10: 3.6})
    assert verdict(COUNT, some, fleet=fleet)["verdict"] == "undecided"
    placed = ridden.vehicles("heron", unexplained_share=0.33)
    assert verdict(COUNT, some, fleet=placed)["verdict"] == "fails"


@pytest.mark.parametrize(
    ("stranger", "open_claims"), [(3.6, [RANGE, MEAN, LARGEST]), (1.15, [MEAN, LARGEST])]
)
def test_gear_off_the_ladder_leaves_open_what_it_would_change(
    stranger: float, open_claims: list[dict[str, Any]]
) -> None:
    """A gear above the highest makes the range longer, one between two only the steps smaller."""
    gears = ridden.measured(ridden.numbered() | {10: stranger})
    for claim in (RANGE, MEAN, LARGEST):
        row = verdict(claim, gears)
        assert row["verdict"] == ("undecided" if claim in open_claims else "holds")
        assert (f"{stranger:.3g}" in row["reason"]) == (claim in open_claims)


def test_untestable_stays_untestable() -> None:
    """No doubt makes a step below the lowest gear a matter of riding."""
    row = verdict({"quantity": "step", "value": 0.2, "gear": "1"}, fleet=unsure(0.5))
    assert row["verdict"] == "untestable"
