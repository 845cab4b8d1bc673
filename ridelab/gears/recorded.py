"""Gear changes that the vehicle's electronic shifting recorded -> a gear number at every sample."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.gears.decode import Decoded
    from ridelab.gears.ladder import Rungs
    from ridelab.telemetry.ride import Ride

#: A recorded ratio further than this from every gear, in ln(ratio), belongs to none of them.
FURTHEST = 0.03


def recorded_gears(
    ride: Ride, decoded: Decoded | None = None, rungs: Rungs | None = None
) -> pl.Series:
    """Return the recorded gear at every sample, null before the first event and where unclear.

    With tooth counts, the recorded ratios are laid on the ladder in use, their common scale being
    the median difference from the inferred gears; with positions of a single shifter only, a
    position is a gear's number.
    """
    samples = len(ride.samples)
    empty = pl.Series("recorded_gear", [None] * samples, dtype=pl.Int32)
    if ride.gear_changes.is_empty():
        return empty
    held = ride.samples.select("t_s").join_asof(
        ride.gear_changes.sort("t_s").with_columns(pl.exclude("t_s").fill_null(strategy="forward")),
        on="t_s",
        strategy="backward",
    )
    if held["rear_teeth"].is_not_null().any() and decoded is not None and rungs is not None:
        return _by_teeth(held, decoded, rungs)
    if held["front_gear"].is_null().all():
        return held["rear_gear"].rename("recorded_gear").cast(pl.Int32)
    return empty


def _by_teeth(held: pl.DataFrame, decoded: Decoded, rungs: Rungs) -> pl.Series:
    front = held["front_teeth"].fill_null(1).cast(pl.Float64)
    ratio = (front / held["rear_teeth"].cast(pl.Float64)).log()
    ln_ratio: NDArray[np.float64] = ratio.fill_null(float("nan")).to_numpy()
    sure = decoded.coupled & np.isfinite(ln_ratio) & np.isfinite(decoded.residual)
    if not sure.any():
        return pl.Series("recorded_gear", [None] * len(held), dtype=pl.Int32)
    inferred = rungs.ln_developments[decoded.gear] + decoded.residual
    scale = float(np.median(inferred[sure] - ln_ratio[sure]))
    off = np.abs(np.nan_to_num(ln_ratio, nan=1e9)[:, None] + scale - rungs.ln_developments)
    nearest = off.argmin(axis=1)
    gear = np.where(off.min(axis=1) <= FURTHEST, rungs.numbers[nearest], 0)
    return pl.Series("recorded_gear", gear, dtype=pl.Int32).replace(0, None)
