"""What is kept of rides that were measured: all that measuring further ones beside them takes.

Sufficient statistics of the mixed model that measures gears are the spells; beside them go how
long and how far each gear was engaged, and by what seconds scatter. Samples are not needed again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears import measured
from ridelab.gears.fitting import typical
from ridelab.gears.measured import Use
from ridelab.gears.precision import Scatter, scatter, usual_cadence_rpm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.fitting import Fit
    from ridelab.gears.ladder import Rungs
    from ridelab.gears.observations import Floats, Observations
    from ridelab.gears.spells import Spells
    from ridelab.telemetry.ride import Ride


@dataclass(frozen=True)
class KeptRide:
    """What is kept of one ride.

    ``seconds``, ``metres``: engaged and coupled in each gear of the ladder; ``usual_sd``: noise of
    its samples in ln(development), all causes together.
    """

    ride: str
    spells: Spells
    seconds: Floats
    metres: Floats
    scatter: Scatter
    usual_sd: float


@dataclass(frozen=True)
class Kept:
    """A vehicle's ladder with the rides that were decoded with it.

    Attributes:
        rungs: the ladder as last fitted to samples.
        unridden: indices of gears that only noise had named.
        fitted: how many of the rides that fit had.
        usual_rpm: the ends of the middle half of the cadences that it saw.
        rides: in the order they were ridden, further ones behind.
        others: rides in which no gear can be named.
        basis: what identifies the method, and the ladder and rollout as stated.
    """

    rungs: Rungs
    unridden: tuple[int, ...]
    fitted: int
    usual_rpm: tuple[float, float]
    rides: tuple[KeptRide, ...]
    others: tuple[str, ...] = ()
    basis: str = ""

    @property
    def known(self) -> tuple[str, ...]:
        """Return all rides that were measured."""
        return (*(ride.ride for ride in self.rides), *self.others)

    @property
    def use(self) -> Use:
        """Return how long and how far each gear was engaged."""
        return Use(
            np.array([ride.seconds for ride in self.rides]),
            np.array([ride.metres for ride in self.rides]),
        )


def kept(
    seen: Sequence[Observations], fit: Fit, unridden: Sequence[int], others: Sequence[str]
) -> Kept:
    """Return what to keep of a fit to samples; ``others``: rides that name no gear."""
    usual_rpm = usual_cadence_rpm(seen, fit.decoded)
    rides = kept_rides(seen, fit)
    return Kept(fit.rungs, tuple(unridden), len(rides), usual_rpm, rides, tuple(others))


def without_gears(rides: Sequence[Ride], observed: Sequence[Observations | str]) -> tuple[str, ...]:
    """Return the rides in which no gear can be named."""
    return tuple(
        ride.sha256 for ride, one in zip(rides, observed, strict=True) if isinstance(one, str)
    )


def kept_rides(seen: Sequence[Observations], fit: Fit) -> tuple[KeptRide, ...]:
    """Return what to keep of the rides of a fit."""
    used = measured.use(seen, fit.decoded, fit.rungs.count)
    return tuple(
        KeptRide(one.ride, spells, seconds, metres, scatter(one, made, noise), float(usual))
        for one, made, noise, spells, seconds, metres, usual in zip(
            seen,
            fit.decoded,
            fit.noise,
            fit.spells,
            used.seconds,
            used.metres,
            typical(seen, fit.noise),
            strict=True,
        )
    )
