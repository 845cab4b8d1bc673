"""Rides recorded with different wheel settings are brought together, others left alone."""

from __future__ import annotations

import numpy as np
import pytest

from ridelab.gears import measure_vehicle
from ridelab.gears.align import ride_shifts
from ridelab.gears.observations import Observations, observe
from ridelab.gears.stretches import Stretches, steady_stretches
from tests.gears.riding import ride, sweep
from tests.gears.test_ladder import UNEVEN, ladder


def stretches(gears: range, rollout_m: float, seed: int) -> Stretches:
    """Return the stretches of a ride on a wheel of that size."""
    seen = observe(ride(sweep(gears), UNEVEN, rollout_m=rollout_m, seed=seed))
    assert isinstance(seen, Observations)
    return steady_stretches(seen)


def test_the_same_wheel_is_not_shifted() -> None:
    """Two rides of one wheel stay where they are, to the last bit."""
    parts = [stretches(range(1, 6), 2.1, 1), stretches(range(3, 8), 2.1, 2)]
    assert ride_shifts(parts).tolist() == [0.0, 0.0]


@pytest.mark.parametrize("other", [2.06, 2.14, 2.17])
def test_another_wheel_setting_is_found(other: float) -> None:
    """The difference of two shifts is ln of the quotient of the wheels, to 0.2 %."""
    parts = [stretches(range(1, 8), 2.1, 1), stretches(range(2, 7), other, 2)]
    shifts = ride_shifts(parts)
    assert shifts[1] - shifts[0] == pytest.approx(np.log(other / 2.1), abs=0.002)


def test_rides_without_a_common_gear_are_not_forced_together() -> None:
    """Gears that only one ride has are no sign of another wheel."""
    parts = [stretches(range(1, 4), 2.1, 1), stretches(range(5, 8), 2.1, 2)]
    assert ride_shifts(parts).tolist() == [0.0, 0.0]


def test_ladder_of_two_wheel_settings() -> None:
    """Ratios come out as built though one device was set 2 % off, and that is told."""
    first = ride(sweep(range(1, 8)), UNEVEN, rollout_m=2.10, name="a", seed=1)
    second = ride(sweep(range(1, 8)), UNEVEN, rollout_m=2.142, name="b", seed=2)
    found = measure_vehicle("heron", [first, second], ladder(UNEVEN), 2.1)
    assert found.gears["deviation"].abs().max() < 0.003  # type: ignore[operator]
    assert sum("another wheel" in problem.message for problem in found.problems) == 2
    alone = measure_vehicle("heron", [first, second], None, 2.1)
    assert len(alone.gears) == len(UNEVEN)


def test_no_stretches_at_all() -> None:
    """Rides without steady pedalling have nothing to be shifted by."""
    nothing = Stretches(np.empty(0), np.empty(0), np.empty(0), np.empty(0, dtype=np.int64))
    assert ride_shifts([nothing, nothing]).tolist() == [0.0, 0.0]
