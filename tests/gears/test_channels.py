"""Channels: the right speed, at the right lag."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import lfilter
from scipy.stats import norm

from ridelab.gears.channels import LAGS_S, choose, column, divisible, sharpness
from ridelab.gears.observations import Observations, observe
from ridelab.gears.result import LAG_CURVE_SCHEMA
from tests.gears.riding import EVEN_14, ride, sweep

if TYPE_CHECKING:
    from ridelab.gears.observations import Floats
    from ridelab.gears.result import Channel


def observed(*args: object, **kwargs: object) -> Observations:
    """Return observations of a ride that has some."""
    seen = observe(ride(*args, **kwargs))  # type: ignore[arg-type]
    assert isinstance(seen, Observations)
    return seen


@pytest.mark.parametrize("lag", [0, 1, 3, 5])
def test_lag_of_the_speed_is_found(lag: int) -> None:
    """A speed recorded some seconds late is found out to a quarter of a second."""
    seen = observed(sweep(range(4, 12), 15, 3), EVEN_14, speed_lag_s=lag)
    assert seen.lag_s == pytest.approx(lag, abs=0.25)


def test_sharper_channel_wins() -> None:
    """Where the distance field is exact and the speed field smeared, the distance field is used."""
    made = ride(sweep(range(4, 12), 15, 3), EVEN_14, noise=0.001)
    speed = made.samples["speed_mps"]
    samples = made.samples.with_columns(
        distance_m=speed.cum_sum(), speed_mps=speed.rolling_mean(9, min_samples=1)
    )
    seen = observe(replace(made, samples=samples))
    assert isinstance(seen, Observations)
    assert seen.channel == "distance field"


def test_a_distance_in_whole_turns_is_not_taken_for_gears() -> None:
    """Few speeds over whole rpm cluster, but say nothing; a varying development says so itself."""
    made = ride([(1, 900)], [2.0])
    rng = np.random.default_rng(5)
    speed = 6.0 + 0.3 * np.cumsum(rng.normal(0.0, 0.3, 900)).clip(-6.0, 6.0)
    cadence = 75.0 + 12.0 * np.sin(np.cumsum(rng.normal(0.0, 0.1, 900)))
    turns = np.floor(np.cumsum(speed) / 2.1)
    samples = made.samples.with_columns(
        distance_m=pl.Series(turns * 2.1),
        speed_mps=pl.Series(np.round(speed, 3)),
        cadence_rpm=pl.Series(np.round(cadence)),
    )
    seen = observe(replace(made, samples=samples))
    assert isinstance(seen, Observations)
    assert seen.channel == "speed field"


def test_every_lag_tried_is_kept() -> None:
    """The curve has lags from end to end in order, and peaks where the ride was read."""
    seen = observed(sweep(range(4, 12), 15, 3), EVEN_14, speed_lag_s=2)
    curve = seen.lag_curve
    assert curve.schema == LAG_CURVE_SCHEMA
    lags = curve["lag_s"].to_list()
    assert lags == sorted(set(lags))
    assert (lags[0], lags[-1]) == (LAGS_S[0], LAGS_S[-1])
    assert max(np.diff(lags)) <= 0.5
    assert {seen.lag_s - 0.5, seen.lag_s - 0.25, seen.lag_s + 0.25, seen.lag_s + 0.5} <= set(lags)
    best = curve.sort("sharpness").row(-1, named=True)
    assert (best["channel"], best["lag_s"]) == (seen.channel, seen.lag_s)


def two_channels(off: float, other_off: float) -> tuple[dict[Channel, Floats], Floats]:
    """Return a late and a prompt speed, each off by its own errors, and the ride's cadence.

    The errors, relative, last for five seconds or so.
    """
    made = ride(sweep(range(4, 12), 15, 12), EVEN_14, noise=0.0)
    cadence, speed = column(made, "cadence_rpm"), column(made, "speed_mps")
    fresh = np.random.default_rng(6).standard_normal((2, len(speed)))
    errors = lfilter([0.55], [1.0, -0.8], fresh)
    own, other = speed * np.exp(np.array([[off], [other_off]]) * errors)
    late = np.concatenate([np.full(3, own[0]), own[:-3]])
    return {"speed field": late, "distance field": other}, cadence


def test_errors_that_channels_do_not_share_are_averaged() -> None:
    """Two equal channels: a mean of both at their own lags, better than either by the root of 2."""
    found, cadence = two_channels(0.02, 0.02)
    t = np.arange(float(len(cadence)))
    chosen = choose(found, t, cadence)
    assert chosen is not None
    assert chosen.other_share >= 0.4
    gears = np.log(2.1 * np.array(EVEN_14))

    def error(speed: Floats) -> float:
        usable = divisible(speed, cadence)
        y = np.log(60.0 * speed[usable] / cadence[usable])
        return float(np.median(np.abs(y[:, None] - gears).min(axis=1)))

    assert error(chosen.speed_mps) < 0.8 * error(found["distance field"])


def test_a_channel_that_tells_nothing_of_its_own_is_left_out() -> None:
    """One with ten times the errors, and one with the very same errors."""
    found, cadence = two_channels(0.004, 0.04)
    t = np.arange(float(len(cadence)))
    same: dict[Channel, Floats] = {**found, "distance field": found["speed field"]}
    for each in (found, same):
        chosen = choose(each, t, cadence)
        assert chosen is not None
        assert chosen.other_share == 0.0


def test_sharpness_is_the_negative_entropy() -> None:
    """Of a normal sample blurred by the kernel: -ln(s sqrt(2 pi e)), from scipy's closed form."""
    sample = np.random.default_rng(5).normal(1.5, 0.05, 20_000)
    blurred = float(np.hypot(0.05, 0.007))
    assert sharpness(sample) == pytest.approx(-norm(scale=blurred).entropy(), abs=0.02)


@given(st.floats(-2.0, 2.0), st.integers(0, 2**32 - 1))
def test_sharpness_does_not_depend_on_the_rollout(shift: float, seed: int) -> None:
    """Another wheel shifts every ln(development) alike and changes nothing."""
    sample = np.random.default_rng(seed).normal(0.0, 0.02, 400)
    assert sharpness(sample + shift) == pytest.approx(sharpness(sample), abs=0.02)
