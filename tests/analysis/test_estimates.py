"""Intervals of quotients and steps, against simulation with numpy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.analysis.estimates import Estimate, estimate, quotient
from ridelab.analysis.evidence import Evidence
from ridelab.campaign import Claim
from ridelab.gears.result import Interval

Z = 1.959964  # two-sided 95 % of the normal distribution, any statistics table


def known(value: float, sd: float) -> Interval:
    """The 95 % interval of a value whose logarithm has a normal error."""
    return Interval(value, value * np.exp(-Z * sd), value * np.exp(Z * sd))


def test_quotient_has_the_spread_of_simulated_quotients() -> None:
    """Quantiles of 400,000 simulated quotients (numpy) as the reference, to 1 % of the width."""
    draw = np.random.default_rng(5)
    above = 1.28 * np.exp(draw.normal(0, 0.004, 400_000))
    below = 1.04 * np.exp(draw.normal(0, 0.007, 400_000))
    low, high = np.quantile(above / below, [0.025, 0.975])
    found = quotient(known(1.28, 0.004), known(1.04, 0.007))
    assert found.value == pytest.approx(1.28 / 1.04)
    assert found.low == pytest.approx(low, abs=0.01 * (high - low))
    assert found.high == pytest.approx(high, abs=0.01 * (high - low))


@given(value=st.floats(0.3, 5), down=st.floats(0.0001, 0.1), up=st.floats(0.0001, 0.1))
def test_quotient_by_an_exact_value_keeps_a_lopsided_interval(
    value: float, down: float, up: float
) -> None:
    """An interval need not be symmetric; dividing by an exact 2 halves its three figures."""
    lopsided = Interval(value, value * (1 - down), value * (1 + up))
    found = quotient(lopsided, Interval(2.0, 2.0, 2.0))
    assert (found.value, found.low, found.high) == pytest.approx(
        (value / 2, lopsided.low / 2, lopsided.high / 2)
    )


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
        published=tuple(ratios),
        ratios=ratios,
        developments={},
        outside=(),
        rollout_off=None,
        range=None,
        complete=False,
    )
