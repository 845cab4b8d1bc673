"""Rows with numbers -> ``SAMPLE_SCHEMA``: turns become speeds, all channels share a time base."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.telemetry.logs import turns, windows
from ridelab.telemetry.ride import SAMPLE_SCHEMA

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from ridelab.campaign.loggers import Logger
    from ridelab.telemetry.notes import Notes

    Floats = NDArray[np.float64]

_MINUTE_S = 60.0
_NAMES = {
    "speed": "speed_mps",
    "cadence": "cadence_rpm",
    "power": "power_w",
    "wheel_power": "wheel_power_w",
    "altitude": "altitude_m",
    "distance": "distance_m",
    "latitude": "lat_deg",
    "longitude": "lon_deg",
}


#: Smallest step of a cadence that is told with a fraction; smaller ones are arithmetic.
_FINEST_RPM = 0.001


@dataclass(frozen=True)
class Samples:
    """The samples, when the first was taken, and the smallest step of the cadence."""

    samples: pl.DataFrame
    first_s: float
    cadence_resolution_rpm: float


@dataclass
class _Channels:
    """Columns of ``SAMPLE_SCHEMA``, nan where unknown, and the time between pulses behind them."""

    values: dict[str, Floats]
    pulse_s: dict[str, float]
    cadence_resolution_rpm: float = 1.0


def samples(rows: pl.DataFrame, logger: Logger, rollout_m: float | None, notes: Notes) -> Samples:
    """Return samples of rows with ``t_s``, strictly increasing, and a column a channel.

    ``rollout_m`` is not None where the logger needs one.
    """
    t_s = rows["t_s"].to_numpy()
    told: dict[str, Floats] = {
        channel.quantity: rows[channel.quantity].cast(pl.Float64).fill_null(np.nan).to_numpy()
        for channel in logger.channels
    }
    found = _channels(t_s, told, rollout_m or np.nan, notes)
    times, values = windows.averaged(t_s, found.values, _slowest(t_s, found))
    if len(times) < len(t_s):
        notes.note(
            f"{len(t_s)} rows, {_usual(t_s):.3g} s apart: averaged to {len(times)} samples, "
            f"{_usual(times):.3g} s apart"
        )
    columns = {name: values.get(name, np.full(len(times), np.nan)) for name in _NAMES.values()}
    frame = pl.DataFrame({"t_s": times - times[0], **columns}, nan_to_null=True)
    frame = frame.with_columns(timer_running=pl.lit(value=True)).select(SAMPLE_SCHEMA.names())
    return Samples(frame.cast(SAMPLE_SCHEMA), float(times[0]), found.cadence_resolution_rpm)


def _channels(t_s: Floats, told: Mapping[str, Floats], rollout_m: float, notes: Notes) -> _Channels:
    """Turn what was logged into what a ride has; turns of the wheel times the rollout."""
    found = _Channels({ours: told[logged] for logged, ours in _NAMES.items() if logged in told}, {})
    values = found.values
    if "cadence" in told:
        found.cadence_resolution_rpm = _smallest_step(values["cadence_rpm"])
    if "crank_pulses" in told:
        crank = turns.turning(t_s, told["crank_pulses"], "crank pulses", notes)
        values["cadence_rpm"] = crank.rate * _MINUTE_S
        found.pulse_s["cadence_rpm"] = crank.interval_s
        found.cadence_resolution_rpm = crank.resolution * _middle(values["cadence_rpm"])
    if "wheel_rpm" in told:
        values["speed_mps"] = told["wheel_rpm"] / _MINUTE_S * rollout_m
    if "wheel_pulses" in told:
        wheel = turns.turning(t_s, told["wheel_pulses"], "wheel pulses", notes)
        values["speed_mps"] = wheel.rate * rollout_m
        values.setdefault("distance_m", wheel.turns * rollout_m)
        found.pulse_s["speed_mps"] = wheel.interval_s
    return found


def _slowest(t_s: Floats, found: _Channels) -> windows.Pace:
    """Return the pace of the slower of speed and cadence, that of the rows where there is none."""
    paces = [
        windows.pace(t_s, found.values[name], found.pulse_s.get(name))
        for name in ("cadence_rpm", "speed_mps")
        if name in found.values
    ]
    known = [pace for pace in paces if pace]
    if known:
        return max(known, key=lambda pace: pace.interval_s)
    return windows.Pace(np.ones(len(t_s), dtype=np.bool_), _usual(t_s))


def _usual(t_s: Floats) -> float:
    return float(np.median(np.diff(t_s))) if len(t_s) > 1 else 1.0


def _middle(values: Floats) -> float:
    turning = values[values > 0]
    return float(np.median(turning)) if len(turning) else 0.0


def _smallest_step(cadence_rpm: Floats) -> float:
    """Return the smallest difference between two cadences that occur, at most one turn."""
    steps = np.diff(np.unique(cadence_rpm[np.isfinite(cadence_rpm)]))
    real = steps[steps > _FINEST_RPM]
    return min(1.0, float(real.min())) if len(real) else 1.0
