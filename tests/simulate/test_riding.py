"""The ride as it was: what must be true of every one, whatever happens on the road."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.simulate import Gears, Junction, Rider, Scenario, Tyre, build_course
from ridelab.simulate.course import Course
from ridelab.simulate.noise import strayed
from ridelab.simulate.riding import Trace, ride
from tests.simulate.rides import (
    SWEEP,
    chain_ride,
    hub_ride,
    motor_ride,
    stepless_ride,
    windy_ride,
)

SCENARIOS = {
    "hub": hub_ride(),
    "chain": chain_ride(),
    "stepless": stepless_ride(),
    "motor": motor_ride(),
    "windy": windy_ride(),
}


def ridden(scenario: Scenario, seed: int = 1) -> Trace:
    """Ride it."""
    return ride(scenario, np.random.default_rng(seed))


@settings(max_examples=20, deadline=None)
@given(st.sampled_from(sorted(SCENARIOS)), st.integers(0, 2**32 - 1))
def test_crank_and_wheel_agree_while_coupled_and_the_crank_never_outruns_it(
    kind: str, seed: int
) -> None:
    """Development is ratio times rollout while coupled, and never less while not (freewheel)."""
    trace = ridden(SCENARIOS[kind], seed)
    turning = trace.cadence_rpm > 0
    development = 60.0 * trace.speed_mps[turning] / trace.cadence_rpm[turning]
    over = development / (trace.ratio[turning] * trace.rollout_m[turning])
    assert over[trace.coupled[turning]] == pytest.approx(1.0, abs=1e-9)
    assert over.min() > 1.0 - 1e-9


@pytest.mark.parametrize("kind", sorted(SCENARIOS))
def test_every_ride_has_coupled_coasting_and_standing_parts(kind: str) -> None:
    """A ride that is all steady pedalling would flatter the inference."""
    trace = ridden(SCENARIOS[kind])
    assert 0.3 < trace.coupled.mean() < 0.97
    assert (trace.cadence_rpm[trace.speed_mps > 3.0] == 0).mean() > 0.02
    soft = ~trace.coupled & (trace.cadence_rpm > 20)
    assert soft.mean() > 0.01
    assert (trace.speed_mps == 0).any()


def test_crank_drives_only_while_coupled() -> None:
    """No power without a load."""
    trace = ridden(SCENARIOS["hub"])
    assert (trace.power_w[~trace.coupled] == 0).all()
    assert (trace.power_w[trace.coupled] > 0).any()


def test_gear_and_ratio_follow_the_shifts() -> None:
    """The selected gear at any time is the one of the last shift; its ratio is as built."""
    scenario = SCENARIOS["hub"]
    trace = ridden(scenario)
    assert isinstance(scenario.vehicle.gearing, Gears)
    built = {s.gear: s.ratio for s in scenario.vehicle.gearing.settings}
    assert trace.ratio == pytest.approx([built[gear] for gear in trace.gear.tolist()])
    changes = np.flatnonzero(np.diff(trace.gear)) + 1
    assert [s.to_gear for s in trace.shifts] == trace.gear[changes].tolist()
    assert trace.t_s[changes] == pytest.approx([s.t_s for s in trace.shifts])


def test_a_rider_keeps_near_the_preferred_cadence() -> None:
    """Half of the coupled time lies within the band of 80 rpm."""
    trace = ridden(SCENARIOS["hub"])
    strayed = np.abs(trace.cadence_rpm[trace.coupled] - 80.0)
    assert np.median(strayed) < 9.0


def test_a_chain_is_not_shifted_while_the_crank_stands() -> None:
    """Derailed otherwise: every shift happens with the crank turning; a hub shifts at rest too."""
    chain, hub = (ridden(SCENARIOS[kind]) for kind in ("chain", "hub"))
    before = [round(s.t_s / 0.2) - 2 for s in chain.shifts]
    assert (chain.cadence_rpm[before] > 0).all()
    before = [round(s.t_s / 0.2) - 2 for s in hub.shifts]
    assert (hub.cadence_rpm[before] == 0).any()


def test_a_sweep_visits_every_gear_for_long_enough() -> None:
    """A shop's test ride: each of the fourteen gears engaged for half a minute or more."""
    trace = ridden(hub_ride(course=build_course(SWEEP, 2), duration_s=1400))
    engaged = [0.2 * float((trace.gear[trace.coupled] == gear).sum()) for gear in range(1, 15)]
    assert min(engaged) > 30.0


