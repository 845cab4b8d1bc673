"""What a method makes of a case, in one form for all methods; and ridelab's own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears import measure_vehicle
from tests.benchmarks.inference_cases import as_read

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from ridelab.gears.result import VehicleGears
    from ridelab.simulate import SimulatedRide
    from ridelab.telemetry.ride import Ride
    from tests.benchmarks.inference_cases import Case

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Whole = NDArray[np.int64]

#: No gear could be named.
NONE = 0


@dataclass(frozen=True)
class Named:
    """One ride: the gear of every record (``NONE`` where there is none), and whether it drove."""

    gear: Whole
    coupled: Flags


@dataclass(frozen=True)
class Found:
    """All rides of a case, and ln(development) of every gear that was measured."""

    rides: tuple[Named, ...]
    ln_developments: Mapping[int, float]


def readings(case: Case, rides: Sequence[SimulatedRide]) -> list[Ride]:
    """Return the rides as a reader hands them on."""
    return [as_read(ride, f"{case.name} {number}") for number, ride in enumerate(rides, 1)]


def measured(case: Case, read: Sequence[Ride]) -> VehicleGears:
    """Let ridelab measure a case."""
    return measure_vehicle(
        "vehicle",
        read,
        case.ladder if case.given else None,
        case.stated_rollout_m,
        case.rollout_is_measured,
    )


def as_found(result: VehicleGears) -> Found:
    """Return ridelab's result in the form of all methods."""
    rides = tuple(
        Named(
            ride.engaged["gear"].fill_null(NONE).cast(int).to_numpy(),
            ride.engaged["coupled"].fill_null(value=False).to_numpy(),
        )
        for ride in result.rides
    )
    rows = result.gears.select("gear", "development_m").iter_rows()
    return Found(rides, {int(gear): float(np.log(metres)) for gear, metres in rows})
