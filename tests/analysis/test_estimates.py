"""Intervals of the extreme steps of a ladder, against simulation with numpy."""

from __future__ import annotations

from itertools import pairwise
from statistics import NormalDist

import numpy as np
import pytest

from ridelab.analysis.estimates import Estimate, estimate
from ridelab.analysis.evidence import Evidence, Step
from ridelab.campaign import Claim
from ridelab.gears.result import Interval
from tests.analysis.ridden import Z, known

GEARS, STEP, SD = 14, 0.136, 0.003


@pytest.mark.parametrize("which", ["largest", "smallest"])
def test_extreme_step_of_an_even_ladder_is_covered(which: str) -> None:
    """2,000 simulated measurements of 14 even gears: the true step lies inside in 95 % or more.

    Picking the largest of 13 noisy steps errs upwards; without sharing the error among them the
    lower limit would lie above the truth in 28 % of cases (1 - 0.975^13).
    """
    draw = np.random.default_rng(11)
    times = 2000
    claim = Claim("c1", "hub", "step", STEP, 0.1, "13.6 %", which=which)  # type: ignore[arg-type]
    inside = 0
    for errors in draw.normal(0, SD, (times, GEARS)):
        answer = estimate(claim, whole(dict(enumerate(errors, 1))))
        assert isinstance(answer, Estimate)
        inside += answer.measured.low <= STEP <= answer.measured.high
    assert inside / times >= 0.95


def whole(errors: dict[int, float]) -> Evidence:
    """An evenly stepped vehicle with every gear measured apart, with these errors of ln(ratio)."""
    steps = {
        (below, above): Step(
            _step(errors[above] - errors[below], Z),
            _step(errors[above] - errors[below], -NormalDist().inv_cdf(0.025 / (GEARS - 1))),
        )
        for below, above in pairwise(errors)
    }
    return Evidence(
        vehicle="heron",
        drivetrain="hub",
        published={gear: (1 + STEP) ** gear for gear in errors},
        ratios={gear: known((1 + STEP) ** gear * np.exp(off), SD) for gear, off in errors.items()},
        developments={},
        steps=steps,
        strangers={},
        wheel=None,
        range=None,
    )


def _step(error: float, quantile: float) -> Interval:
    half = quantile * np.sqrt(2.0) * SD
    value, low, high = (float((1 + STEP) * np.exp(error + off) - 1) for off in (0.0, -half, half))
    return Interval(value, low, high)
