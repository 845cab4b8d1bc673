"""The mixed model against general-purpose statistics, and its intervals against known truth."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats
import statsmodels.api as sm  # type: ignore[import-untyped]

from ridelab.analysis.losses.measured import half_width
from ridelab.analysis.losses.mixed import USUAL, fit

GEARS = 4


def spells(
    rides: int, each: int, ride_sd: float, seed: int, alike: bool = False
) -> tuple[
    np.ndarray[tuple[int], np.dtype[np.float64]],
    np.ndarray[tuple[int], np.dtype[np.float64]],
    np.ndarray[tuple[int], np.dtype[np.int64]],
    np.ndarray[tuple[int], np.dtype[np.int64]],
]:
    """ln(wheel / crank), seconds, gear and ride of spells; gear g loses 4 + g %."""
    rng = np.random.default_rng(seed)
    ride = np.repeat(np.arange(rides), each)
    gear = np.arange(rides * each) % GEARS
    seconds = np.full(len(gear), 30.0) if alike else rng.uniform(10, 60, len(gear))
    y = np.log(0.96 - 0.01 * gear) + ride_sd * rng.standard_normal(rides)[ride]
    y += 0.05 * rng.standard_normal(len(gear)) / np.sqrt(seconds)
    return y, seconds, gear, ride


@pytest.mark.parametrize("seed", range(4))
def test_spread_and_gears_are_those_of_statsmodels(seed: int) -> None:
    """MixedLM by restricted maximum likelihood, spells of one length, nothing believed before."""
    y, seconds, gear, ride = spells(rides=8, each=20, ride_sd=0.01, seed=seed, alike=True)
    found = fit(y, seconds, gear, ride, belief=None)
    assert found is not None
    percent = 100 * y  # MixedLM takes variances below some absolute size for none
    peer = sm.MixedLM(percent, np.eye(GEARS)[gear], groups=ride).fit(reml=True)
    assert found.effects == pytest.approx(peer.fe_params / 100, rel=1e-6)
    assert found.ride_sd == pytest.approx(float(peer.cov_re.item()) ** 0.5 / 100, rel=2e-3)
    assert found.spell_sd == pytest.approx((30.0 * peer.scale) ** 0.5 / 100, rel=1e-4)
    assert found.covariance == pytest.approx(peer.cov_params()[:GEARS, :GEARS] / 1e4, rel=5e-3)


def test_one_ride_is_weighted_least_squares() -> None:
    """What rides differ by drops out of how gears compare; statsmodels WLS has the same."""
    y, seconds, gear, ride = spells(rides=1, each=40, ride_sd=0.0, seed=5)
    found = fit(y, seconds, gear, ride)
    assert found is not None
    peer = sm.WLS(y, np.eye(GEARS)[gear], weights=seconds).fit()
    contrast = np.array([1.0, -1.0, 0.0, 0.0])
    difference = found.of(contrast)
    asked = peer.t_test(contrast)
    assert difference.value == pytest.approx(asked.effect.item())
    assert difference.sd == pytest.approx(asked.sd.item(), rel=1e-6)
    assert half_width(difference.sd, difference.freedom) == pytest.approx(
        difference.sd * scipy.stats.t.ppf(0.975, 36), rel=1e-4
    )


def test_one_ride_leaves_open_what_rides_differ_by() -> None:
    """The common level is uncertain by half a percent, as is believed, differences are not."""
    found = fit(*spells(rides=1, each=40, ride_sd=0.0, seed=6))
    assert found is not None
    assert found.of(np.full(GEARS, 1 / GEARS)).sd == pytest.approx(USUAL.ride_sd, rel=0.5)
    assert found.of(np.array([1.0, 0.0, 0.0, -1.0])).sd < 0.8 * USUAL.ride_sd


def test_too_few_spells_tell_no_spread() -> None:
    """As many unknowns as spells."""
    y, seconds, gear, ride = spells(rides=1, each=GEARS, ride_sd=0.0, seed=7)
    assert fit(y, seconds, gear, ride) is None


@pytest.mark.parametrize("rides", [1, 3, 8])
def test_intervals_hold_the_truth_as_often_as_they_say(rides: int) -> None:
    """95 % of 300: 92 to 98 % for differences (binomial, 2.5 sd), no less for a gear itself."""
    of_gear = of_difference = 0
    for seed in range(300):
        found = fit(*spells(rides, each=16, ride_sd=0.005, seed=1000 * rides + seed))
        assert found is not None
        one = found.of(np.eye(GEARS)[0])
        of_gear += abs(one.value - np.log(0.96)) < half_width(one.sd, one.freedom)
        two = found.of(np.eye(GEARS)[0] - np.eye(GEARS)[3])
        off = two.value - np.log(0.96 / 0.93)
        of_difference += abs(off) < half_width(two.sd, two.freedom)
    assert of_gear >= 0.92 * 300
    assert 0.92 * 300 <= of_difference <= 0.98 * 300
