"""What sensors and the recording unit make of a ride: errors that come from causes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from ridelab.simulate.course import SPACING_M
from ridelab.simulate.faults import PulseFault, faulty
from ridelab.simulate.noise import correlated, smoothed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.simulate.course import Course
    from ridelab.simulate.riding import Trace

    Floats = NDArray[np.float64]

#: Sensors stamp a pulse with a clock of this step (the usual 1/1024 s; common practice, no source).
CLOCK_S = 1.0 / 1024.0
_RADIO_DELAY_S = 0.25  # longest from a pulse to the unit
_POSITION_MEMORY_S = 20.0
_SPEED_MEMORY_S, _DRIFT_MEMORY_S = 1.5, 20.0
_ACROSS = 1.5  # positions stray more across the road and in height than along it
_POWER_STRAY = 0.015
_ALTITUDE_MEMORY_S, _ALTITUDE_STRAY_M = 300.0, 1.5
_EARTH_M_PER_DEG = 111_195.0  # of a sphere of 6371 km
_STANDING_MPS = 0.05


def pulse_rate(
    turns: Floats, trace_t_s: Floats, at_s: Floats, hold_s: float, rng: np.random.Generator,
    fault: PulseFault | None = None,
) -> Floats:  # fmt: skip
    """Turns a second as a magnet sensor tells them at the times ``at_s``.

    The sensor sends how many pulses there were and when the last one was. The unit divides the new
    pulses by the time between the last one it knew and the last one now; without a new pulse it
    shows the last value for ``hold_s`` and then zero.
    """
    pulses_s = _pulse_times(turns, trace_t_s, float(rng.random()))
    if fault is not None:
        pulses_s = _on_clock(faulty(pulses_s, fault, rng))
    count = _counted(pulses_s, at_s, rng)
    before = np.concatenate([[0], count[:-1]])
    new = count - before
    rates = np.zeros(len(at_s))
    fresh = (new > 0) & (count > 1)
    last, first = pulses_s[count[fresh] - 1], pulses_s[np.maximum(before[fresh], 1) - 1]
    turned = count[fresh] - np.maximum(before[fresh], 1)
    span_s = last - first
    with np.errstate(divide="ignore", invalid="ignore"):
        found = turned / span_s
    # a first pulse after standing still tells no rate
    rates[fresh] = np.where((span_s > 0) & (span_s < hold_s * turned), found, 0.0)
    return _held(rates, fresh, count, pulses_s, at_s, hold_s)


def counted_turns(turns: Floats, trace_t_s: Floats, at_s: Floats) -> Floats:
    """Whole turns that a sensor has counted by the times ``at_s``."""
    return np.floor(np.interp(at_s, trace_t_s, turns, left=0.0))


def _pulse_times(turns: Floats, trace_t_s: Floats, phase: float) -> Floats:
    """When the magnet passed, to the step of the sensor's clock."""
    numbers = np.arange(math.ceil(phase), math.floor(turns[-1] + phase) + 1) - phase
    after = np.searchsorted(turns, numbers).clip(1, len(turns) - 1)
    done = (numbers - turns[after - 1]) / np.maximum(turns[after] - turns[after - 1], 1e-12)
    times = trace_t_s[after - 1] + done * (trace_t_s[after] - trace_t_s[after - 1])
    return _on_clock(times)


def _on_clock(times_s: Floats) -> Floats:
    return np.asarray(np.round(times_s / CLOCK_S) * CLOCK_S)


def _counted(pulses_s: Floats, at_s: Floats, rng: np.random.Generator) -> NDArray[np.int64]:
    heard_s = at_s - rng.uniform(0.0, _RADIO_DELAY_S, len(at_s))
    return np.maximum.accumulate(np.searchsorted(pulses_s, heard_s, side="right"))


