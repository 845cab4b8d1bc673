"""Decoding: the recursion against enumeration, and the one-sidedness of the freewheel."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import linalg, stats

from ridelab.gears.decode import (
    Habits,
    Transitions,
    _above,
    _exponentials,
    _forward_backward,
    _shift_rates,
    decode,
)
from ridelab.gears.observations import Observations, observe
from tests.gears.riding import COAST, EVEN_14, ride

DEVELOPMENTS = np.log(2.1 * np.array(EVEN_14))


def observed(schedule: list[tuple[int, int]]) -> Observations:
    """Return observations of a ride on the even 14-speed ladder."""
    seen = observe(ride(schedule, EVEN_14))
    assert isinstance(seen, Observations)
    return seen


@settings(max_examples=30)
@given(st.integers(0, 2**32 - 1))
def test_posterior_equals_enumeration(seed: int) -> None:
    """Over all 4^5 paths of a short chain, summed by hand, the marginals are the same.

    Two modes and two gears that change independently make four states.
    """
    rng = np.random.default_rng(seed)
    emission = rng.uniform(0.05, 1.0, (5, 4))
    modes, gears = rng.dirichlet(np.ones(2), (2, 2, 2))
    matrices = np.array([np.kron(m, g) for m, g in zip(modes, gears, strict=True)])
    step_of = rng.integers(0, 2, 5)
    expected = np.zeros((5, 4))
    for path in product(range(4), repeat=5):
        weight = emission[0, path[0]]
        for i in range(1, 5):
            weight *= matrices[step_of[i], path[i - 1], path[i]] * emission[i, path[i]]
        for i, state in enumerate(path):
            expected[i, state] += weight
    log_likelihood = float(np.log(expected[0].sum() / 4))
    expected /= expected.sum(axis=1, keepdims=True)
    transitions = Transitions(step_of.tolist(), list(modes), list(gears))
    found, likelihood = _forward_backward(emission.reshape(5, 2, 2), transitions)
    np.testing.assert_allclose(found.reshape(5, 4), expected, rtol=1e-9)
    assert likelihood == pytest.approx(log_likelihood, rel=1e-9)


def test_long_rides_do_not_underflow() -> None:
    """Ten thousand samples that fit no gear well leave probabilities, not nothing."""
    emission = np.full((10_000, 3, 2), 1e-9)
    emission[::2, 0, 0] = 1.0
    half = np.full((2, 2), 0.5)
    found, likelihood = _forward_backward(emission, Transitions([0] * 10_000, [np.eye(3)], [half]))
    assert np.isfinite(likelihood)
    assert np.isfinite(found).all()
    np.testing.assert_allclose(found.sum(axis=(1, 2)), 1.0)


def test_rates_out_of_a_state_are_the_habits() -> None:
    """Every gear is left at the rate stated, for a near one sooner than for a far one."""
    rates = _shift_rates(DEVELOPMENTS, Habits())
    np.testing.assert_allclose(rates.sum(axis=1), 0.0, atol=1e-12)
    np.testing.assert_allclose(-np.diag(rates), Habits().shift_hz)
    assert rates[6, 7] > rates[6, 9] > rates[6, 13]


def test_transitions_are_scipys_matrix_exponentials() -> None:
    """For no time, a second and a minute, and for gears as for modes."""
    rates = _shift_rates(DEVELOPMENTS, Habits())
    for ticks, found in zip(
        (0, 10, 600), _exponentials(rates, np.array([0, 10, 600])), strict=True
    ):
        np.testing.assert_allclose(found, linalg.expm(rates * ticks / 10.0), atol=1e-12)


@pytest.mark.parametrize("sigma", [0.002, 0.01, 0.05])
def test_excess_density_is_scipys(sigma: float) -> None:
    """The exponentially modified normal density equals scipy.stats.exponnorm's."""
    excess = np.linspace(-4 * sigma, 1.5, 400)
    expected = stats.exponnorm(K=0.25 / sigma, scale=sigma).pdf(excess)
    ours = _above(excess, np.full_like(excess, sigma), 0.25)
    np.testing.assert_allclose(ours, expected, rtol=1e-6, atol=1e-9)


def test_gears_are_named_and_shifts_placed() -> None:
    """On a clean ride every sample two seconds away from a shift has its true gear."""
    schedule = [(5, 60), (6, 60), (9, 60), (3, 60)]
    decoded = decode(observed(schedule), DEVELOPMENTS)
    truth = np.repeat([4, 5, 8, 2], 60)
    away = np.ones(240, dtype=bool)
    for shift in (60, 120, 180):
        away[shift - 2 : shift + 2] = False
    assert (decoded.gear[away] == truth[away]).all()
    assert decoded.coupled[away].all()


def test_selected_gear_persists_while_coasting() -> None:
    """With the crank standing, the gear stays what it was and is decoupled."""
    decoded = decode(observed([(8, 60), (COAST, 15), (8, 60)]), DEVELOPMENTS)
    assert (decoded.gear == 7).all()
    assert not decoded.coupled[61:74].any()


def test_slow_pedalling_is_decoupled_not_a_higher_gear() -> None:
    """The crank turning too slowly for its wheel reads high and wanders: no gear drives it."""
    seen = observed([(8, 180)])
    rng = np.random.default_rng(2)
    seen.ln_development[80:100] += rng.uniform(0.1, 0.5, 20)
    decoded = decode(seen, DEVELOPMENTS)
    driven_elsewhere = decoded.coupled & (decoded.gear != 7)
    assert driven_elsewhere[80:100].sum() <= 1
    assert not driven_elsewhere[:80].any()
    assert not driven_elsewhere[100:].any()


def test_development_below_a_gear_is_never_its_decoupled_riding() -> None:
    """A crank cannot overrun its freewheel: steady riding below a gear is another gear."""
    seen = observed([(8, 90), (6, 12), (8, 90)])
    decoded = decode(seen, DEVELOPMENTS)
    assert (decoded.gear[92:100] == 5).all()
