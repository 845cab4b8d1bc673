"""Observations: the right channel, the right lag, and an honest uncertainty."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from ridelab.gears.observations import Observations, observe, sharpness
from tests.gears.riding import COAST, EVEN_14, ride, sweep


def observed(*args: object, **kwargs: object) -> Observations:
    """Return observations of a ride that has some."""
    seen = observe(ride(*args, **kwargs))  # type: ignore[arg-type]
    assert isinstance(seen, Observations)
    return seen


def test_development_is_speed_over_crank_turns() -> None:
    """Development = speed x 60 / cadence: 5 m/s at 60 rpm is 5 m (definition)."""
    seen = observed([(1, 120)], [1.0], rollout_m=5.0)
    assert np.nanmedian(np.exp(seen.ln_development)) == pytest.approx(5.0, rel=0.002)


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


def test_nothing_is_computed_across_a_gap() -> None:
    """After a silence of ten minutes the first development is the new gear's, not a mixture."""
    made = ride([(3, 100), (12, 100)], EVEN_14)
    late = pl.when(pl.col("t_s") >= 100).then(pl.col("t_s") + 600).otherwise(pl.col("t_s"))
    seen = observe(replace(made, samples=made.samples.with_columns(t_s=late)))
    assert isinstance(seen, Observations)
    assert seen.gap_before.sum() == 1
    assert seen.gap_before[100]
    known = seen.ln_development[np.isfinite(seen.ln_development)]
    expected = np.log(2.1 * np.array([EVEN_14[2], EVEN_14[11]]))
    assert np.abs(known[:, None] - expected).min(axis=1).max() < 0.05


def test_cadence_repeated_before_a_stop_is_not_an_observation() -> None:
    """A last value that the sensor holds while the crank stands already gives no development."""
    made = ride([(5, 100), (COAST, 20), (5, 100)], EVEN_14)
    held = made.samples["cadence_rpm"].to_list()
    held[98:102] = [held[98]] * 4
    seen = observe(replace(made, samples=made.samples.with_columns(cadence_rpm=pl.Series(held))))
    assert isinstance(seen, Observations)
    assert np.isnan(seen.ln_development[100:120]).all()


@pytest.mark.parametrize(
    ("column", "value", "reason"),
    [
        ("speed_mps", None, "no speed"),
        ("cadence_rpm", None, "no cadence"),
        ("cadence_rpm", 0.0, "cadence is zero"),
    ],
)
def test_a_ride_without_a_quantity_says_so(column: str, value: float | None, reason: str) -> None:
    """What is missing is said in words, and is no error."""
    made = ride([(5, 200)], EVEN_14)
    samples = made.samples.with_columns(pl.lit(value, dtype=pl.Float64).alias(column))
    said = observe(replace(made, samples=samples))
    assert isinstance(said, str)
    assert reason in said


def test_sigma_of_steady_riding_is_the_cadence_resolution() -> None:
    """Whole rpm is a uniform error of 1/sqrt(12) rpm: 0.36 % at 80 rpm."""
    made = ride([(5, 300)], EVEN_14, noise=0.0)
    samples = made.samples.with_columns(cadence_rpm=pl.lit(80.0), speed_mps=pl.lit(5.0))
    seen = observe(replace(made, samples=samples))
    assert isinstance(seen, Observations)
    assert np.nanmax(seen.sigma) == pytest.approx(1 / np.sqrt(12) / 80, rel=1e-6)


@pytest.mark.parametrize("noise", [0.005, 0.01, 0.02])
def test_sigma_is_the_scatter_there_is(noise: float) -> None:
    """All causes together foretell how far the observations lie from the true development."""
    seen = observed([(7, 2000)], EVEN_14, noise=noise)
    scatter = np.nanstd(seen.ln_development - np.log(2.1 * EVEN_14[6]))
    assert np.sqrt(np.nanmean(seen.total_sigma() ** 2)) == pytest.approx(scatter, rel=0.2)


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
