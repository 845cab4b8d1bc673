"""Channels: the right speed, at the right lag."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from ridelab.gears.channels import LAGS_S, sharpness
from ridelab.gears.observations import Observations, observe
from ridelab.gears.result import LAG_CURVE_SCHEMA
from tests.gears.riding import EVEN_14, ride, sweep


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
    """The curve has each channel and lag in order, and peaks where the ride was read."""
    seen = observed(sweep(range(4, 12), 15, 3), EVEN_14, speed_lag_s=2)
    assert seen.lag_curve.schema == LAG_CURVE_SCHEMA
    assert seen.lag_curve["lag_s"].to_list() == LAGS_S.tolist()
    best = seen.lag_curve.sort("sharpness").row(-1, named=True)
    assert (best["channel"], best["lag_s"]) == (seen.channel, seen.lag_s)


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
