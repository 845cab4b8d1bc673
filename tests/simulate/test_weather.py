"""Wind and what it does to a ride."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ridelab.simulate import Rider, Scenario, Sensors, Vehicle, Wind, from_ratios
from ridelab.simulate.course import Course
from ridelab.simulate.physics import Resistance
from ridelab.simulate.riding import ride
from ridelab.simulate.weather import CALM, against, strengths_mps


def test_gusts_have_the_mean_and_spread_asked_for() -> None:
    """Ten hours at 5 m/s with gusts of a fifth (numpy)."""
    found = strengths_mps(Wind(5.0, gusts=0.2), 180_000, 0.2, np.random.default_rng(1))
    assert found.mean() == pytest.approx(5.0, rel=0.02)
    assert found.std() == pytest.approx(1.0, rel=0.1)


def test_a_calm_day_draws_no_numbers() -> None:
    """Rides without wind are the same whether or not the simulator knows of wind."""
    rng = np.random.default_rng(1)
    assert not strengths_mps(CALM, 100, 0.2, rng).any()
    assert rng.random() == np.random.default_rng(1).random()


def test_the_road_turns_in_the_wind() -> None:
    """Against the rider, from the side, from behind."""
    still = np.zeros(3)
    course = Course(still, still, np.array([0.0, math.pi / 2, math.pi]))
    assert against(Wind(5.0, 0.0), course) == pytest.approx([1.0, 0.0, -1.0])


@pytest.mark.parametrize("headwind_mps", [-8.0, -2.0, 0.0, 3.0])
def test_air_resists_by_the_speed_through_it(headwind_mps: float) -> None:
    """Half density times area times the square of the air speed, pushing from behind too."""
    body = Resistance(80.0, 0.0, 0.5)
    through = 5.0 + headwind_mps
    air_n = 0.5 * 1.2 * 0.5 * through**2 * math.copysign(1.0, through)
    bearings_n = 0.091 + 0.0087 * 5.0
    assert body.force_n(5.0, 0.0, headwind_mps) == pytest.approx(air_n + bearings_n)


def test_a_headwind_costs_the_speed_that_the_power_balance_says() -> None:
    """Steady wind on the level; scipy finds the speed at which the mean power is used up."""
    from scipy.optimize import brentq

    flat = np.zeros(4000)
    vehicle, rider = Vehicle(from_ratios([2.0]), 2.1), Rider(spell_every_s=1e9, fastest_mps=99.0)
    wind = Wind(3.0, 0.0, gusts=0.0)
    scenario = Scenario(rider, vehicle, Course(flat, flat, flat), Sensors(), 3000, wind)
    trace = ride(scenario, np.random.default_rng(1))
    later = trace.t_s > 600
    body = vehicle.resistance(rider)
    push_w = 0.976 * trace.power_w[later].mean()
    speed = brentq(lambda v: body.force_n(v, 0.0, 3.0) * v - push_w, 1.0, 15.0)
    assert trace.speed_mps[later].mean() == pytest.approx(speed, rel=0.02)
