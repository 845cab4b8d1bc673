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


@pytest.mark.parametrize(("share", "speed_mps"), [(0.01, 0.0), (0.002, 0.08), (0.008, 0.05)])
def test_noise_of_the_speed_is_told_from_noise_of_the_pulses(
    share: float, speed_mps: float
) -> None:
    """At 2 to 10 m/s the two add in squares; each is found to a tenth of the whole."""
    rng = np.random.default_rng(4)
    speed = 6.0 + 4.0 * np.sin(np.arange(COUNT) / 80.0)
    true = Noise(share, speed_mps)
    known = rng.uniform(0.001, 0.004, COUNT)
    off = np.hypot(true.sd(speed), known) * rng.standard_normal(COUNT)
    found = fitted(off, known, speed)
    assert found is not None
    np.testing.assert_allclose(found.sd(np.array([2.0, 5.0, 9.0])),
                               true.sd(np.array([2.0, 5.0, 9.0])), rtol=0.12)  # fmt: skip


def test_strays_do_not_widen_the_noise() -> None:
    """One reading in twenty far off leaves the noise within a tenth."""
    rng = np.random.default_rng(5)
    off = 0.01 * rng.standard_normal(COUNT)
    off[::20] = 0.5
    found = fitted(off, np.zeros(COUNT), np.full(COUNT, 6.0))
    assert found is not None
    assert found.sd(np.array([6.0]))[0] == pytest.approx(0.01, rel=0.1)


def test_noise_is_never_less_than_the_floor() -> None:
    """Readings without any scatter are still not believed to be exact."""
    found = fitted(np.zeros(300), np.zeros(300), np.full(300, 5.0))
    assert found is not None
    assert found.share >= FLOOR


def test_few_readings_tell_no_noise() -> None:
    """Under a minute of readings nothing is said."""
    assert fitted(np.zeros(59), np.zeros(59), np.full(59, 5.0)) is None


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
