"""The mixed model against scipy's own likelihood, and its intervals against known variances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from ridelab.gears.spells import Spells, _Model, estimate


def made(seed: int, rides: int = 3, gears: int = 4, each: int = 6, late: float = 1.0) -> Spells:
    """Return spells with ride effects of 0.2 % and spell effects of 0.3 %.

    ``late``: scale of lags of 0.05 s, and of 0.4 of a crank turn.
    """
    rng = np.random.default_rng(seed)
    gear = np.tile(np.repeat(np.arange(gears), each), rides)
    ride = np.repeat(np.arange(rides), gears * each)
    y = 0.1 * gear + rng.normal(0, 0.002, rides)[ride] + rng.normal(0, 0.003, len(gear))
    sd = np.full(len(gear), 0.001)
    y += rng.normal(0, 0.001, len(gear))
    gaining = late * rng.normal(0.0, 0.02, len(gear))
    turns = gaining * rng.normal(0.0, 0.3, len(gear))
    y += rng.normal(0, 0.05, rides)[ride] * gaining + rng.normal(0, 0.4, rides)[ride] * turns
    return Spells(gear, ride, y, sd, np.zeros(len(gear)), gaining, turns)


def test_likelihood_equals_the_dense_one() -> None:
    """The restricted likelihood from sums per ride and gear equals the full-matrix formula.

    Patterson and Thompson 1971: the density of y, integrated over the gears' effects. Compared as
    a difference between two settings of the variances, so that constants cancel.
    """
    spells = made(1)
    late = np.stack([spells.gaining_hz, spells.gaining_turns])
    model = _Model(spells.gear, spells.ride, spells.ln_development, spells.sd, late, 3)
    design = np.eye(4)[spells.gear]
    same_ride = (spells.ride[:, None] == spells.ride).astype(float)

    gaining, turning = (np.outer(one, one) for one in late)

    def dense(spell_sd: float, ride_sd: float, lag_sd_s: float) -> float:
        v = np.diag(spells.sd**2 + spell_sd**2) + ride_sd**2 * same_ride
        v += (lag_sd_s**2 * gaining + 0.5**2 * turning) * same_ride
        inverse = np.linalg.inv(v)
        normal = design.T @ inverse @ design
        beta = np.linalg.solve(normal, design.T @ inverse @ spells.ln_development)
        residual = stats.multivariate_normal(design @ beta, v).logpdf(spells.ln_development)
        return float(-residual + 0.5 * np.linalg.slogdet(normal)[1])

    def ours(spell_sd: float, ride_sd: float, lag_sd_s: float) -> float:
        logs = np.log([spell_sd, ride_sd, lag_sd_s])
        usual, doubts = np.log([0.002, 0.001, 0.1]), np.array([1.0, 0.7, 0.5])
        beliefs = float((((logs - usual) / doubts) ** 2).sum())
        return float(model.objective(logs) - 0.5 * beliefs)

    one, other = (0.003, 0.002, 0.2), (0.001, 0.0005, 0.05)
    assert ours(*one) - ours(*other) == pytest.approx(dense(*one) - dense(*other), rel=1e-8)


def test_estimates_are_generalised_least_squares() -> None:
    """Gear effects lie within three of their standard errors of the truth."""
    found = estimate(made(2), rides=3)
    assert found is not None
    error = found.ln_developments - 0.1 * np.arange(4)
    assert (np.abs(error) < 3 * np.sqrt(np.diag(found.covariance))).all()


def test_what_rides_share_cancels_between_gears() -> None:
    """A difference of two gears is known better than either: the ride effect drops out."""
    found = estimate(made(3), rides=3)
    assert found is not None
    c = found.covariance
    assert c[0, 0] + c[1, 1] - 2 * c[0, 1] < 0.5 * (c[0, 0] + c[1, 1])


def test_one_spell_has_a_wide_interval() -> None:
    """A single spell is measured, with at least the spell-to-spell scatter as its error."""
    only = Spells(
        np.array([2]), np.array([0]), np.array([1.5]), np.array([0.0005]), *[np.zeros(1)] * 3
    )
    found = estimate(only, rides=1)
    assert found is not None
    assert found.gears.tolist() == [2]
    assert found.quantile * np.sqrt(found.covariance[0, 0]) > 0.003


def test_no_spell_is_no_estimate() -> None:
    """Without spells there is nothing to say."""
    nothing = np.empty(0, dtype=np.int64)
    assert estimate(Spells(nothing, nothing, *[np.empty(0)] * 5), rides=1) is None


def test_a_shared_bias_does_not_average_out() -> None:
    """However many spells there are, 0.5 % of shared bias leaves at least 0.5 % of error."""
    spells = replace(made(4, each=200), bias=np.full(2400, 0.005))
    found = estimate(spells, rides=3)
    assert found is not None
    assert (np.sqrt(np.diag(found.covariance)) > 0.005).all()
