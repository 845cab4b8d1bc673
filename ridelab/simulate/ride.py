"""A scenario and a seed -> a ride with its truth, as frames and as a FIT file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.simulate.activity import activity_tables
from ridelab.simulate.fitfile import fit_bytes
from ridelab.simulate.gearing import Gears
from ridelab.simulate.recording import changed, recorded_samples
from ridelab.simulate.riding import Trace, ride
from ridelab.telemetry.ride import GEAR_CHANGE_SCHEMA, PAUSE_SCHEMA

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from numpy.typing import NDArray

    from ridelab.simulate.scenario import Scenario

#: The instant of every record, as it really was.
TRUTH_SCHEMA = pl.Schema(
    {
        "t_s": pl.Float64(),
        "speed_mps": pl.Float64(),
        "cadence_rpm": pl.Float64(),
        "gear": pl.Int32(),  # selected, numbered as published; null where stepless
        "ratio": pl.Float64(),  # as built
        "coupled": pl.Boolean(),
    }
)

#: One row a change of setting; where two settings share a gear, both gears are the same.
TRUE_SHIFT_SCHEMA = pl.Schema({"t_s": pl.Float64(), "from_gear": pl.Int32(), "to_gear": pl.Int32()})

_PAUSE_AFTER_S = 3.0


@dataclass(frozen=True)
class SimulatedRide:
    """A ride as it was and as it was recorded.

    Attributes:
        scenario: what was ridden.
        trace: the ride in steps of a fifth of a second.
        truth: ``TRUTH_SCHEMA``, one row a record.
        shifts: ``TRUE_SHIFT_SCHEMA``.
        recorded: ``SAMPLE_SCHEMA``, what the recording unit wrote.
        pauses: ``PAUSE_SCHEMA``.
        gear_changes: ``GEAR_CHANGE_SCHEMA``, empty without electronic shifting.
    """

    scenario: Scenario
    trace: Trace
    truth: pl.DataFrame
    shifts: pl.DataFrame
    recorded: pl.DataFrame
    pauses: pl.DataFrame
    gear_changes: pl.DataFrame

    def fit_content(self, started_at: datetime, serial: int | None = None) -> bytes:
        """Return the ride as the bytes of a FIT file; the time is cut to whole seconds.

        ``serial``: number of the recording unit.
        """
        return fit_bytes(activity_tables(self, started_at, serial))

    def to_fit(self, path: Path, started_at: datetime) -> None:
        """Write the ride as a FIT file whose first record is at ``started_at``."""
        path.write_bytes(self.fit_content(started_at))


def simulate_ride(scenario: Scenario, seed: int) -> SimulatedRide:
    """Ride a scenario; the same scenario and seed make the same ride to the last bit."""
    riding, recording = (np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(2))
    trace = ride(scenario, riding)
    at_s = np.arange(0.0, scenario.duration_s)
    recorded = recorded_samples(scenario, trace, at_s, recording)
    pauses = _pauses(trace, at_s) if scenario.sensors.auto_pause else PAUSE_SCHEMA.to_frame()
    kept = _running(at_s, pauses)
    if scenario.sensors.recording == "on change":
        kept &= changed(recorded)
    return SimulatedRide(
        scenario=scenario,
        trace=trace,
        truth=_truth(trace, at_s).filter(kept),
        shifts=pl.DataFrame(
            [(shift.t_s, shift.from_gear, shift.to_gear) for shift in trace.shifts],
            schema=TRUE_SHIFT_SCHEMA,
            orient="row",
        ),
        recorded=recorded.filter(kept),
        pauses=pauses,
        gear_changes=_gear_changes(scenario, trace),
    )


def _truth(trace: Trace, at_s: NDArray[np.float64]) -> pl.DataFrame:
    step = np.searchsorted(trace.t_s, at_s + 1e-6, side="right") - 1
    at = step.clip(0)
    gear = pl.Series(trace.gear[at])
    return pl.DataFrame(
        {
            "t_s": at_s,
            "speed_mps": trace.speed_mps[at],
            "cadence_rpm": trace.cadence_rpm[at],
            "gear": gear.replace(0, None),
            "ratio": trace.ratio[at],
            "coupled": trace.coupled[at],
        },
        schema=TRUTH_SCHEMA,
    )


def _pauses(trace: Trace, at_s: NDArray[np.float64]) -> pl.DataFrame:
    """Stops of the timer while standing, whole seconds; none at the start of the ride."""
    moving = np.interp(at_s, trace.t_s, trace.wheel_m)
    standing = np.diff(moving, append=moving[-1] + 1.0) < 1e-6
    edges = np.diff(standing.astype(int), prepend=0, append=0)
    starts, stops = np.flatnonzero(edges > 0).tolist(), np.flatnonzero(edges < 0).tolist()
    spans = [
        (float(at_s[start]) + _PAUSE_AFTER_S, float(at_s[min(stop, len(at_s) - 1)]))
        for start, stop in zip(starts, stops, strict=True)
        if stop - start > _PAUSE_AFTER_S and start > 0
    ]
    return pl.DataFrame(spans, schema=PAUSE_SCHEMA, orient="row")


def _running(at_s: NDArray[np.float64], pauses: pl.DataFrame) -> NDArray[np.bool_]:
    running = np.ones(len(at_s), dtype=bool)
    for start, end in pauses.iter_rows():
        running &= (at_s <= start) | (at_s >= end)
    return running


def _gear_changes(scenario: Scenario, trace: Trace) -> pl.DataFrame:
    """What electronic shifting told the unit: the setting at the start, and every new one."""
    gearing = scenario.vehicle.gearing
    if not scenario.sensors.gear_events or not isinstance(gearing, Gears):
        return GEAR_CHANGE_SCHEMA.to_frame()
    rows = []
    for t_s, at in [(0.0, trace.first_setting), *((s.t_s, s.to_setting) for s in trace.shifts)]:
        setting = gearing.settings[at]
        several = max(s.front for s in gearing.settings) > 1
        rows.append(
            (
                t_s,
                setting.front if several else None,
                setting.front_teeth or None,
                setting.rear,
                setting.rear_teeth or None,
            )
        )
    return pl.DataFrame(rows, schema=GEAR_CHANGE_SCHEMA, orient="row")
