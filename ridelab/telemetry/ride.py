"""What a reader makes of a file: one ride, its samples in SI units, and what was odd about it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import polars as pl

from ridelab.problems import Problem, Severity

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

__all__ = [
    "GEAR_CHANGE_SCHEMA",
    "PAUSE_SCHEMA",
    "SAMPLE_SCHEMA",
    "Problem",
    "Ride",
    "Severity",
    "SpeedSource",
]

SpeedSource = Literal["wheel sensor", "satellite", "unknown", "none"]

#: Columns of ``Ride.samples``: every reader returns all of them, in this order.
SAMPLE_SCHEMA = pl.Schema(
    {
        "t_s": pl.Float64(),  # seconds since Ride.started_at, pauses count
        "speed_mps": pl.Float64(),  # the file's speed field
        "cadence_rpm": pl.Float64(),  # crank, with its fraction where the file has one
        "power_w": pl.Float64(),  # at the crank where the file tells of two
        "wheel_power_w": pl.Float64(),  # at the driven wheel or its hub
        "altitude_m": pl.Float64(),
        "distance_m": pl.Float64(),  # the file's own running distance
        "lat_deg": pl.Float64(),
        "lon_deg": pl.Float64(),
        "timer_running": pl.Boolean(),  # false while the recording was paused
    }
)

#: Columns of ``Ride.gear_changes``: one row an event of an electronic shifting system.
GEAR_CHANGE_SCHEMA = pl.Schema(
    {
        "t_s": pl.Float64(),
        "front_gear": pl.Int32(),  # position, 1 = as the system counts; null where not told
        "front_teeth": pl.Int32(),
        "rear_gear": pl.Int32(),
        "rear_teeth": pl.Int32(),
    }
)

#: Columns of ``Ride.pauses``: the timer stopped at start_s and ran again at end_s.
PAUSE_SCHEMA = pl.Schema({"start_s": pl.Float64(), "end_s": pl.Float64()})


#: Columns that ``Ride.extra_fields`` has in any case.
EXTRA_FIELDS_SCHEMA = pl.Schema({"t_s": pl.Float64()})


@dataclass(frozen=True)
class Ride:
    """One recording, as read: nothing inferred, nothing smoothed.

    Attributes:
        path: the file it came from; on into an archive where it came out of one.
        sha256: of the file's content; the ride's identity.
        format: ``fit``, ``gpx`` or ``csv``.
        started_at: UTC time of the first record kept.
        samples: ``SAMPLE_SCHEMA``, sorted by ``t_s``.
        pauses: ``PAUSE_SCHEMA``, timer stops.
        gear_changes: ``GEAR_CHANGE_SCHEMA``, empty where the vehicle records none.
        extra_fields: ``t_s`` of each sample and a column for each field that an app or a sensor of
            its own (FIT: a developer field) added to the records, by the name and unit that the
            file gives it; as stored, not interpreted.
        sensors: kinds of the paired sensors, in the words of the FIT profile, such as
            ``bike_speed``, ``bike_cadence``, ``bike_speed_cadence``, ``bike_power``.
        speed_source: where the file says the speed comes from; ``none`` without any speed.
        cadence_resolution_rpm: smallest step of the cadence field as recorded (1 or 1/128).
        wheel_rollout_m: wheel circumference set in the recording device, if the file tells.
        problems: what was odd, in reading order.
        barometer: whether the file lists a barometer among the unit's parts.
        device: serial number of the unit that recorded it, None where the file tells none.
    """

    path: Path
    sha256: str
    format: str
    started_at: datetime
    samples: pl.DataFrame
    pauses: pl.DataFrame = field(default_factory=PAUSE_SCHEMA.to_frame)
    gear_changes: pl.DataFrame = field(default_factory=GEAR_CHANGE_SCHEMA.to_frame)
    extra_fields: pl.DataFrame = field(default_factory=EXTRA_FIELDS_SCHEMA.to_frame)
    sensors: tuple[str, ...] = ()
    speed_source: SpeedSource = "unknown"
    cadence_resolution_rpm: float = 1.0
    wheel_rollout_m: float | None = None
    problems: tuple[Problem, ...] = ()
    barometer: bool = False
    device: str | None = None

    @property
    def duration_s(self) -> float:
        """Seconds from the first to the last record, pauses included."""
        return float(self.samples["t_s"][-1])

    @property
    def distance_m(self) -> float | None:
        """Metres by the file's own count, first to last record; None if it keeps none."""
        known = self.samples["distance_m"].drop_nulls()
        return float(known[-1] - known[0]) if len(known) else None
