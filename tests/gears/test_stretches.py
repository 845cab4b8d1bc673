"""Steady stretches: what counts as holding still, and how well a stretch knows its development."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy.signal import lfilter

from ridelab.gears.observations import Observations, observe
from ridelab.gears.stretches import Stretches, steady_stretches
from tests.gears.riding import EVEN_14, ride, sweep

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.telemetry.ride import Ride


def wandering(schedule: Sequence[tuple[int, int]], sd_mps: float, memory_s: float = 10.0) -> Ride:
    """Return a ride whose satellite speed is off by ``sd_mps``, forgotten within ``memory_s``."""
    made = ride(schedule, EVEN_14, noise=0.001)
    rng = np.random.default_rng(4)
    kept = float(np.exp(-1.0 / memory_s))
    fresh = rng.normal(0.0, sd_mps * np.sqrt(1.0 - kept**2), len(made.samples))
    error = lfilter([1.0], [1.0, -kept], fresh)
    speed = (made.samples["speed_mps"] + pl.Series(error)).round(3)
    return replace(
        made, samples=made.samples.with_columns(speed_mps=speed), speed_source="satellite"
    )


def stretches(made: Ride) -> Stretches:
    """Return the steady stretches of a ride."""
    seen = observe(made)
    assert isinstance(seen, Observations)
    return steady_stretches(seen)


def test_speed_that_wanders_leaves_its_stretches() -> None:
    """6 cm/s for ten seconds on end, 3 % in the lowest gear: most of the ride still holds still."""
    found = stretches(wandering(sweep(range(1, 15)), 0.06))
    assert found.seconds.sum() > 0.75 * 14 * 80


def test_a_stretch_knows_its_development_as_well_as_the_speed_is_known() -> None:
    """Distances from the gears are 1 to 1.6 standard errors: an error shows a part of itself.

    The slower, the less sure.
    """
    found = stretches(wandering(sweep(range(1, 15), 40, 6), 0.06))
    gears = np.log(2.1 * np.array(EVEN_14))
    off = np.abs(found.ln_development[:, None] - gears).min(axis=1) / found.sd
    assert 1.0 < np.median(off) / 0.6745 < 1.6
    slow = found.ln_development < gears[4]
    assert np.median(found.sd[slow]) > 2.0 * np.median(found.sd[~slow])


def test_a_wheel_sensor_does_not_wander() -> None:
    """Turns of the wheel are counted: the error of a stretch is that of its samples' mean."""
    made = ride(sweep(range(4, 12)), EVEN_14)
    found = stretches(made)
    assert found.sd.max() < 0.006
    slow = stretches(replace(made, speed_source="satellite"))
    assert found.sd.max() < slow.sd.max()


def test_pieces_of_one_hold_stay_together_although_the_speed_wanders() -> None:
    """Two minutes in each of six gears, in pieces of 20 s: six holds, and hardly any more."""
    found = stretches(wandering([(gear, 120) for gear in (2, 5, 8, 11, 14, 4)], 0.06))
    assert len(found) > 25
    assert 6 <= len(np.unique(found.hold)) <= 12
