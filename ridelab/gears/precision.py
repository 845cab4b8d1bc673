"""How well gears are known together, and by what riding they would be known better."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.gears.result import COVARIANCE_SCHEMA, Precision

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.fitting import Fit
    from ridelab.gears.ladder import Rungs
    from ridelab.gears.observations import Floats, Observations
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


def precision(seen: Sequence[Observations], fit: Fit) -> Precision | None:
    """Return what a second, a spell and a ride leave uncertain; None where nothing was ridden.

    Errors last, so that a second tells less than it would alone: its variance is that of a sample
    times (1 + memory) / (1 - memory), as for a mean of an autoregressive series.
    """
    if fit.estimate is None:
        return None
    shares: list[float] = []
    speeds: list[float] = []
    cadences: list[Floats] = []
    for one, made, noise in zip(seen, fit.decoded, fit.noise, strict=True):
        driven = made.coupled & np.isfinite(one.ln_development) & (one.speed_mps > 0.0)
        if not driven.any():
            continue
        lasting = (1.0 + noise.memory) / (1.0 - noise.memory)
        speed_mps = one.speed_mps[driven]
        rest = one.total_sigma(noise)[driven] ** 2 - (noise.speed_mps / speed_mps) ** 2
        every_s = float(np.median(one.seconds[driven]))
        shares.append(lasting * every_s * float(np.median(rest)))
        speeds.append(lasting * every_s * noise.speed_mps**2)
        cadences.append(60.0 * speed_mps / np.exp(one.ln_development[driven]))
    if not cadences:
        return None
    low_rpm, high_rpm = np.quantile(np.concatenate(cadences), _USUAL)
    return Precision(
        freedom=fit.estimate.freedom,
        spell_sd=fit.estimate.spell_sd,
        ride_sd=fit.estimate.ride_sd,
        second_sd=math.sqrt(max(float(np.mean(shares)), 0.0)),
        second_mps=math.sqrt(float(np.mean(speeds))),
        bias_mps=max(one.bias_mps for one in seen),
        cadence_low_rpm=float(low_rpm),
        cadence_high_rpm=float(high_rpm),
    )
