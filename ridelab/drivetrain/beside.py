"""Two published ladders side by side: what each has beyond the other, and between its gears."""

from __future__ import annotations

import math
from dataclasses import astuple
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.drivetrain.grouping import MERGE_WITHIN
from ridelab.drivetrain.overview import felt_gears, steps_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.drivetrain.ladder import Ladder

BESIDE_SCHEMA = pl.Schema(
    {
        "drivetrain": pl.String(),
        "combinations": pl.Int32(),  # null where stepless, as all that counts gears
        "gears": pl.Int32(),
        "felt_gears": pl.Int32(),
        "lowest_ratio": pl.Float64(),
        "highest_ratio": pl.Float64(),
        "range": pl.Float64(),
        "smallest_step": pl.Float64(),
        "mean_step": pl.Float64(),
        "largest_step": pl.Float64(),
        "largest_over_smallest_step": pl.Float64(),
        "step_variation": pl.Float64(),
        "beyond_lowest": pl.Float64(),  # its lowest over the other's, where that is below 1, else 1
        "beyond_highest": pl.Float64(),  # its highest over the other's, where above 1, else 1
        "gears_below": pl.Int32(),  # gears below the other's lowest
        "gears_alike": pl.Int32(),  # as close to one of the other's as shares a gear
        "gears_between": pl.Int32(),  # between two of the other's
        "gears_above": pl.Int32(),  # above the other's highest
    }
)
#: Cadences, rpm, that the speed of the lowest and of the highest gear is told for (common practice,
#: no source): 60 in the lowest, up a climb, and 100 in the highest.
END_CADENCES_RPM = (60.0, 100.0)


def ladders_beside(one: Ladder, other: Ladder, merge_within: float = MERGE_WITHIN) -> pl.DataFrame:
    """Return a row for each of two ladders (``BESIDE_SCHEMA``); ratios of whole drivetrains.

    A gear is alike if a gear of the other is within ``merge_within``, as the larger is over the
    smaller. Beside a stepless ladder every gear in its span is alike, unless it falls into a hole.
    """
    rows = [
        (*_figures(mine), *_beyond(mine, its), *_placed(mine, its, merge_within))
        for mine, its in ((one, other), (other, one))
    ]
    return pl.DataFrame(rows, schema=BESIDE_SCHEMA, orient="row")


def on_wheel(
    beside: pl.DataFrame,
    vehicle: str | None,
    rollout_m: float | None,
    cadences_rpm: tuple[float, float] = END_CADENCES_RPM,
) -> pl.DataFrame:
    """Put a wheel before the rows of ``ladders_beside``, and its speeds behind them.

    speed = ratio × rollout × cadence / 60, in the lowest and in the highest gear, m/s; null
    without a rollout.
    """
    rollout = pl.lit(rollout_m, pl.Float64()).alias("rollout_m")
    ends = zip(("lowest", "highest"), cadences_rpm, strict=True)
    speeds = [
        column
        for end, cadence_rpm in ends
        for column in (
            pl.lit(cadence_rpm).alias(f"{end}_cadence_rpm"),
            (pl.col(f"{end}_ratio") * rollout * cadence_rpm / 60).alias(f"{end}_speed_mps"),
        )
    ]
    return beside.select(pl.lit(vehicle, pl.String()).alias("vehicle"), rollout, pl.all(), *speeds)


def along(ratios: Sequence[float], low: float, high: float) -> list[float]:
    """Return where ratios lie on a logarithmic scale, 0 at ``low`` and 1 at ``high``."""
    span = math.log(high / low)
    return [math.log(ratio / low) / span if span else 0.0 for ratio in ratios]


def _figures(ladder: Ladder) -> tuple[object, ...]:
    steps = steps_of(ladder)
    uneven = astuple(steps) if steps else (None,) * 5
    counts: tuple[int | None, ...] = (None,) * 3
    if not ladder.stepless:
        combinations = sum(len(gear.members) for gear in ladder.gears)
        counts = combinations, len(ladder.gears), felt_gears(ladder)
    return (ladder.drivetrain, *counts, *ladder.ends, ladder.range, *uneven)


def _beyond(ladder: Ladder, other: Ladder) -> tuple[float, float]:
    (low, high), (other_low, other_high) = ladder.ends, other.ends
    return min(1.0, low / other_low), max(1.0, high / other_high)


def _placed(ladder: Ladder, other: Ladder, within: float) -> tuple[int | None, ...]:
    """Return how many gears lie below, alike, between and above those of the other."""
    if ladder.stepless:
        return (None,) * 4
    mine = np.array(ladder.ratios)
    if other.stepless:
        alike = _in_span(mine, other, within)
    else:
        logs, others = np.log(mine), np.log(other.ratios)
        alike = np.abs(logs[:, None] - others).min(axis=1) <= np.log1p(within)
    low, high = other.ends
    below, above = ~alike & (mine < low), ~alike & (mine > high)
    between = ~alike & ~below & ~above
    return tuple(int(kind.sum()) for kind in (below, alike, between, above))


def _in_span(ratios: NDArray[np.float64], other: Ladder, within: float) -> NDArray[np.bool_]:
    low, high = other.ends
    inside = (ratios * (1 + within) >= low) & (ratios <= high * (1 + within))
    for below, above in other.holes:
        inside &= ~((ratios > below * (1 + within)) & (ratios * (1 + within) < above))
    return inside
