"""How well gears are known together, and by what riding they would be known better."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.gears.result import COVARIANCE_SCHEMA, Precision

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.decode import Decoded
    from ridelab.gears.ladder import Rungs
    from ridelab.gears.noise import Noise
    from ridelab.gears.observations import Flags, Observations
    from ridelab.gears.spells import Estimate

#: The middle half of the cadences is where a rider pedals as usual.
_USUAL = (0.25, 0.75)


def covariances(rungs: Rungs, listed: Estimate) -> pl.DataFrame:
    """Return the covariance of ln(development) of every two measured gears."""
    numbers = rungs.numbers[listed.gears]
    count = len(numbers)
    columns = {
        "gear": np.repeat(numbers, count),
        "other": np.tile(numbers, count),
        "covariance": listed.covariance.ravel(),
    }
    return pl.DataFrame(columns).select(pl.col(n).cast(k) for n, k in COVARIANCE_SCHEMA.items())


@dataclass(frozen=True)
class Scatter:
    """What the seconds of a ride scatter by, errors that last counted in, as variances.

    ``share``: of ln(development) in one second; ``speed_mps2``: of the speed; ``bias_mps``: what
    the speed may be off by throughout. The first two are nan where nothing was driven.
    """

    share: float
    speed_mps2: float
    bias_mps: float


def scatter(seen: Observations, made: Decoded, noise: Noise) -> Scatter:
    """Return the scatter of a ride, by the noise that it was decoded with.

    Errors last, so that a second tells less than it would alone: its variance is that of a sample
    times (1 + memory) / (1 - memory), as for a mean of an autoregressive series.
    """
    driven = _driven(seen, made)
    if not driven.any():
        return Scatter(math.nan, math.nan, seen.bias_mps)
    lasting = (1.0 + noise.memory) / (1.0 - noise.memory)
    speed_mps = seen.speed_mps[driven]
    rest = seen.total_sigma(noise)[driven] ** 2 - (noise.speed_mps / speed_mps) ** 2
    every_s = float(np.median(seen.seconds[driven]))
    return Scatter(
        share=lasting * every_s * float(np.median(rest)),
        speed_mps2=lasting * every_s * noise.speed_mps**2,
        bias_mps=seen.bias_mps,
    )


def usual_cadence_rpm(
    seen: Sequence[Observations], decoded: Sequence[Decoded]
) -> tuple[float, float]:
    """Return the ends of the middle half of the cadences that drove; nan where none did."""
    driven = [_driven(one, made) for one, made in zip(seen, decoded, strict=True)]
    cadences = [
        60.0 * one.speed_mps[own] / np.exp(one.ln_development[own])
        for one, own in zip(seen, driven, strict=True)
    ]
    rpm = np.concatenate(cadences)
    if not len(rpm):
        return math.nan, math.nan
    low, high = np.quantile(rpm, _USUAL)
    return float(low), float(high)


def precision(
    found: Estimate | None, rides: Sequence[Scatter], usual_rpm: tuple[float, float]
) -> Precision | None:
    """Return what a second, a spell and a ride leave uncertain; None where nothing was ridden.

    ``usual_rpm``: as of ``usual_cadence_rpm``.
    """
    shares = [one.share for one in rides if not math.isnan(one.share)]
    if found is None or not shares:
        return None
    speeds = [one.speed_mps2 for one in rides if not math.isnan(one.share)]
    return Precision(
        freedom=found.freedom,
        spell_sd=found.spell_sd,
        ride_sd=found.ride_sd,
        second_sd=math.sqrt(max(float(np.mean(shares)), 0.0)),
        second_mps=math.sqrt(float(np.mean(speeds))),
        bias_mps=max(one.bias_mps for one in rides),
        cadence_low_rpm=usual_rpm[0],
        cadence_high_rpm=usual_rpm[1],
    )


def _driven(seen: Observations, made: Decoded) -> Flags:
    return made.coupled & np.isfinite(seen.ln_development) & (seen.speed_mps > 0.0)
