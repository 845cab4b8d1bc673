"""The power balance, against values worked out apart from it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.simulate import Piece, Rider, Scenario, Sensors, Vehicle, build_course, from_ratios
from ridelab.simulate.physics import EFFICIENCY, Resistance
from ridelab.simulate.riding import STEP_S, ride


def test_power_on_the_level_term_by_term() -> None:
    """Terms of Martin et al. 1998 for 90 kg at 10 m/s, worked out by hand, coefficients as there.

    Air 0.5 * 1.2 * 0.5 * 100 = 30 N; rolling 0.005 * 90 * 9.80665 = 4.413 N; bearings
    0.091 + 0.087 = 0.178 N; times 10 m/s over 0.976.
    """
    assert Resistance(90.0, 0.005, 0.5).power_w(10.0, 0.0) == pytest.approx(
        (30.0 + 4.412993 + 0.178) * 10.0 / 0.976, rel=1e-6
    )


def test_climbing_costs_the_weight_lifted() -> None:
    """At 1 m/s on 10 % the weight rises 0.1 / sqrt(1.01) m each second (geometry)."""
    body = Resistance(80.0, 0.0, 0.0)
    lifted_w = 80.0 * 9.80665 * math.sin(math.atan(0.1))
    assert body.power_w(1.0, 0.1) == pytest.approx((lifted_w + 0.0997) / 0.976, rel=1e-6)


@given(st.floats(50, 400), st.floats(0.003, 0.01), st.floats(0.25, 0.8))
def test_speed_of_a_power_is_the_root_of_the_cubic(
    power_w: float, rolling: float, drag_m2: float
) -> None:
    """Steady speed on the level solves a cubic; numpy finds its one positive root."""
    body = Resistance(90.0, rolling, drag_m2)
    cubic = [0.6 * drag_m2, 0.0087, 0.091 + rolling * 90.0 * 9.80665, -power_w * 0.976]
    roots = np.roots(cubic)
    (speed,) = roots[(np.abs(roots.imag) < 1e-9) & (roots.real > 0)].real
    assert body.power_w(float(speed), 0.0) == pytest.approx(power_w, rel=1e-6)


def test_energy_is_kept_over_a_ride() -> None:
    """Work at the crank, less losses, is what went into air, road, height and motion."""
    vehicle = Vehicle(from_ratios([2.0]), rollout_m=2.1)
    course = build_course((Piece(3000, hills=0.02),), 3)
    rider = Rider(fastest_mps=99.0)
    trace = ride(Scenario(rider, vehicle, course, Sensors(), 300), np.random.default_rng(1))
    body = vehicle.resistance(rider)
    speeds = np.concatenate([[0.0], trace.speed_mps])
    places = np.concatenate([[0.0], trace.wheel_m])
    grades = course.grade[(places[:-1] / 10.0).astype(int)]
    forces = [body.force_n(v, g) for v, g in zip(speeds[:-1], grades, strict=True)]
    resisted_j = float(np.sum(np.array(forces) * np.diff(places)))
    motion_j = 0.5 * body.inertia_kg * trace.speed_mps[-1] ** 2
    crank_j = EFFICIENCY * float(trace.power_w.sum()) * STEP_S
    assert crank_j == pytest.approx(resisted_j + motion_j, rel=0.02)
