"""The recursion: against enumeration, a plain loop, hmmlearn and scipy, however it is cut."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hmmlearn.hmm import GaussianHMM
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import linalg, stats

from ridelab.gears import sweep
from ridelab.gears.recursion import Transitions, _exponentials, forward_backward, transitions
from ridelab.gears.sweep import Sweep

if TYPE_CHECKING:
    from ridelab.gears.sweep import Floats, Indices


def made(
    seed: int, samples: int, modes: int, gears: int, steps: int
) -> tuple[Floats, Transitions, Floats]:
    """Return random likelihoods, transitions of as many kinds as ``steps``, and ``stay``.

    States are left seldom, and a fifth of the samples tell nothing: messages forget slowly.
    """
    rng = np.random.default_rng(seed)
    emission = rng.uniform(1e-3, 1.0, (samples, modes, gears)) ** 3
    emission[rng.random(samples) < 0.2] = 1.0
    same = 0.93 * np.eye(modes) + 0.03 * rng.dirichlet(np.ones(modes), (steps, modes))
    moved = 0.04 * rng.dirichlet(np.ones(modes), (steps, modes))
    where = rng.dirichlet(np.ones(gears), (steps, gears))
    moves = Transitions(rng.integers(0, steps, samples), same, moved, where)
    return emission, moves, rng.uniform(0.05, 5.0, (samples, gears))


def whole(moves: Transitions, at: int, stay: Floats | None) -> Floats:
    """Return the transition matrix of all states to one sample, the factor of staying in it."""
    step = moves.step_of[at]
    matrix = np.asarray(
        np.kron(moves.same[step], np.eye(moves.gears.shape[1]))
        + np.kron(moves.moved[step], moves.gears[step])
    )
    if stay is not None:
        own = np.arange(moves.gears.shape[1])
        matrix[own, own] *= stay[at]
    return matrix


def looped(
    emission: Floats, moves: Transitions, stay: Floats | None
) -> tuple[Floats, float, Floats]:
    """Return what ``forward_backward`` returns, sample by sample and scaled at each (Rabiner)."""
    samples, _, gears = emission.shape
    flat = emission.reshape(samples, -1)
    before = np.ones_like(flat) / flat.shape[1]
    after = np.ones_like(flat)
    log_likelihood = np.log((before[0] * flat[0]).sum())
    for i in range(1, samples):
        before[i] = (before[i - 1] * flat[i - 1]) @ whole(moves, i, stay)
        before[i] /= (before[i - 1] * flat[i - 1]).sum()
        log_likelihood += np.log((before[i] * flat[i]).sum())
    for i in range(samples - 2, -1, -1):
        after[i] = whole(moves, i + 1, stay) @ (after[i + 1] * flat[i + 1])
        after[i] /= after[i].sum()
    states = before * flat * after
    states /= states.sum(axis=1, keepdims=True)
    stayed = np.zeros((samples, gears))
    for i in range(1, samples):
        pair = np.outer(before[i - 1] * flat[i - 1], after[i] * flat[i]) * whole(moves, i, stay)
        stayed[i] = np.diag(pair)[:gears] / pair.sum()
    return states.reshape(emission.shape), float(log_likelihood), stayed


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_posterior_equals_enumeration(seed: int) -> None:
    """Over all 4^5 paths of a short chain, summed by hand, the marginals are the same.

    Two modes and two gears that change independently make four states.
    """
    emission, moves, stay = made(seed, 5, 2, 2, 2)
    flat = emission.reshape(5, 4)
    expected = np.zeros((5, 4))
    for path in product(range(4), repeat=5):
        weight = flat[0, path[0]]
        for i in range(1, 5):
            weight *= whole(moves, i, stay)[path[i - 1], path[i]] * flat[i, path[i]]
        for i, state in enumerate(path):
            expected[i, state] += weight
    found = forward_backward(emission, moves, stay)
    assert found.log_likelihood == pytest.approx(np.log(expected[0].sum() / 4), rel=1e-9)
    expected /= expected.sum(axis=1, keepdims=True)
    np.testing.assert_allclose(found.states.reshape(5, 4), expected, rtol=1e-9)


@settings(max_examples=60, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.integers(1, 150),
    st.integers(1, 3),
    st.integers(1, 5),
    st.integers(1, 3),
    st.integers(1, 40),
    st.booleans(),
)
def test_chunks_change_nothing(
    seed: int, samples: int, modes: int, gears: int, steps: int, chunks: int, staying: bool
) -> None:
    """However long the ride, and however it is cut, the result is the plain loop's."""
    emission, moves, stay = made(seed, samples, modes, gears, steps)
    states, log_likelihood, stayed = looped(emission, moves, stay if staying else None)
    found = forward_backward(emission, moves, stay if staying else None, chunks)
    np.testing.assert_allclose(found.states, states, rtol=1e-8)
    assert found.log_likelihood == pytest.approx(log_likelihood, rel=1e-9, abs=1e-9)
    if found.stayed is not None:
        np.testing.assert_allclose(found.stayed, stayed, rtol=1e-8)
    assert (found.stayed is not None) == staying


