"""Intervals of quotients, against simulation with numpy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.analysis.intervals import exactly, quotient
from ridelab.gears.result import Interval
from tests.analysis.ridden import known


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
    found = quotient(lopsided, exactly(2.0))
    assert (found.value, found.low, found.high) == pytest.approx(
        (value / 2, lopsided.low / 2, lopsided.high / 2)
    )
