"""What the recording unit writes of a ride: one record a second, or one when something changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.simulate import sensors as sense
from ridelab.simulate.faults import dropped, without
from ridelab.simulate.noise import smoothed, strayed
from ridelab.telemetry.ride import SAMPLE_SCHEMA

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.simulate.riding import Trace
    from ridelab.simulate.scenario import Scenario

    Floats = NDArray[np.float64]

_CADENCE_FRACTION_RPM = 1.0 / 128.0
_MM = 1000.0
#: A unit that records on change writes when speed or cadence moved by so much since the last
#: record, and after so long at the latest: intervals of 1 to 8 s, as in real files.
_NEWS = {"speed_mps": 0.4, "cadence_rpm": 3.0}
_LONGEST_S = 8.0


def recorded_samples(
    scenario: Scenario, trace: Trace, at_s: Floats, rng: np.random.Generator
) -> pl.DataFrame:
    """Return ``SAMPLE_SCHEMA`` with a record at each of these times."""
    sensors = scenario.sensors
    speed, distance = _speed_and_distance(scenario, trace, at_s, rng)
    power = np.full(len(at_s), np.nan)
    cadence = _cadence(scenario, trace, at_s, rng)
    if sensors.power_meter:
        power = sense.power(trace, at_s, rng)
    latitude, longitude = sense.positions(
        scenario.course, trace, at_s, sensors.position_noise_m, rng
    )
    columns = {
        "t_s": at_s,
        "speed_mps": np.round(speed * _MM) / _MM,
        "cadence_rpm": cadence,
        "power_w": power,
        "wheel_power_w": np.full(len(at_s), np.nan),
        "altitude_m": np.round(sense.altitude(scenario.course, trace, at_s, rng) * 5.0) / 5.0,
        "distance_m": np.round(distance, 2),
        "lat_deg": latitude,
        "lon_deg": longitude,
        "timer_running": np.full(len(at_s), fill_value=True),
    }
    return pl.DataFrame(columns, schema=SAMPLE_SCHEMA, nan_to_null=True)


def _cadence(scenario: Scenario, trace: Trace, at_s: Floats, rng: np.random.Generator) -> Floats:
    sensors = scenario.sensors
    hold_s = sensors.hold_s if sensors.cadence_hold_s is None else sensors.cadence_hold_s
    cadence = 60.0 * sense.pulse_rate(
        trace.crank_turns, trace.t_s, at_s, hold_s, rng, sensors.cadence_fault
    )
    step = _CADENCE_FRACTION_RPM if sensors.cadence_fraction else 1.0
    cadence = np.floor(cadence / step + 0.5) * step
    lost = dropped(at_s, sensors.dropouts_per_hour, rng)
    return without(cadence, lost, sensors.dropout == "last value")


def _speed_and_distance(
    scenario: Scenario, trace: Trace, at_s: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    sensors, rollout_m = scenario.sensors, scenario.vehicle.rollout_m
    if sensors.speed == "satellite":
        speed = sense.satellite_speed(
            trace,
            at_s,
            sensors.lag_s,
            sensors.smoothing_s,
            sensors.speed_noise_mps,
            rng,
            sensors.speed_drift_mps,
        )
        return speed, sense.satellite_distance(trace, at_s, sensors.position_noise_m, rng)
    set_m = sensors.set_rollout_m or rollout_m
    turns = trace.wheel_turns
    if sensors.wheel == "other":
        turns = trace.wheel_m / (rollout_m * strayed(scenario.vehicle.tyre.day, rng))
    late_s = at_s - sensors.wheel_lag_s
    speed = set_m * sense.pulse_rate(turns, trace.t_s, late_s, sensors.hold_s, rng)
    if sensors.wheel_smoothing_s > 0.0:
        speed = smoothed(speed, sensors.wheel_smoothing_s)
    distance = set_m * sense.counted_turns(turns, trace.t_s, at_s)
    lost = dropped(at_s, sensors.dropouts_per_hour, rng)
    shows_last = sensors.dropout == "last value"
    return without(speed, lost, shows_last), without(
        distance, lost, True
    ) if shows_last else distance


def changed(recorded: pl.DataFrame) -> NDArray[np.bool_]:
    """Return which of these records a unit writes that saves space; the first one it does."""
    t_s = recorded["t_s"].to_list()
    values = [(recorded[name].to_list(), least) for name, least in _NEWS.items()]
    kept = np.zeros(len(t_s), dtype=bool)
    last = -1
    for i in range(len(t_s)):
        if last < 0 or t_s[i] - t_s[last] >= _LONGEST_S or _is_news(values, last, i):
            kept[i], last = True, i
    return kept


def _is_news(values: list[tuple[list[float | None], float]], last: int, now: int) -> bool:
    for column, least in values:
        before, after = column[last], column[now]
        if before is None or after is None:
            if before is not after:
                return True
        elif abs(after - before) >= least:
            return True
    return False
