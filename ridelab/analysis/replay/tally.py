"""What replays come to: sums of each ride, and from these figures with their uncertainty.

Rides of one rider differ more than the moments of a ride, so rides are what is drawn at random:
each figure is computed again without each ride in turn (the jackknife; J. Tukey 1958, B. Efron and
C. Stein, Annals of Statistics 9 (1981) 586-596, from memory), and Student's t with one degree of
freedom less than rides widens what few rides would make look too sure. A difference of two replays
is computed the same way, ride by ride, so what the rides have in common cancels.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from ridelab.drivetrain.grouping import FEEL_WITHIN, group_starts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.analysis.replay.comfort import Band
    from ridelab.analysis.replay.gearing import Gearing

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Places = NDArray[np.int64]

#: How gears were chosen: as they were, by somebody who knows the road, or by the rider's habits.
Policy = Literal["as ridden", "looking ahead", "by habit"]
#: What stays as it was.
Assumption = Literal["speed as ridden", "effort as ridden"]

#: What is summed over each ride.
SUMS = (
    "seconds", "below_s", "above_s", "log", "log_squared", "shifts", "metres", "bottom_s", "top_s",
    "lower_s", "higher_s", "moving_s",
)  # fmt: skip
#: What follows from the sums. Shares are of the driven seconds.
QUANTITIES = (
    "below", "above", "outside", "spread", "shifts_per_km", "bottom", "top", "lower", "higher",
    "moving_s",
)  # fmt: skip


@dataclass(frozen=True)
class Estimate:
    """A figure and its 95 % interval, which one ride alone cannot give."""

    value: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Tally:
    """What one way to shift one drivetrain came to.

    ``sums``: rides × ``SUMS``; ``gear_s``: rides × gears, seconds driven in each; no gears where
    stepless.
    """

    gearing: Gearing
    policy: Policy
    assumption: Assumption
    sums: Floats
    gear_s: Floats

    @property
    def rides(self) -> int:
        """How many rides it is made of."""
        return len(self.sums)

    def total(self, name: str) -> float:
        """Return a sum over all rides."""
        return float(self.sums[:, SUMS.index(name)].sum())

    def estimate(self, quantity: str) -> Estimate:
        """Return a figure with its interval."""
        return _estimate(_figures(self.sums), QUANTITIES.index(quantity), floor=0.0)

    def minus(self, other: Tally, quantity: str) -> Estimate:
        """Return by how much a figure exceeds that of another tally of the same rides."""
        apart = _figures(self.sums) - _figures(other.sums)
        return _estimate(apart, QUANTITIES.index(quantity))

    @property
    def unneeded(self) -> tuple[int, ...]:
        """Numbers of the gears that were driven for less than ten seconds in all."""
        spent = self.gear_s.sum(axis=0).tolist()
        return tuple(
            number for number, s in zip(self.gearing.numbers, spent, strict=True) if s < LEAST_S
        )


#: A gear driven for less than this in all was not needed; as long as one must be to be measured.
LEAST_S = 10.0


def ride_sums(
    log_cadence: Floats, seconds: Floats, places: Places | None, gearing: Gearing, band: Band
) -> dict[str, Floats]:
    """Return what can be summed of the driving, one value a ride.

    ``log_cadence``, ``seconds``: moments × rides; ``places``: of the gears, None where stepless.
    """
    below, above = log_cadence < band.log_low, log_cadence > band.log_high
    if places is None:
        # Held in the middle of the band wherever a ratio allows it: what is outside had none left.
        lowest, highest = below, above
    else:
        lowest, highest = places == 0, places == len(gearing.numbers) - 1
    felt = np.where(seconds > 0, log_cadence, 0.0)

    def over(which: Flags) -> Floats:
        return np.asarray(np.where(which, seconds, 0.0).sum(axis=0))

    return {
        "seconds": seconds.sum(axis=0),
        "below_s": over(below),
        "above_s": over(above),
        "log": (seconds * felt).sum(axis=0),
        "log_squared": (seconds * felt * felt).sum(axis=0),
        "bottom_s": over(below & lowest),
        "top_s": over(above & highest),
    }


def gear_seconds(places: Places, seconds: Floats, gears: int) -> Floats:
    """Return the seconds driven in each gear, rides × gears."""
    rides = np.arange(places.shape[1])
    out = np.zeros((places.shape[1], gears))
    if not gears:
        return out
    np.add.at(out, (np.broadcast_to(rides, places.shape), places), seconds)
    return out


def joined(parts: Sequence[Tally]) -> Tally:
    """Put the rides of several tallies of one kind together."""
    first = parts[0]
    return Tally(
        first.gearing,
        first.policy,
        first.assumption,
        np.concatenate([one.sums for one in parts]),
        np.concatenate([one.gear_s for one in parts]),
    )


def alike(one: Tally, other: Tally) -> float:
    """Return the share of driving that two tallies of one ladder spend in the same gears.

    Over all rides; gears within 5 % of the lowest of a group count as one, for nobody feels which
    of them it is (common practice, no source). One minus half the sum of differences of shares.
    """
    starts = group_starts(np.array(one.gearing.development_m), FEEL_WITHIN)
    own, its = (np.add.reduceat(tally.gear_s.sum(axis=0), starts) for tally in (one, other))
    if not own.sum() or not its.sum():
        return 0.0
    return 1.0 - 0.5 * float(np.abs(own / own.sum() - its / its.sum()).sum())


def _figures(sums: Floats) -> Floats:
    """Return ``QUANTITIES`` over all rides in the first row, then without each ride in turn."""
    total = sums.sum(axis=0)
    rows = np.vstack([total, total - sums]) if len(sums) > 1 else total[None]
    named = dict(zip(SUMS, rows.T, strict=True))
    seconds = np.where(named["seconds"] > 0, named["seconds"], np.nan)
    km = np.where(named["metres"] > 0, named["metres"], np.nan) / 1000.0
    mean = named["log"] / seconds
    shares = {
        name: named[f"{name}_s"] / seconds
        for name in ("below", "above", "bottom", "top", "lower", "higher")
    }
    figures = shares | {
        "outside": shares["below"] + shares["above"],
        "spread": np.sqrt(np.maximum(named["log_squared"] / seconds - mean**2, 0.0)),
        "shifts_per_km": named["shifts"] / km,
        "moving_s": named["moving_s"],
    }
    return np.stack([figures[name] for name in QUANTITIES], axis=1)


def _estimate(figures: Floats, column: int, floor: float | None = None) -> Estimate:
    from scipy.special import stdtrit

    value, without = float(figures[0, column]), figures[1:, column]
    count = len(without)
    if count < 2 or not np.isfinite(without).all():
        return Estimate(value)
    # A sum without one ride is smaller than the whole by design: scaled, it is a figure of its own.
    if QUANTITIES[column] == "moving_s":
        without = without * count / (count - 1)
    spread = (count - 1) / count * float(((without - without.mean()) ** 2).sum())
    half = float(stdtrit(count - 1, 0.975)) * spread**0.5
    low = value - half if floor is None else max(floor, value - half)
    return Estimate(value, low, value + half)
