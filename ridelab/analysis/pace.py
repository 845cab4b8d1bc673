"""At what speed and cadence a gear is asked to be ridden, by plans and by verdicts alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridelab.analysis.evidence import Evidence

#: Faster than this is asked of nobody, however high the gear.
FASTEST_MPS = 10.0
#: Where speed comes from satellites, how much faster than usual a rider had better pedal.
BRISKER_RPM = 6.0


def pace(gear: int, evidence: Evidence) -> tuple[float, float, float, float]:
    """Return speeds (m/s, from, to) and cadences (rpm, from, to) to ride a gear at.

    The cadence is the usual one, brisker where the speed comes from satellites: what that is off by
    weighs the less the faster the ride.
    """
    known = evidence.precision
    assert known is not None  # noqa: S101 - nothing is planned without it
    low_rpm, high_rpm = known.cadence_low_rpm, known.cadence_high_rpm
    if known.bias_mps > 0.0:
        low_rpm, high_rpm = (low_rpm + high_rpm) / 2, high_rpm + BRISKER_RPM
    high_rpm = max(high_rpm, low_rpm + 10.0)
    rollout_m = evidence.wheel.effective_m.value if evidence.wheel else 2.1
    per_rpm = evidence.published[gear] * rollout_m / 60.0
    slower = min(1.0, FASTEST_MPS / (per_rpm * low_rpm))
    low_rpm, high_rpm = low_rpm * slower, high_rpm * slower
    return per_rpm * low_rpm, per_rpm * high_rpm, low_rpm, high_rpm


def least_speed_mps(gears: Iterable[int], evidence: Evidence) -> float | None:
    """Return the speed (m/s) above which to ride one gear; None of several, or where unknown."""
    numbers = tuple(gears)
    if len(numbers) != 1 or evidence.wheel is None or evidence.precision is None:
        return None
    return pace(numbers[0], evidence)[0]
