"""What ridelab is held against: one process, one loop, the nearest ratio to each record."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import fitdecode

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path


def seconds_a_ride(files: Sequence[Path], ratios: Sequence[float], rollout_m: float) -> float:
    """Return the processor time that it takes to tell the seconds in each gear of a ride."""
    began = time.process_time()
    for file in files:
        assert sum(time_in_gears(file, ratios, rollout_m)) > 0
    return (time.process_time() - began) / len(files)


def time_in_gears(file: Path, ratios: Sequence[float], rollout_m: float) -> list[int]:
    """Return how many records of a file lie nearest to each ratio."""
    seconds = [0] * len(ratios)
    with fitdecode.FitReader(file) as reader:
        for frame in reader:
            if not isinstance(frame, fitdecode.FitDataMessage) or frame.name != "record":
                continue
            speed = frame.get_value("enhanced_speed", fallback=None)
            if speed is None:
                speed = frame.get_value("speed", fallback=None)
            cadence = frame.get_value("cadence", fallback=None)
            if not speed or not cadence:
                continue
            ratio = 60.0 * speed / cadence / rollout_m
            nearest = min(range(len(ratios)), key=lambda gear: abs(ratios[gear] - ratio))
            seconds[nearest] += 1
    return seconds
