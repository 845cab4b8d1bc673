"""Noise: its parts are told apart by speed, and how long it lasts by its neighbours."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from ridelab.gears.noise import FLOOR, Noise, fitted, memory

COUNT = 4000


def lasting(rng: np.random.Generator, correlation: float, count: int = COUNT) -> np.ndarray:
    """Return a first-order autoregression of variance 1."""
    white = rng.standard_normal(count) * np.sqrt(1.0 - correlation**2)
    white[0] = rng.standard_normal()
    return np.asarray(lfilter([1.0], [1.0, -correlation], white))


LEVEL = np.zeros(COUNT)


@pytest.mark.parametrize(
    "true", [Noise(0.01), Noise(0.002, 0.08), Noise(0.008, 0.05), Noise(0.004, 0.02, 0.3)]
)
def test_noise_is_told_apart_by_speed_and_slope(true: Noise) -> None:
    """At 2 to 10 m/s, level or gaining up to 5 % a second, to a fifth of the whole."""
    rng = np.random.default_rng(4)
    speed = 6.0 + 4.0 * np.sin(np.arange(COUNT) / 80.0)
    slope = 0.05 * np.sin(np.arange(COUNT) / 17.0)
    known = rng.uniform(0.001, 0.004, COUNT)
    off = np.hypot(true.sd(speed, slope), known) * rng.standard_normal(COUNT)
    found = fitted(off, known, speed, slope)
    assert found is not None
    at, gaining = np.array([2.5, 5.0, 9.0, 5.0]), np.array([0.0, 0.0, 0.0, 0.04])
    np.testing.assert_allclose(found.sd(at, gaining), true.sd(at, gaining), rtol=0.2)


def test_timing_that_is_known_is_not_fitted() -> None:
    """What it explains is left out of the rest."""
    rng = np.random.default_rng(7)
    slope = 0.05 * np.sin(np.arange(COUNT) / 17.0)
    off = Noise(0.005, timing_s=0.3).sd(np.full(COUNT, 6.0), slope) * rng.standard_normal(COUNT)
    found = fitted(off, LEVEL, np.full(COUNT, 6.0), slope, timing_s=0.3)
    assert found is not None
    assert found.timing_s == 0.3
    assert found.sd(np.array([6.0]), np.zeros(1))[0] == pytest.approx(0.005, rel=0.15)


def test_strays_do_not_widen_the_noise() -> None:
    """One reading in twenty far off leaves the noise within a tenth."""
    rng = np.random.default_rng(5)
    off = 0.01 * rng.standard_normal(COUNT)
    off[::20] = 0.5
    found = fitted(off, LEVEL, np.full(COUNT, 6.0), LEVEL)
    assert found is not None
    assert found.sd(np.array([6.0]), np.zeros(1))[0] == pytest.approx(0.01, rel=0.1)


def test_noise_is_never_less_than_the_floor() -> None:
    """Readings without any scatter are still not believed to be exact."""
    found = fitted(LEVEL, LEVEL, np.full(COUNT, 5.0), LEVEL)
    assert found is not None
    assert found.share >= FLOOR


def test_few_readings_tell_no_noise() -> None:
    """Under a minute of readings nothing is said."""
    assert fitted(LEVEL[:59], LEVEL[:59], np.full(59, 5.0), LEVEL[:59]) is None


@pytest.mark.parametrize("correlation", [0.0, 0.5, 0.8])
def test_memory_is_the_correlation_of_neighbours(correlation: float) -> None:
    """It is found to 0.05 from an hour of readings."""
    z = lasting(np.random.default_rng(6), correlation)
    found = memory(z, np.arange(float(COUNT)), np.full(COUNT, True))
    assert found == pytest.approx(correlation, abs=0.05)


def test_memory_is_not_learnt_across_gaps() -> None:
    """Readings a minute apart are no neighbours."""
    z = lasting(np.random.default_rng(6), 0.8)
    assert memory(z, 60.0 * np.arange(float(COUNT)), np.full(COUNT, True)) is None
