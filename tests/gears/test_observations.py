"""Observations: what counts as one, and an honest uncertainty."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from ridelab.gears.observations import Observations, observe
from tests.gears.riding import COAST, EVEN_14, ride


def observed(*args: object, **kwargs: object) -> Observations:
    """Return observations of a ride that has some."""
    seen = observe(ride(*args, **kwargs))  # type: ignore[arg-type]
    assert isinstance(seen, Observations)
    return seen


def test_development_is_speed_over_crank_turns() -> None:
    """Development = speed x 60 / cadence: 5 m/s at 60 rpm is 5 m (definition)."""
    seen = observed([(1, 120)], [1.0], rollout_m=5.0)
    assert np.nanmedian(np.exp(seen.ln_development)) == pytest.approx(5.0, rel=0.002)


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
