"""Sums, figures and their intervals, by hand and by drawing rides at random."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from ridelab.analysis.replay.comfort import Band
from ridelab.analysis.replay.gearing import Gearing
from ridelab.analysis.replay.tally import SUMS, Tally, alike, gear_seconds, ride_sums

THREE = Gearing("three", (1, 2, 3), ("1", "2", "3"), (2.0, 4.0, 6.0))
BAND = Band(60.0, 90.0)


def tally(**sums: list[float]) -> Tally:
    """A tally of these sums, one value a ride; what is not given is 0."""
    count = len(next(iter(sums.values())))
    rows = np.stack([np.array(sums.get(name, [0.0] * count)) for name in SUMS], axis=1)
    return Tally(THREE, "looking ahead", "speed as ridden", rows, np.zeros((count, 3)))


def test_sums_of_a_ride_by_hand() -> None:
    """50 rpm in the lowest gear, 75 in the middle one, 100 in the middle and in the highest."""
    cadence = np.log(np.array([50.0, 75.0, 100.0, 100.0]))[:, None]
    places = np.array([0, 1, 1, 2])[:, None]
    sums = ride_sums(cadence, np.array([1.0, 2.0, 3.0, 4.0])[:, None], places, THREE, BAND)
    found = {name: float(value[0]) for name, value in sums.items()}
    assert (found["seconds"], found["below_s"], found["above_s"]) == (10.0, 1.0, 7.0)
    assert (found["bottom_s"], found["top_s"]) == (1.0, 4.0)
    spent = gear_seconds(places, np.array([1.0, 2.0, 3.0, 4.0])[:, None], 3)
    assert spent.tolist() == [[1.0, 5.0, 4.0]]


def test_one_ride_gives_no_interval() -> None:
    """Nobody knows from one ride how much rides differ."""
    found = tally(seconds=[100.0], below_s=[5.0]).estimate("below")
    assert (found.value, found.low, found.high) == (0.05, None, None)


def test_interval_of_rides_alike_in_length_is_students() -> None:
    """With equal seconds the share is a mean: scipy's t interval of the shares of the rides."""
    shares = [0.02, 0.05, 0.03, 0.08]
    found = tally(seconds=[100.0] * 4, below_s=[100 * one for one in shares]).estimate("below")
    low, high = stats.t.interval(0.95, 3, np.mean(shares), stats.sem(shares))
    assert (found.low, found.high) == pytest.approx((max(0.0, float(low)), float(high)))


def test_interval_holds_the_truth_nineteen_times_in_twenty() -> None:
    """500 times eight rides of unequal length, each with a share of its own around 10 %."""
    random, held = np.random.default_rng(7), 0
    for _ in range(500):
        seconds = random.uniform(1000.0, 7000.0, 8)
        shares = random.normal(0.1, 0.03, 8)
        found = tally(seconds=list(seconds), above_s=list(shares * seconds)).estimate("above")
        assert found.low is not None
        assert found.high is not None
        held += found.low <= 0.1 <= found.high
    assert 0.92 <= held / 500 <= 0.985


def test_what_rides_have_in_common_cancels_in_a_difference() -> None:
    """Shares from 2 to 20 %, always one point apart: a difference of one point, exactly."""
    shares = np.array([0.02, 0.2, 0.1, 0.07])
    one, other = (
        tally(seconds=[100.0] * 4, below_s=list(100 * (shares + more))) for more in (0.01, 0.0)
    )
    found = one.minus(other, "below")
    assert (found.value, found.low, found.high) == pytest.approx((0.01, 0.01, 0.01))


def test_tallies_are_alike_as_far_as_gears_have_the_same_share() -> None:
    """40:60:0 beside 20:50:30 share 20 and 50 of 100."""
    one, other = (
        Tally(THREE, "by habit", "speed as ridden", np.zeros((1, len(SUMS))), np.array([spent]))
        for spent in ([4.0, 6.0, 0.0], [20.0, 50.0, 30.0])
    )
    assert alike(one, other) == pytest.approx(0.7)


def test_gears_that_nobody_can_tell_apart_are_one() -> None:
    """4.00 and 4.12 m are 3 % apart: to have driven one or the other is the same."""
    close = Gearing("close", (1, 2, 3), ("1", "2", "3"), (2.0, 4.0, 4.12))
    one, other = (
        Tally(close, "by habit", "speed as ridden", np.zeros((1, len(SUMS))), np.array([spent]))
        for spent in ([0.0, 5.0, 0.0], [0.0, 0.0, 5.0])
    )
    assert alike(one, other) == 1.0
