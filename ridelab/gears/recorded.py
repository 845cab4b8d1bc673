"""Gear changes that the vehicle's electronic shifting recorded -> a gear number at every sample.

Recorded teeth name a gear of the published ladder by themselves: their ratio is one of its
combinations, but for a factor that all share (a chainring that is not told, a hub behind). Where
they cannot, their ratios are laid on the ladder in use.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.decode import Decoded
    from ridelab.gears.ladder import Rungs
    from ridelab.gears.observations import Floats
    from ridelab.telemetry.ride import Ride

#: A recorded ratio this near to a published combination, in ln(ratio), is that one: teeth are
#: exact, and published ratios are rounded. So much of the recorded time must be.
SAME, MOST = 0.006, 0.95
#: Laid on a ladder in use, it belongs to none of the gears further than this.
FURTHEST = 0.03


def recorded_gears(
    ride: Ride,
    ladder: Ladder | None = None,
    decoded: Decoded | None = None,
    rungs: Rungs | None = None,
) -> pl.Series:
    """Return the recorded gear at every sample, null before the first event and where unclear.

    ``ladder``: as published. Without names of its own (``gears_by_record``) a recorded ratio is
    laid on the ladder in use, the common scale being the median difference from the inferred gears;
    with positions of a single shifter only, a position is a gear's number.
    """
    held = _held(ride)
    if held is None:
        return _nothing(len(ride.samples))
    named = gears_by_record(ride, ladder) if ladder is not None else None
    if named is not None:
        return named
    if has_teeth(ride) and decoded is not None and rungs is not None:
        return _on_ladder(recorded_ratios(ride), decoded, rungs)
    if held["front_gear"].is_null().all():
        return held["rear_gear"].rename("recorded_gear").cast(pl.Int32)
    return _nothing(len(held))


def has_teeth(ride: Ride) -> bool:
    """Return whether the recorded changes tell the teeth of sprockets."""
    return bool(ride.gear_changes["rear_teeth"].is_not_null().any())


def gears_by_record(ride: Ride, ladder: Ladder) -> pl.Series | None:
    """Return the published gear at every sample as recorded alone; None where it is not told.

    Needs no development: it is told by teeth whose ratios fit the ladder in one way only, or by
    the positions of a single shifter that has no more of them than there are gears.
    """
    held = _held(ride)
    if held is None or ladder.stepless:
        return None
    if not has_teeth(ride):
        most = held["rear_gear"].max()
        single = held["front_gear"].is_null().all() and isinstance(most, int)
        if not single or most > len(ladder.gears):  # type: ignore[operator]
            return None
        return held["rear_gear"].rename("recorded_gear").cast(pl.Int32)
    ratios = recorded_ratios(ride)
    at, ways = _ways(ratios, ladder, exact=held["front_teeth"].is_not_null().any())
    if len(ways) != 1:
        return None
    gear = np.zeros(len(ratios), dtype=np.int64)
    gear[np.isfinite(ratios)] = np.array(ways[0], dtype=np.int64)[at]
    return pl.Series("recorded_gear", gear, dtype=pl.Int32).replace(0, None)


def strange_teeth(ride: Ride, ladder: Ladder) -> bool:
    """Return whether the recorded teeth make ratios that the published ladder cannot have."""
    if ladder.stepless or not has_teeth(ride):
        return False
    ratios = recorded_ratios(ride)
    return bool(np.isfinite(ratios).any()) and not _ways(ratios, ladder, exact=False)[1]


def recorded_ratios(ride: Ride) -> Floats:
    """Return ln(chainring over sprocket) as recorded at every sample; nan where not told.

    If no chainring is ever told it counts as one tooth.
    """
    held = _held(ride)
    if held is None:
        return np.full(len(ride.samples), np.nan)
    front = held["front_teeth"].cast(pl.Float64)
    if front.is_null().all():
        front = front.fill_null(1.0)
    ratio = (front / held["rear_teeth"].cast(pl.Float64)).log()
    return ratio.fill_null(float("nan")).to_numpy()


def _ways(
    ratios: Floats, ladder: Ladder, *, exact: bool
) -> tuple[NDArray[np.int64], list[tuple[int, ...]]]:
    """Return the ways in which recorded ratios fit published gears.

    ``ratios``: a sample each; ``exact``: chainrings are told, so that the ratios themselves are
    tried first. Of each known sample comes its place among the distinct ratios, and of each way the
    number of the gear for each of these, 0 for one that fits none.
    """
    distinct, place, samples = np.unique(
        ratios[np.isfinite(ratios)], return_inverse=True, return_counts=True
    )
    if len(distinct) == 0:
        return place, []
    members = np.log([ratio for gear in ladder.gears for ratio in gear.members])
    numbers = np.array([gear.number for gear in ladder.gears for _ in gear.members])

    def at_scale(scale: float) -> tuple[int, ...] | None:
        off = np.abs(distinct[:, None] + scale - members)
        fits = off.min(axis=1) <= SAME
        if samples[fits].sum() < MOST * samples.sum():
            return None
        return tuple(np.where(fits, numbers[off.argmin(axis=1)], 0).tolist())

    as_told = at_scale(0.0) if exact else None
    if as_told is not None:
        return place, [as_told]
    commonest = distinct[samples.argmax()]
    ways = {at_scale(float(member - commonest)) for member in members}
    return place, sorted(way for way in ways if way is not None)


def _held(ride: Ride) -> pl.DataFrame | None:
    """Return the setting told last at every sample; None without any event."""
    if ride.gear_changes.is_empty():
        return None
    told = ride.gear_changes.sort("t_s").with_columns(
        pl.exclude("t_s").fill_null(strategy="forward")
    )
    return ride.samples.select("t_s").join_asof(told, on="t_s", strategy="backward")


def _nothing(samples: int) -> pl.Series:
    return pl.Series("recorded_gear", [None] * samples, dtype=pl.Int32)


def _on_ladder(ln_ratio: Floats, decoded: Decoded, rungs: Rungs) -> pl.Series:
    sure = decoded.coupled & np.isfinite(ln_ratio) & np.isfinite(decoded.residual)
    if not sure.any():
        return _nothing(len(ln_ratio))
    inferred = rungs.ln_developments[decoded.gear] + decoded.residual
    scale = float(np.median(inferred[sure] - ln_ratio[sure]))
    off = np.abs(np.nan_to_num(ln_ratio, nan=1e9)[:, None] + scale - rungs.ln_developments)
    nearest = off.argmin(axis=1)
    gear = np.where(off.min(axis=1) <= FURTHEST, rungs.numbers[nearest], 0)
    return pl.Series("recorded_gear", gear, dtype=pl.Int32).replace(0, None)
