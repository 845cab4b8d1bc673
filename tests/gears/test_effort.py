"""Push: what a vehicle gains beyond one that rolls, and what that says of the crank."""

from __future__ import annotations

import numpy as np
import pytest

from ridelab.gears.effort import GRAVITY, driven_evidence, gained

T = np.arange(600.0)


def test_a_vehicle_that_rolls_downhill_gains_what_gravity_gives() -> None:
    """At a steady 6 m/s down 2 %: no acceleration, and a fiftieth of gravity lost in height."""
    height = 300.0 - 0.02 * 6.0 * T
    found = gained(T, np.full(600, 6.0), height)
    np.testing.assert_allclose(found[10:-10], -0.02 * GRAVITY, rtol=1e-6)


def test_acceleration_on_the_level_is_the_gain() -> None:
    """0.05 m/s2 for ten minutes."""
    found = gained(T, 2.0 + 0.05 * T, np.full(600, np.nan))
    np.testing.assert_allclose(found[10:-10], 0.05, rtol=1e-6)


def test_nothing_is_computed_across_a_silence() -> None:
    """Samples beside two minutes without any have no acceleration."""
    t = np.concatenate([T[:300], T[300:] + 120.0])
    found = gained(t, np.full(600, 6.0), np.full(600, np.nan))
    assert np.isnan(found[298:302]).all()
    assert np.isfinite(found[310:590]).all()


def seen(rng: np.random.Generator, drag: float = 0.0033) -> tuple[np.ndarray, ...]:
    """Return gain, speed and whether driven: 150 s of rolling, else a push of 0.25 m/s2."""
    driven = (T < 200) | (T > 350)
    speed = 6.0 + 3.0 * np.sin(T / 40.0)
    gain = 0.25 * driven - 0.05 - drag * speed**2 + rng.normal(0.0, 0.08, 600)
    return gain, speed, driven


@pytest.mark.parametrize("drag", [0.002, 0.0033, 0.0045])
def test_evidence_is_for_drive_where_there_is_push(drag: float) -> None:
    """On vehicles of much and little drag: nine seconds in ten speak the truth."""
    gain, speed, driven = seen(np.random.default_rng(1), drag)
    found = driven_evidence(gain, speed, driven & (T < 150), ~driven & (T < 300))
    assert found is not None
    told = np.sign(found[T > 300]) == np.where(driven[T > 300], 1, -1)
    assert told.mean() > 0.9


def test_brakes_do_not_make_soft_pedalling_look_driven() -> None:
    """Half of the rolling is braked in town; coasting fast is still no drive."""
    rng = np.random.default_rng(2)
    gain, speed, driven = seen(rng)
    speed[~driven] = 4.0
    gain[~driven] = -0.05 - 0.0033 * 16.0 - np.where(rng.random((~driven).sum()) < 0.5, 0.6, 0.0)
    gain[T > 500], speed[T > 500] = -0.05 - 0.0033 * 144.0, 12.0
    found = driven_evidence(gain, speed, driven & (T < 200), ~driven)
    assert found is not None
    assert found[T > 500].mean() < 0.1


def test_a_motor_that_pushes_while_the_crank_stands_takes_the_evidence_away() -> None:
    """Where rolling looks like driving, hardly anything is said."""
    rng = np.random.default_rng(3)
    gain, speed, driven = seen(rng)
    gain[~driven] += 0.25
    found = driven_evidence(gain, speed, driven, ~driven)
    assert found is not None
    assert np.abs(found).mean() < 0.25


def test_too_little_driving_says_nothing() -> None:
    """Half a minute of it is no measure of how driving looks."""
    gain, speed, driven = seen(np.random.default_rng(4))
    assert driven_evidence(gain, speed, driven & (T < 30), ~driven) is None
