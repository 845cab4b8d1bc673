"""The number of gears from steady stretches: right, and as sure as it is said to be."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal
from sklearn.mixture import GaussianMixture

from ridelab.gears import gear_mixture
from ridelab.gears.counting import Count, count_gears, doubt
from ridelab.gears.stretches import Stretches, pooled

if TYPE_CHECKING:
    from ridelab.gears.observations import Floats


def counted(found: Count | None) -> Count:
    """Return a count that is there."""
    assert found is not None
    return found


def ridden(
    centres: Floats, seed: int, rounds: int = 6, speed_error: float = 0.0, pieces: int = 1
) -> Stretches:
    """Return stretches of 12 s, each gear held ``rounds`` times, some ``pieces`` in each hold.

    They scatter by 0.3 %, and by ``speed_error`` in the lowest gear, less in higher ones: an error
    of the speed, which is what it is for a whole hold.
    """
    rng = np.random.default_rng(seed)
    order = np.concatenate([rng.permutation(len(centres)) for _ in range(rounds)])
    wander = speed_error * np.exp(centres[0] - centres)[order]
    held = centres[order] + wander * rng.standard_normal(len(order))
    y = np.repeat(held, pieces) + 0.003 * rng.standard_normal(len(order) * pieces)
    sd = np.repeat(np.hypot(0.002, wander), pieces)
    return Stretches(y, sd, np.full(len(y), 12.0), np.repeat(np.arange(len(order)), pieces))


def ladder(steps: list[float]) -> Floats:
    """Return ln(development) of gears with these steps, the lowest at 2 m."""
    return np.asarray(np.log(2.0) + np.concatenate([[0.0], np.cumsum(np.log1p(steps))]))


@settings(max_examples=40, deadline=None)
@given(
    steps=st.lists(st.floats(0.06, 0.35), min_size=0, max_size=12),
    seed=st.integers(0, 10_000),
    pieces=st.integers(1, 3),
)
def test_clear_gears_are_counted(steps: list[float], seed: int, pieces: int) -> None:
    """Whatever the steps, from 6 % up: as many gears as were ridden, each where it was held.

    That is the mean of its own stretches, within the scatter of one of them: how far that mean is
    off the gear is a matter of luck, of which a search over seeds finds any amount.
    """
    centres = ladder(steps)
    made = ridden(centres, seed, pieces=pieces)
    found = counted(count_gears(made))
    assert len(found.centres) == len(centres)
    own = np.argmin(np.abs(made.ln_development[:, None] - centres), axis=1)
    means = [made.ln_development[own == gear].mean() for gear in range(len(centres))]
    np.testing.assert_allclose(found.centres, means, atol=0.003)


def test_centres_are_scikit_learns() -> None:
    """On well separated centres both agree within their standard error (ours has longer tails)."""
    centres = ladder([0.13] * 7)
    made = ridden(centres, 3, rounds=40)
    ours = counted(count_gears(made)).centres
    peer = GaussianMixture(8, means_init=centres[:, None], random_state=0)
    theirs = np.sort(peer.fit(made.ln_development[:, None]).means_[:, 0])
    np.testing.assert_allclose(ours, theirs, atol=np.hypot(0.003, 0.002) / np.sqrt(40))


def test_an_error_of_the_speed_makes_no_gears() -> None:
    """Holds of the lowest gears stray by 3 % each, those of the highest by 0.5 %: 14 gears."""
    centres = ladder([0.136] * 13)
    right = [
        len(counted(count_gears(ridden(centres, seed, 8, 0.03, pieces=3))).centres) == 14
        for seed in range(30)
    ]
    assert np.mean(right) > 0.9


def test_the_probability_is_how_often_the_count_is_right() -> None:
    """Noise of 1.8 to 2.5 % for steps of 11 %: right at least as often as stated, and not far off.

    Of 120 ladders; the standard error of the share that is right is at most 4.6 %.
    """
    stated, right = [], []
    for seed in range(120):
        error = 0.018 + 0.007 * (seed % 4) / 3.0
        centres = ladder([0.11] * (5 + seed % 5))
        made = ridden(centres, seed, 4, 0.0)
        noisy = made.ln_development + error * np.random.default_rng(seed).standard_normal(len(made))
        made = Stretches(noisy, np.full(len(made), error), made.seconds, made.hold)
        found = counted(count_gears(made))
        stated.append(found.probabilities[len(found.centres)])
        right.append(len(found.centres) == len(centres))
    assert 0.4 < np.mean(right) < 0.95
    assert np.mean(right) - 0.25 < np.mean(stated) < np.mean(right) + 0.05


@pytest.mark.parametrize(("apart", "least", "most"), [(0.02, 0.0, 0.1), (0.06, 0.9, 1.0)])
def test_two_gears_are_told_apart_once_they_are_further_apart_than_they_scatter(
    apart: float, least: float, most: float
) -> None:
    """A scatter of 1 %: 2 % apart they count as one, 6 % apart as two, surely."""
    for seed in range(4):
        assert least <= of_two(apart, seed) <= most


def test_two_gears_in_between_are_in_doubt() -> None:
    """3.7 % apart with a scatter of 1 %: neither one gear nor two is sure."""
    assert 0.2 < np.mean([of_two(0.037, seed) for seed in range(8)]) < 0.8


def test_a_gear_ridden_for_hours_stays_one() -> None:
    """Two thousand holds that scatter otherwise than the mixture has it, skewed by 0.8 %."""
    rng = np.random.default_rng(5)
    skewed = 0.008 * (rng.exponential(1.0, 2000) - 1.0)
    y = np.concatenate([1.0 + skewed, 1.12 + 0.004 * rng.standard_normal(40)])
    made = Stretches(y, np.full(2040, 0.003), np.full(2040, 12.0), np.arange(2040))
    assert len(counted(count_gears(made)).centres) == 2


def of_two(apart: float, seed: int) -> float:
    """Return the probability of two gears, each held 12 times, that scatter by 1 %."""
    rng = np.random.default_rng(seed)
    y = np.concatenate([rng.normal(1.0, 0.01, 12), rng.normal(1.0 + apart, 0.01, 12)])
    made = Stretches(y, np.full(24, 0.008), np.full(24, 12.0), np.arange(24))
    return counted(count_gears(made)).probabilities.get(2, 0.0)


def test_soft_pedalling_is_no_gear() -> None:
    """Brief holds above the gear before and after, at one place by chance: not another gear."""
    gears = ladder([0.15] * 3)
    y, seconds = [], []
    for turn in range(24):
        y += [gears[turn % 4], gears[turn % 4] + (0.28 if turn % 4 == 3 and turn < 12 else 0.45)]
        seconds += [30.0, 5.0 if turn % 4 == 3 else 0.001]
    keep = np.array(seconds) > 1.0
    made = Stretches(np.array(y), np.full(48, 0.003), np.array(seconds), np.arange(48))
    found = counted(count_gears(made.where(keep)))
    assert len(found.centres) == 4
    held = counted(
        count_gears(Stretches(made.ln_development, made.sd, np.full(48, 30.0), made.hold))
    )
    assert len(held.centres) > 4


def test_a_gear_ridden_for_less_than_ten_seconds_is_not_counted() -> None:
    """The contract of measured gears: ten seconds at least."""
    made = ridden(ladder([0.2, 0.2]), 1)
    once = np.flatnonzero(made.ln_development > np.log(2.7))
    brief = made.seconds.copy()
    brief[once] = 9.0 / len(once)
    found = counted(count_gears(Stretches(made.ln_development, made.sd, brief, made.hold)))
    assert len(found.centres) == 2


@pytest.mark.parametrize("seed", range(3))
def test_the_order_of_rides_does_not_matter(seed: int) -> None:
    """The same rides in another order: the same gears, as surely."""
    rides = [ridden(ladder([0.12] * 9), 10 * seed + n, 4, 0.02) for n in range(3)]
    one, two = (counted(count_gears(pooled(order))) for order in (rides, rides[::-1]))
    np.testing.assert_allclose(one.centres, two.centres, atol=1e-9)
    assert one.probabilities[10] == pytest.approx(two.probabilities[10], abs=1e-9)


def test_a_doubtful_count_says_what_else_is_possible() -> None:
    """Other counts from 5 % on are named, in order; one that is sure says nothing."""
    said = doubt(12, {12: 0.62, 13: 0.2, 11: 0.15, 14: 0.03})
    assert said is not None
    assert "12 found (probability 62%), 11 or 13 possible, too" in said
    assert doubt(12, {12: 0.97, 13: 0.03}) is None
    assert doubt(11, {12: 0.97, 13: 0.03}) is not None


def test_the_prior_of_a_ladder_is_a_normal_distribution_of_log_steps() -> None:
    """Equal to scipy's multivariate normal density, with the mean's doubt as common covariance."""
    centres = ladder([0.1, 0.14, 0.12, 0.3])
    log_steps = np.log([b - a for a, b in pairwise(centres)])
    expected = sum(
        share
        * multivariate_normal(
            np.full(4, gear_mixture.STEP), sd**2 * np.eye(4) + gear_mixture.STEP_SD**2
        ).pdf(log_steps)
        for sd, share in zip(gear_mixture.ALIKE_SD, gear_mixture.ALIKE_SHARE, strict=True)
    )
    told = gear_mixture.ladder_belief(centres)
    assert told == pytest.approx(np.log(expected) - log_steps.sum())


def test_nothing_steady_is_no_gear() -> None:
    """Without any stretch, or with brief ones all over the place, there is nothing to count."""
    empty = Stretches(np.empty(0), np.empty(0), np.empty(0), np.empty(0, dtype=np.int64))
    assert count_gears(empty) is None