def test_no_factor_on_staying_is_a_factor_of_one() -> None:
    """Ones change nothing but that the probability of having stayed is told."""
    emission, moves, stay = made(3, 700, 3, 4, 2)
    plain, ones = forward_backward(emission, moves), forward_backward(emission, moves, stay**0)
    np.testing.assert_allclose(ones.states, plain.states, rtol=1e-12)
    assert ones.log_likelihood == pytest.approx(plain.log_likelihood, rel=1e-12)


def test_what_is_never_forgotten_takes_a_round_a_chunk() -> None:
    """Where no state is ever left, the one sample that tells decides for the whole ride."""
    emission = np.ones((900, 1, 3))
    emission[450, 0, 1] = 9.0
    alone = np.eye(1)[None]
    never = Transitions(np.zeros(900, dtype=np.intp), alone, 0.0 * alone, np.eye(3)[None])
    found = forward_backward(emission, never, chunks=30)
    np.testing.assert_allclose(found.states, np.tile([1 / 11, 9 / 11, 1 / 11], (900, 1, 1)))


def test_two_gears_that_no_sample_tells_apart_are_foretold(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Which of them it was is remembered for dozens of chunks, and yet known in a few rounds."""
    emission, moves, _ = made(5, 3600, 2, 3, 1)
    emission[:, :, 2] *= 0.01
    emission[200:, :, 1] = emission[200:, :, 0]
    same, moved = np.array([[0.5, 0.46], [0.46, 0.5]]), np.full((2, 2), 0.02)
    gears = np.array([[0.4, 0.2, 0.4], [0.2, 0.4, 0.4], [0.5, 0.5, 0.0]])
    moves = Transitions(moves.step_of, same[None], moved[None], gears[None])
    rounds: list[int] = []
    carried = Sweep._round

    def counted(self: Sweep, began: Floats, rows: Indices, fresh: bool = False) -> None:
        rounds.append(len(rows))
        carried(self, began, rows, fresh)

    monkeypatch.setattr(Sweep, "_round", counted)
    found = forward_backward(emission, moves, chunks=60)
    states, log_likelihood, _ = looped(emission, moves, None)
    np.testing.assert_allclose(found.states, states, rtol=1e-7, atol=1e-12)
    assert found.log_likelihood == pytest.approx(log_likelihood, rel=1e-12)
    assert len(rounds) <= 12
    with monkeypatch.context() as patch:
        patch.setattr(sweep, "MANY", 1000)
        rounds.clear()
        forward_backward(emission, moves, chunks=60)
        assert len(rounds) > 20


def test_posterior_is_hmmlearns() -> None:
    """One mode at a regular interval is hmmlearn's Gaussian hidden Markov model."""
    rng = np.random.default_rng(8)
    middles, sd = np.array([0.6, 0.75, 0.9, 1.05]), 0.06
    rates = 0.2 * (np.ones((4, 4)) - 4 * np.eye(4)) / 3
    t_s = np.arange(3000.0)
    moves = transitions(t_s, np.array([[-0.2]]), np.array([[0.2]]), rates, 20.0)
    peer = GaussianHMM(4, covariance_type="diag", init_params="")
    peer.startprob_, peer.transmat_ = np.full(4, 0.25), linalg.expm(rates)
    peer.means_, peer.covars_ = middles[:, None], np.full((4, 1), sd**2)
    y, _ = peer.sample(len(t_s), random_state=rng.integers(100))
    log_likelihood, expected = peer.score_samples(y)
    found = forward_backward(stats.norm.pdf(y[:, None], middles, sd), moves)
    np.testing.assert_allclose(found.states[:, 0], expected, rtol=1e-7, atol=1e-12)
    assert found.log_likelihood == pytest.approx(log_likelihood, rel=1e-10)


def test_long_rides_do_not_underflow() -> None:
    """Ten thousand samples that fit no gear well leave probabilities, not nothing."""
    emission = np.full((10_000, 3, 2), 1e-9)
    emission[::2, 0, 0] = 1.0
    half, still = np.full((1, 2, 2), 0.5), np.eye(3)[None]
    moves = Transitions(np.zeros(10_000, dtype=np.intp), 0.9 * still, 0.1 * still, half)
    found = forward_backward(emission, moves)
    assert np.isfinite(found.log_likelihood)
    np.testing.assert_allclose(found.states.sum(axis=(1, 2)), 1.0)


def test_impossible_observations_leave_probabilities() -> None:
    """Samples that contradict each other, or fit no state at all, are outlived."""
    emission, moves, stay = made(5, 600, 3, 4, 2)
    emission[100:110] = 0.0
    emission[200:210] = 0.0
    emission[200:210:2, 0, 0] = emission[201:210:2, 0, 3] = 1.0
    moves.gears[:], moves.moved[:] = np.eye(4), 0.04 * np.eye(3)
    found = forward_backward(emission, moves, stay)
    assert np.isfinite(found.log_likelihood)
    np.testing.assert_allclose(found.states.sum(axis=(1, 2)), 1.0)


def test_one_sample_of_one_gear_is_certain() -> None:
    """The least there can be: its likelihood, and no doubt."""
    alone = np.eye(1)[None]
    single = Transitions(np.zeros(1, dtype=np.intp), alone, 0.0 * alone, alone)
    found = forward_backward(np.full((1, 1, 1), 0.3), single, np.ones((1, 1)))
    assert found.states == pytest.approx(1.0)
    assert found.log_likelihood == pytest.approx(np.log(0.3))
    assert found.stayed == pytest.approx(0.0)


def test_transitions_are_scipys_matrix_exponentials() -> None:
    """For no time, a second and a minute."""
    rates = np.random.default_rng(4).uniform(0.0, 0.1, (6, 6))
    rates -= np.diag(rates.sum(axis=1))
    for ticks, found in zip(
        (0, 10, 600), _exponentials(rates, np.array([0, 10, 600])), strict=True
    ):
        np.testing.assert_allclose(found, linalg.expm(rates * ticks / 10.0), atol=1e-12)


def test_transitions_follow_the_silence_between_samples() -> None:
    """Samples after 1, 1, 4 and 500 s: the last counts as the longest silence.

    Where every gear is left at the rate at which modes shift, the whole is the exponential of the
    gears' generator, from scipy.
    """
    rates = np.array([[-0.2, 0.15, 0.05], [0.1, -0.2, 0.1], [0.0, 0.2, -0.2]])
    t_s = np.array([0.0, 1.0, 2.0, 6.0, 506.0])
    moves = transitions(t_s, np.array([[-0.2]]), np.array([[0.2]]), rates, 20.0)
    for at, silence in enumerate((1.0, 1.0, 4.0, 20.0), start=1):
        expected = linalg.expm(rates * silence)
        np.testing.assert_allclose(whole(moves, at, None), expected, atol=1e-12)


def test_modes_follow_their_generator_whatever_the_gears_do() -> None:
    """With and without a shift together, they are scipy's exponential of both rates."""
    rng = np.random.default_rng(9)
    quiet, shifting = rng.uniform(0.0, 0.3, (3, 3)), rng.uniform(0.0, 0.2, (3, 3))
    np.fill_diagonal(quiet, 0.0)
    quiet -= np.diag(quiet.sum(axis=1) + shifting.sum(axis=1))
    moves = transitions(np.array([0.0, 3.0]), quiet, shifting, np.zeros((1, 1)), 20.0)
    whole_of_it = moves.same[moves.step_of[1]] + moves.moved[moves.step_of[1]]
    np.testing.assert_allclose(whole_of_it, linalg.expm(3.0 * (quiet + shifting)), atol=1e-12)
    np.testing.assert_allclose(moves.same[moves.step_of[1]], linalg.expm(3.0 * quiet), atol=1e-12)
