"""Intervals of the extreme steps of a ladder, against simulation with numpy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from ridelab.analysis.estimates import Estimate, estimate
from ridelab.analysis.evidence import Evidence
from ridelab.campaign import Claim
from tests.analysis.ridden import known

if TYPE_CHECKING:
    from ridelab.gears.result import Interval


@pytest.mark.parametrize("which", ["largest", "smallest"])
def test_extreme_step_of_an_even_ladder_is_covered(which: str) -> None:
    """2,000 simulated measurements of 14 even gears: the true step lies inside in 95 % or more.

    Picking the largest of 13 noisy steps errs upwards; without sharing the error among them the
    lower limit would lie above the truth in 28 % of cases (1 - 0.975^13).
    """
    draw = np.random.default_rng(11)
    step, sd, times = 0.136, 0.003, 2000
    claim = Claim("c1", "hub", "step", step, 0.1, "13.6 %", which=which)  # type: ignore[arg-type]
    inside = 0
    for errors in draw.normal(0, sd, (times, 14)):
        ratios = {
            n: known((1 + step) ** n * np.exp(error), sd) for n, error in enumerate(errors, 1)
        }
        answer = estimate(claim, whole(ratios))
        assert isinstance(answer, Estimate)
        inside += answer.measured.low <= step <= answer.measured.high
    assert inside / times >= 0.95


def whole(ratios: dict[int, Interval]) -> Evidence:
    """A vehicle with every gear measured."""
    return Evidence(
        vehicle="heron",
        drivetrain="hub",
        published={gear: ratio.value for gear, ratio in ratios.items()},
        ratios=ratios,
        developments={},
        strangers={},
        wheel=None,
        range=None,
    )
