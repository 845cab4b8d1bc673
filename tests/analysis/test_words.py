"""The words of a verdict."""

from __future__ import annotations

import pytest

from ridelab.analysis.words import allowed, gear_list, not_ridden, too_few, wrong_wheel
from ridelab.campaign import Claim


@pytest.mark.parametrize(
    ("gears", "text"),
    [
        ([14], "gear 14"),
        ([1, 14], "gears 1 and 14"),
        ([1, 2], "gears 1 and 2"),
        ([3, 4, 5], "gears 3 to 5"),
        ([9, 1, 3, 4, 5, 6], "gears 1, 3 to 6 and 9"),
    ],
)
def test_gears_are_named_as_people_would(gears: list[int], text: str) -> None:
    """Runs of three or more are drawn together."""
    assert gear_list(gears) == text


@pytest.mark.parametrize(
    ("tolerance", "text"), [(0.02, "2 %"), (0.0009506, "0.095 %"), (0.125, "12 %"), (1.0, "100 %")]
)
def test_tolerance_has_two_digits(tolerance: float, text: str) -> None:
    """A tolerance from half a digit has many more digits than it deserves."""
    assert allowed(Claim("c1", "nine", "range", 5.4, tolerance, "540 %")) == text


@pytest.mark.parametrize(("off", "text"), [(0.046, "4.6 % longer"), (-0.031, "3.1 % shorter")])
def test_wrong_wheel_says_by_how_much(off: float, text: str) -> None:
    """In a percentage, which needs no unit system."""
    assert text in wrong_wheel(off, measured=True)


def test_wheel_is_to_be_measured_again_where_it_was_measured() -> None:
    """Nobody is asked to do for the first time what is done."""
    assert "measure its rollout again" in wrong_wheel(0.046, measured=True)
    assert "measure its rollout," in wrong_wheel(0.046, measured=False)


def test_number_of_gears_agrees_with_the_verb() -> None:
    """One gear was, two were."""
    assert " was " in not_ridden([4])
    assert " were " in not_ridden([4, 5])


def test_how_fast_to_ride_is_said_in_the_units_of_the_campaign() -> None:
    """10 m/s are 36 km/h and 22.4 mph (a mile is 1609.344 m, NIST SP 811)."""
    assert not_ridden([4], 10.0).endswith("in it, above 36.0 km/h")
    assert not_ridden([4], 10.0, "imperial").endswith("in it, above 22.4 mph")


def test_too_few_gears_names_the_pairs() -> None:
    """Each pair that turned out as one, or that every gear was ridden."""
    assert too_few(7, [(1, 2), (5, 6)], []) == (
        "gears 1 and 2 turn out as one and gears 5 and 6 turn out as one, "
        "which leaves 7 distinct ratios"
    )
    assert too_few(1, [], []) == "every gear was ridden, which makes one distinct ratio"
    assert too_few(8, [(1, 2)], [9]) == (
        "gears 1 and 2 turn out as one, so that even with gear 9, which nobody rode, "
        "there are at most 8 distinct ratios"
    )
