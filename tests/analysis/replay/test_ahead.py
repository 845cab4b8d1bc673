"""The cheapest gears: against trying every way to shift, and against a greedy shifter."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from ridelab.analysis.replay.ahead import Price, best_gears, cost_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

PRICES = st.builds(Price, st.floats(0.0, 6.0), st.floats(0.0, 1.0))


@st.composite
def rides(draw: st.DrawFn, most: int) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Discomforts of some moments, rides and gears, and where a shift may be made."""
    shape = tuple(draw(st.integers(1, one)) for one in (most, 3, 4))
    costs = arrays.arrays(np.float64, shape, elements=st.integers(0, 9).map(float))
    return draw(costs), draw(arrays.arrays(np.bool_, shape[:2]))


@given(rides(most=5), PRICES)
def test_no_way_to_shift_is_cheaper(
    made: tuple[NDArray[np.float64], NDArray[np.bool_]], price: Price
) -> None:
    """Exhaustive search over all sequences of gears that may be shifted finds the same cost."""
    felt, may = made
    moments, count, gears = felt.shape
    _, costs = best_gears(felt, may, price)
    for ride in range(count):
        cheapest = min(
            float(cost_of(np.array(way)[:, None], felt[:, ride : ride + 1], price)[0])
            for way in product(range(gears), repeat=moments)
            if all(may[t, ride] or way[t] == way[t - 1] for t in range(1, moments))
        )
        assert costs[ride] == pytest.approx(cheapest, abs=1e-9)


@given(rides(most=40), PRICES)
def test_the_way_found_costs_what_is_said_and_shifts_only_where_it_may(
    made: tuple[NDArray[np.float64], NDArray[np.bool_]], price: Price
) -> None:
    """Added up apart, over the gears as they were chosen."""
    felt, may = made
    places, costs = best_gears(felt, may, price)
    assert cost_of(places, felt, price) == pytest.approx(costs, abs=1e-9)
    assert not (np.diff(places, axis=0) != 0)[~may[1:]].any()


@given(rides(most=40), PRICES)
def test_never_dearer_than_a_greedy_shifter(
    made: tuple[NDArray[np.float64], NDArray[np.bool_]], price: Price
) -> None:
    """Who takes the most comfortable gear wherever a shift may be made pays as much or more."""
    felt, may = made
    _, costs = best_gears(felt, may, price)
    greedy = felt.argmin(axis=2)
    for t in range(1, len(felt)):
        greedy[t] = np.where(may[t], greedy[t], greedy[t - 1])
    assert (costs <= cost_of(greedy, felt, price) + 1e-9).all()


def test_price_of_a_shift_by_hand() -> None:
    """3 for a neighbour, a fifth of it more for each gear beyond: 3.6 over two, 0 for none."""
    assert Price(3.0, 0.2).of(np.array([0, 1, -2])).tolist() == pytest.approx([0.0, 3.0, 3.6])
