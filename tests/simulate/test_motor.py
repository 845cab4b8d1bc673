"""A motor in the hub: the wheel is driven, the crank need not be."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from ridelab.simulate import HubMotor
from ridelab.simulate.course import Course
from ridelab.simulate.hands import Moment
from ridelab.simulate.motor import CUT_OFF_MPS, Drive
from ridelab.simulate.riding import Trace, ride
from tests.simulate.rides import motor_ride


def pushed(speed_mps: float, cadence_rpm: float, **motor: float) -> float:
    """Push after five seconds of this."""
    drive = Drive(HubMotor(**motor), 0.2)
    for i in range(25):
        now = Moment(t_s=0.2 * i, speed_mps=speed_mps, cadence_rpm=cadence_rpm)
        force_n = drive.act(now, 2.1, braking=False)
    return force_n


def test_push_is_power_over_speed_up_to_the_torque() -> None:
    """150 W at 5 m/s are 30 N; at a crawl 35 Nm on a rollout of 2.1 m are 105 N (mechanics)."""
    assert pushed(5.0, 60.0, power_w=150.0) == pytest.approx(30.0, rel=1e-3)
    assert pushed(0.6, 60.0, torque_nm=35.0) == pytest.approx(35.0 * 2 * math.pi / 2.1, rel=1e-3)


def test_no_help_above_25_km_h_nor_without_a_turning_crank() -> None:
    """EN 15194, the limits of an electrically power assisted cycle."""
    assert pytest.approx(25.0 / 3.6) == CUT_OFF_MPS
    assert pushed(7.0, 60.0) < 1e-3
    assert pushed(5.0, 0.0) == 0.0


def test_the_motor_runs_on_for_a_moment_and_stops_at_once_for_the_brakes() -> None:
    """Its sensor takes a second to see that the crank stands; the brake lever cuts it off."""
    drive = Drive(HubMotor(runs_on_s=1.0), 0.2)
    for i in range(20):
        drive.act(Moment(t_s=0.2 * i, speed_mps=5.0, cadence_rpm=60.0), 2.1, braking=False)
    assert drive.act(Moment(t_s=4.4, speed_mps=5.0), 2.1, braking=False) > 0.0
    assert drive.act(Moment(t_s=6.0, speed_mps=5.0), 2.1, braking=False) == 0.0
    assert drive.act(Moment(t_s=6.2, speed_mps=5.0, cadence_rpm=60.0), 2.1, braking=True) == 0.0


def test_wheel_is_driven_while_the_crank_stands_or_turns_too_slowly() -> None:
    """On a level road a motor keeps the speed that is lost in coasting without one."""
    level = np.zeros(1000)
    road = Course(level, level, level)
    plain = motor_ride(course=road)
    vehicle = replace(plain.vehicle, motor=HubMotor(lever_share=1.0))
    rng = np.random.default_rng
    helped = ride(replace(plain, vehicle=vehicle), rng(2))
    alone = ride(replace(plain, vehicle=replace(vehicle, motor=None)), rng(2))
    for turning in (False, True):
        lost = slowing_mps2(alone, turning)
        assert lost > 0.08
        assert slowing_mps2(helped, turning) < 0.3 * lost


def slowing_mps2(trace: Trace, turning: bool) -> float:
    """Mean deceleration while the crank does not drive, standing or turning along too slowly."""
    gained = np.diff(trace.speed_mps, prepend=0.0) / 0.2
    apart = ~trace.coupled & (trace.speed_mps > 3.0) & (trace.t_s > 60.0)
    crank = trace.cadence_rpm > 20.0 if turning else trace.cadence_rpm == 0.0
    return -float(gained[apart & crank].mean())