def _held(
    rates: Floats,
    fresh: NDArray[np.bool_],
    count: NDArray[np.int64],
    pulses_s: Floats,
    at_s: Floats,
    hold_s: float,
) -> Floats:
    latest = np.maximum.accumulate(np.where(fresh, np.arange(len(rates)), -1))
    shown = np.where(latest >= 0, rates[latest], 0.0)
    silence_s = at_s - np.where(count > 0, pulses_s[np.maximum(count, 1) - 1], -np.inf)
    return np.where(silence_s > hold_s, 0.0, shown)


def satellite_speed(
    trace: Trace, at_s: Floats, lag_s: float, smoothing_s: float, noise_mps: float,
    rng: np.random.Generator, drift_mps: float = 0.0,
) -> Floats:  # fmt: skip
    """Speed of a unit that has only positions: late, smoothed, and with noise that lasts.

    ``noise_mps`` forgets itself within seconds, ``drift_mps`` over some twenty.
    """
    true = np.interp(at_s - lag_s, trace.t_s, trace.speed_mps, left=0.0)
    error = correlated(len(at_s), _SPEED_MEMORY_S, noise_mps, rng)
    if drift_mps > 0.0:
        error += correlated(len(at_s), _DRIFT_MEMORY_S, drift_mps, rng)
    noisy = true + error * (true > _STANDING_MPS)
    if smoothing_s <= 0:
        return np.maximum(noisy, 0.0)
    return np.maximum(smoothed(noisy, smoothing_s), 0.0)


def satellite_distance(
    trace: Trace, at_s: Floats, noise_m: float, rng: np.random.Generator
) -> Floats:
    """Distance that a unit adds up from its positions: not late, but uneven."""
    along = np.interp(at_s, trace.t_s, trace.wheel_m, left=0.0)
    strayed = along + correlated(len(at_s), _POSITION_MEMORY_S, noise_m, rng)
    steps = np.diff(strayed, prepend=strayed[0])
    moving = np.diff(along, prepend=along[0]) > _STANDING_MPS
    return np.asarray(np.cumsum(np.maximum(steps, 0.0) * moving))


def positions(
    course: Course, trace: Trace, at_s: Floats, noise_m: float, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Latitude and longitude, degrees, of a course laid out in the open sea from 0° N 0° E."""
    north = np.cumsum(np.cos(course.heading_rad)) * SPACING_M
    east = np.cumsum(np.sin(course.heading_rad)) * SPACING_M
    along = np.interp(at_s, trace.t_s, trace.wheel_m, left=0.0)
    road_m = np.arange(len(north)) * SPACING_M
    stray = [correlated(len(at_s), _POSITION_MEMORY_S, _ACROSS * noise_m, rng) for _ in range(2)]
    lat, lon = (
        (np.interp(along, road_m, way) + error) / _EARTH_M_PER_DEG
        for way, error in zip((north, east), stray, strict=True)
    )
    return lat, lon


def altitude(course: Course, trace: Trace, at_s: Floats, rng: np.random.Generator) -> Floats:
    """Height of the road by a barometer, which drifts with the weather."""
    along = np.interp(at_s, trace.t_s, trace.wheel_m, left=0.0)
    road_m = np.arange(len(course.altitude_m)) * SPACING_M
    drift = correlated(len(at_s), _ALTITUDE_MEMORY_S, _ALTITUDE_STRAY_M, rng)
    return np.interp(along, road_m, course.altitude_m) + drift


def power(trace: Trace, at_s: Floats, rng: np.random.Generator) -> Floats:
    """Power meter: mean over the last second, off by a little more than one per cent."""
    work = np.concatenate([[0.0], np.cumsum(trace.power_w) * (trace.t_s[1] - trace.t_s[0])])
    times = np.concatenate([[0.0], trace.t_s])
    mean = np.interp(at_s, times, work) - np.interp(at_s - 1.0, times, work, left=0.0)
    return np.asarray(np.rint(mean * (1.0 + rng.normal(0.0, _POWER_STRAY, len(at_s)))))