def test_a_stepless_sweep_reaches_both_ends() -> None:
    """The grip is turned from end to end."""
    trace = ridden(stepless_ride(course=build_course(SWEEP, 2), duration_s=900))
    assert trace.ratio.min() == pytest.approx(1.1, rel=0.003)
    assert trace.ratio.max() == pytest.approx(4.2, rel=0.003)
    assert not trace.shifts


def test_the_rider_stops_where_the_road_says_so() -> None:
    """At a stop the vehicle stands within a few metres of it for as long as the light is red."""
    flat = np.zeros(100)
    stop = Junction(at_m=400.0, speed_mps=0.0, wait_s=20.0)
    trace = ridden(hub_ride(course=Course(flat, flat, flat, (stop,)), duration_s=200))
    standing = (trace.speed_mps == 0) & (trace.t_s > 10.0)
    assert 0.2 * standing.sum() == pytest.approx(20.0, abs=2.0)
    assert trace.wheel_m[standing] == pytest.approx(400.0, abs=3.0)


def test_a_doubtful_hand_takes_shifts_back() -> None:
    """With half of all shifts taken back, far more are undone within five seconds than without."""

    def undone(scenario: Scenario) -> float:
        shifts = ridden(scenario, 3).shifts
        back = [b.t_s - a.t_s < 6.5 and b.to_gear == a.from_gear for a, b in pairwise(shifts)]
        return float(np.mean(back))

    assert undone(hub_ride(rider=Rider(hunting=0.5))) > undone(hub_ride()) + 0.2


def test_a_tyre_rolls_further_at_speed_and_less_on_a_climb() -> None:
    """Rollout follows its own law at every moment, and the day's stray is one number a ride."""
    tyre = Tyre(day=0.001, growth=0.002, grade=0.02)
    scenario = windy_ride()
    scenario = replace(scenario, vehicle=replace(scenario.vehicle, tyre=tyre))
    trace = ridden(scenario)
    start_m = np.concatenate([[0.0], trace.wheel_m[:-1]])
    grade = scenario.course.grade[np.minimum(start_m // 10, 779).astype(int)]
    before_mps = np.concatenate([[0.0], trace.speed_mps[:-1]])
    law = 1.0 + 0.002 * (before_mps / 10.0) ** 2 - 0.02 * grade
    day = trace.rollout_m / (1.5 * law)
    inside = start_m < 7790
    assert day[inside] == pytest.approx(day[0], abs=1e-12)
    assert 0 < abs(np.log(day[0])) < 0.005


def test_the_rollout_of_a_day_strays_by_what_was_asked() -> None:
    """Standard deviation of ln over two hundred days (numpy)."""
    days = [strayed(0.001, np.random.default_rng(seed)) for seed in range(200)]
    assert np.log(days).std() == pytest.approx(0.001, rel=0.2)


def test_legs_that_pedal_softly_may_stray_from_the_wheel() -> None:
    """With a wander the development of a soft spell does not hold still as that of a gear does."""

    def unrest(wander: float) -> float:
        scenario = hub_ride(rider=Rider(soft_share=1.0, soft_wander=wander, spell_s=(5.0, 7.0)))
        trace = ridden(scenario)
        metres_a_turn = np.maximum(trace.speed_mps, 0.1) / np.maximum(trace.cadence_rpm, 1.0)
        development = np.log(metres_a_turn)
        steps = np.diff(development, prepend=0.0)
        soft = ~trace.coupled & (trace.cadence_rpm > 30) & (trace.cadence_rpm < 79)
        return float(np.median(np.abs(steps[soft])))

    assert unrest(0.0) < 0.001
    assert unrest(0.05) > 0.005
