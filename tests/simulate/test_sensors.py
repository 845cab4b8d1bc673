"""What sensors make of a ride whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.simulate.faults import PulseFault, dropped, faulty, without
from ridelab.simulate.noise import correlated, smoothed
from ridelab.simulate.riding import Trace
from ridelab.simulate.sensors import (
    counted_turns,
    pulse_rate,
    satellite_distance,
    satellite_speed,
)


def steady(turns_per_s: float, seconds: float) -> tuple[np.ndarray, np.ndarray]:
    """Turns and times of something that turns evenly."""
    t_s = np.arange(1, round(seconds / 0.2) + 1) * 0.2
    return turns_per_s * t_s, t_s


def rolling(speed_mps: np.ndarray) -> Trace:
    """A trace with this speed each fifth of a second and nothing else."""
    t_s = np.arange(1, len(speed_mps) + 1, dtype=np.float64) * 0.2
    still = np.zeros(len(t_s))
    return Trace(
        t_s=t_s,
        wheel_m=np.cumsum(speed_mps) * 0.2,
        speed_mps=speed_mps,
        cadence_rpm=still,
        crank_turns=still,
        power_w=still,
        ratio=still,
        gear=still.astype(np.int32),
        coupled=still > 0,
        rollout_m=np.ones(len(t_s)),
        shifts=(),
    )


@settings(max_examples=40, deadline=None)
@given(st.floats(0.6, 6.0), st.integers(0, 1000))
def test_an_even_turning_is_measured_to_the_clock(turns_per_s: float, seed: int) -> None:
    """Two pulses about a second apart, each off by half a 1/1024 s, bound the error."""
    turns, t_s = steady(turns_per_s, 60)
    found = pulse_rate(turns, t_s, np.arange(5.0, 60.0), 2.5, np.random.default_rng(seed))
    shortest_s = max(1.0 / turns_per_s, 0.7)
    assert found[3:] == pytest.approx(turns_per_s, rel=2.0 / 1024.0 / shortest_s)


def test_the_last_value_is_held_and_then_drops_to_zero() -> None:
    """A crank that stops after 20 s still reads 80 rpm for about the hold time."""
    turns, t_s = steady(80 / 60, 40)
    turns = np.minimum(turns, 20 * 80 / 60)
    at_s = np.arange(0.0, 40.0)
    found = 60 * pulse_rate(turns, t_s, at_s, 2.5, np.random.default_rng(1))
    assert found[21] == pytest.approx(80.0, abs=0.5)
    assert (found[24:] == 0).all()


def test_the_first_pulse_after_standing_tells_no_speed() -> None:
    """The long pause before it would make a crawl of it."""
    t_s = np.arange(1, 301, dtype=np.float64) * 0.2
    turns = np.where(t_s < 20, t_s, np.where(t_s < 40, 20.0, t_s - 20.0))
    found = pulse_rate(turns, t_s, np.arange(0.0, 60.0), 2.5, np.random.default_rng(1))
    assert (found[24:40] == 0).all()
    moving = found[40:]
    assert ((moving == 0) | (moving > 0.9)).all()


def test_whole_turns_are_counted() -> None:
    """A counter does not know of the turn that is not finished."""
    turns, t_s = steady(2.5, 10)
    assert counted_turns(turns, t_s, np.array([0.0, 1.0, 2.0, 3.0])).tolist() == [0, 2, 5, 7]


@pytest.mark.parametrize("lag_s", [1.0, 2.0, 4.0])
def test_satellite_speed_trails_by_its_lag(lag_s: float) -> None:
    """The shift that correlates best with the truth (numpy) is the lag that was set."""
    t_s = np.arange(1, 3001) * 0.2
    speed = 6 + np.sin(t_s / 7) + np.sin(t_s / 3)
    at_s = np.arange(0.0, 600.0)
    found = satellite_speed(rolling(speed), at_s, lag_s, 0.0, 0.05, np.random.default_rng(1))
    true = np.interp(at_s, t_s, speed)
    match = [np.corrcoef(found[20 + k :], true[20 : len(true) - k])[0, 1] for k in range(8)]
    assert int(np.argmax(match)) == lag_s


def test_satellite_distance_does_not_trail() -> None:
    """Positions are of now: the distance at any time is within their noise of the truth."""
    trace = rolling(np.full(3000, 6.0))
    at_s = np.arange(0.0, 600.0)
    found = satellite_distance(trace, at_s, 0.6, np.random.default_rng(1))
    true = np.interp(at_s, trace.t_s, trace.wheel_m, left=0.0)
    assert np.abs(found - true).max() < 5 * 0.6 * 2


def test_a_standing_vehicle_gathers_no_distance() -> None:
    """Positions wander while standing; a unit does not add that up."""
    found = satellite_distance(
        rolling(np.zeros(500)), np.arange(0.0, 100.0), 0.6, np.random.default_rng(1)
    )
    assert found[-1] == 0.0


def test_noise_has_the_spread_and_the_memory_asked_for() -> None:
    """Standard deviation, and correlation exp(-1) over the memory (numpy, 200,000 values)."""
    found = correlated(200_000, 10.0, 2.0, np.random.default_rng(1))
    assert found.std() == pytest.approx(2.0, rel=0.03)
    assert np.corrcoef(found[10:], found[:-10])[0, 1] == pytest.approx(np.exp(-1), abs=0.02)


def test_smoothing_comes_to_a_share_of_a_step_in_its_time_constant() -> None:
    """After one time constant a step is passed on to 1 - 1/e."""
    found = smoothed(np.ones(50), 5.0)
    assert found[4] == pytest.approx(1 - np.exp(-1))
    assert found[-1] == pytest.approx(1.0, abs=1e-3)


def test_dropouts_come_as_often_as_asked() -> None:
    """Sixty an hour of 4 to 20 s each lose about a fifth of the time; none lose none."""
    at_s = np.arange(0.0, 36_000.0)
    assert dropped(at_s, 60.0, np.random.default_rng(1)).mean() == pytest.approx(0.18, abs=0.03)
    assert not dropped(at_s, 0.0, np.random.default_rng(1)).any()


def test_slow_satellite_error_outlasts_the_fast_one() -> None:
    """With a drift the error still resembles itself after ten seconds: exp(-10 / 20) of it."""
    at_s = np.arange(0.0, 20_000.0)
    trace = rolling(np.full(100_000, 6.0))
    found = satellite_speed(trace, at_s, 0.0, 0.0, 0.05, np.random.default_rng(1), drift_mps=0.2)
    error = found[100:] - 6.0
    after_ten = np.corrcoef(error[10:], error[:-10])[0, 1]
    assert after_ten == pytest.approx(np.exp(-0.5) * 0.2**2 / (0.2**2 + 0.05**2), abs=0.06)


@pytest.mark.parametrize(("missed", "doubled", "factor"), [(1.0, 0.0, 0.5), (0.0, 1.0, 2.0)])
def test_a_bad_magnet_halves_or_doubles_the_count(
    missed: float, doubled: float, factor: float
) -> None:
    """Every second pulse missed is half the cadence, every pulse twice is double."""
    pulses_s = np.arange(0.0, 3600.0, 0.75)
    fault = PulseFault(0.0, 2.0, (4000.0, 4001.0), missed / 2, doubled)
    counts = [len(faulty(pulses_s, fault, np.random.default_rng(seed))) for seed in range(30)]
    assert factor * len(pulses_s) == pytest.approx(min(counts) if missed else max(counts), rel=0.05)


def test_jitter_moves_pulses_and_loses_none() -> None:
    """Fifteen milliseconds of it make an even turning uneven."""
    pulses_s = np.arange(0.0, 3600.0, 0.75)
    found = faulty(pulses_s, PulseFault(0.015, 0.0), np.random.default_rng(1))
    assert (found - pulses_s).std() == pytest.approx(0.015, rel=0.1)


def test_a_bad_sensor_reads_twice_the_cadence_now_and_then() -> None:
    """80 rpm all along: the record shows 160 in the spells and about 80 otherwise."""
    turns, t_s = steady(80 / 60, 3600)
    fault = PulseFault(0.0, 40.0, (10.0, 20.0), 0.0, 1.0)
    at_s = np.arange(0.0, 3600.0)
    found = 60 * pulse_rate(turns, t_s, at_s, 2.5, np.random.default_rng(3), fault)
    assert 0.02 < (found > 150).mean() < 0.2
    assert np.median(found) == pytest.approx(80.0, abs=0.5)


def test_while_the_radio_is_lost_a_unit_shows_nothing_or_the_last_value() -> None:
    """Both kinds are seen in real files."""
    values, lost = np.array([5.0, 6.0, 7.0, 8.0]), np.array([False, True, True, False])
    assert without(values, lost, True).tolist() == [5.0, 5.0, 5.0, 8.0]
    assert np.isnan(without(values, lost, False)).tolist() == lost.tolist()
    assert np.isnan(without(values, lost[::-1] | True, True)).all()
