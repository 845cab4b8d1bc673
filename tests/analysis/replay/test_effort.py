"""The same effort at another cadence: against roots of the power balance and worked examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.analysis.replay.comfort import Band
from ridelab.analysis.replay.effort import (
    AIR_KG_M3,
    EFFICIENCY,
    GRAVITY_MPS2,
    Body,
    capability,
    new_speeds,
    ridden_power_w,
)
from ridelab.simulate.physics import Resistance
from tests.analysis.replay.roads import road

BAND = Band(60.0, 90.0)
BODY = Body(85.0, 0.006, 0.5)


def test_capability_is_whole_within_the_band_and_a_parabola_beyond() -> None:
    """Half of 60 rpm leaves 1 - 0.5²; 99 rpm, a tenth more than 90, leaves 1 - 0.1²."""
    cadence = np.log(np.array([30.0, 60.0, 75.0, 90.0, 99.0]))
    assert capability(cadence, BAND) == pytest.approx([0.75, 1.0, 1.0, 1.0, 0.99])


def test_power_on_a_climb_term_by_term() -> None:
    """By hand: 85 kg, 4 m/s, 5 %, from weight, rolling and air, the shape of Martin et al. 1998."""
    along = 1.0 / np.sqrt(1.0 + 0.05**2)
    push_n = 85.0 * GRAVITY_MPS2 * along * 0.056 + 0.5 * AIR_KG_M3 * 0.5 * 16.0
    found = BODY.power_w(np.array(4.0), np.array(0.05), np.array(0.0))
    assert float(found) == pytest.approx(push_n * 4.0 / EFFICIENCY)


def test_worked_example_of_coasting_and_pedalling_down_a_hill() -> None:
    """A textbook's exercise with its published answers: c = 13.723 kg/m, 566.146 N.

    80.0 kg coast down 7.0° at a steady 9.5 km/h, drag c v²; what force brings 25 km/h there? (D.
    Giancoli, Physics for Scientists and Engineers, on drag; the book from memory, the answers as
    published with its solution, with g = 9.8 m/s2.)
    """
    body = Body(80.0, 0.0, 2.0 * 13.723 / AIR_KG_M3)
    down = np.array(-np.tan(np.radians(7.0)))
    still, coasting, pedalling = np.array(0.0), np.array(9.5 / 3.6), np.array(25.0 / 3.6)
    coasting_n = float(body.power_w(coasting, down, still) * EFFICIENCY / coasting)
    assert coasting_n == pytest.approx(0.0, abs=0.1)
    pedalling_n = float(body.power_w(pedalling, down, still) * EFFICIENCY / pedalling)
    assert pedalling_n == pytest.approx(566.146, abs=0.1)


@given(st.floats(1.0, 14.0), st.floats(-0.1, 0.15))
def test_power_is_that_of_the_simulator_but_for_bearings_and_air(
    speed: float, grade: float
) -> None:
    """Written apart from it; its bearings take 0.091 N + 0.0087 N a m/s, its air is 1.2 kg/m3."""
    theirs = Resistance(85.0, 0.006, 0.5).power_w(speed, grade) * EFFICIENCY
    ours = float(BODY.power_w(np.array(speed), np.array(grade), np.array(0.0))) * EFFICIENCY
    air = 0.5 * (AIR_KG_M3 - 1.2) * 0.5 * speed**3
    bearings = (0.091 + 0.0087 * speed) * speed
    assert ours - air + bearings == pytest.approx(theirs, abs=1e-6)


@given(st.floats(0.7, 1.5), st.floats(80.0, 250.0))
def test_long_after_a_change_speed_solves_the_power_balance(gain: float, power_w: float) -> None:
    """On the level for an hour: the one positive root of the cubic, as numpy finds it."""
    rolling_n, air = 85.0 * GRAVITY_MPS2 * 0.006, 0.5 * AIR_KG_M3 * 0.5

    def steady(watts: float) -> float:
        roots = np.roots([air, 0.0, rolling_n, -watts * EFFICIENCY])
        return float(roots[(np.abs(roots.imag) < 1e-9) & (roots.real > 0)].real[0])

    before = np.full((3600, 1), steady(power_w))
    after = new_speeds(
        before, before, np.full_like(before, power_w), lambda _t, now: np.full_like(now, gain), BODY
    )
    assert after[-1, 0] == pytest.approx(steady(power_w * gain), rel=2e-3)


def test_same_power_gives_the_same_speed() -> None:
    """Nothing gained, nothing changed: to the last digit but rounding."""
    speed = np.array([0.0, 2.0, 5.0, 7.0, 3.0, 0.0, 4.0])[:, None]
    same = new_speeds(speed, speed, np.full_like(speed, 150.0), lambda _t, now: now * 0 + 1, BODY)
    assert same == pytest.approx(speed)


def test_a_stop_takes_what_was_gained() -> None:
    """Faster by the stop, as slow as before right after it."""
    speed = np.array([*[6.0] * 60, 0.0, *[6.0] * 2])[:, None]
    power = np.where(np.arange(63) < 60, 150.0, 0.0)[:, None]
    after = new_speeds(speed, speed, power, lambda _t, now: np.full_like(now, 1.3), BODY)
    assert after[59, 0] > 6.3
    assert after[60:, 0] == pytest.approx(speed[60:, 0])


def test_recorded_power_goes_before_estimated() -> None:
    """A meter's 123 W where it drove; without a meter what the balance says."""
    assert ridden_power_w(road([6.0, 6.0], power_w=123.0, driven=[True, False]), BODY).tolist() == [
        123.0,
        0.0,
    ]
    estimated = ridden_power_w(road([6.0] * 9), BODY)
    assert estimated == pytest.approx(
        float(BODY.power_w(np.array(6.0), np.zeros(()), np.zeros(())))
    )
