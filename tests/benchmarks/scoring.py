"""Inferred against true: how far off a ladder is, how many samples are right, how many shifts."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import polars as pl
from polars import col

#: Changes in one direction closer than this are one sweep.
SWEEP_S = 3.0
#: Across longer silences nobody knows how many shifts there were.
GAP_S = 10.0
#: A found shift is the true one if it is at most this far from it, and in the same direction.
MATCH_S = 4.0
#: Within this of a shift, one second of samples cannot tell which gear is engaged.
AWAY_S = 2.0


class LadderError(NamedTuple):
    """Relative errors of the measured ratios, their common scale left out and beside it."""

    median: float
    worst: float
    scale: float


def true_developments(truth: pl.DataFrame) -> pl.DataFrame:
    """Columns gear and development_m: what each true gear's crank turn really travelled."""
    return (
        truth.filter(col("coupled") & (col("cadence_rpm") > 0))
        .group_by("gear")
        .agg(development_m=(60.0 * col("speed_mps") / col("cadence_rpm")).median())
        .drop_nulls()
        .sort("gear")
    )


def true_numbers(measured: pl.DataFrame, true: pl.DataFrame) -> dict[int, int]:
    """Measured gear -> the true gear whose development is nearest, for ladders without numbers."""
    gears, developments = true["gear"].to_numpy(), np.log(true["development_m"].to_numpy())
    return {
        int(gear): int(gears[np.abs(developments - np.log(development)).argmin()])
        for gear, development in measured.select("gear", "development_m").iter_rows()
    }


def ladder_error(measured: pl.DataFrame, true: pl.DataFrame) -> LadderError:
    """Compare measured developments with true ones, both with the columns gear, development_m."""
    off = _beside(measured, true)["off"]
    scale = float(np.median(off))
    errors = np.abs(off - scale)
    return LadderError(float(np.median(errors)), float(errors.max()), scale)


def within_interval(measured: pl.DataFrame, true: pl.DataFrame) -> pl.Series:
    """Whether each measured gear's 95 % interval of the ratio holds the true one.

    The common scale is no part of that interval: it is taken out as the median.
    """
    both = _beside(measured, true)
    apart = both["off"] - float(np.median(both["off"]))
    above = (both["ratio"] / both["ratio_low"]).log()
    below = (both["ratio_high"] / both["ratio"]).log()
    return (apart <= above) & (-apart <= below)


def _beside(measured: pl.DataFrame, true: pl.DataFrame) -> pl.DataFrame:
    """Measured gears that are true ones too, and ln(measured development / true) as ``off``."""
    return (
        measured.with_columns(col("gear").cast(pl.Int64))
        .join(true.with_columns(col("gear").cast(pl.Int64)), on="gear", suffix="_true")
        .with_columns(off=(col("development_m") / col("development_m_true")).log())
    )


def seen_shifts(truth: pl.DataFrame) -> pl.DataFrame:
    """Sweeps of a true ride as a recording can show them: t_s and direction (1 up, -1 down).

    A change shows between the last coupled record in the old gear and the first in the new one.
    """
    silence = (col("t_s").diff() > GAP_S).fill_null(value=False)
    coupled = truth.with_columns(stretch=silence.cum_sum()).filter("coupled").drop_nulls("gear")
    changes = (
        coupled.select(
            left=col("t_s").shift(),
            reached="t_s",
            step=col("gear").cast(pl.Int64).diff(),
            silent=col("stretch").diff() > 0,
        )
        .filter((col("step") != 0) & ~col("silent"))
        .with_columns(at=(col("left") + col("reached")) / 2, direction=col("step").sign())
    )
    begins = (col("direction") != col("direction").shift()) | (col("at").diff() >= SWEEP_S)
    return (
        changes.with_columns(sweep=begins.fill_null(value=True).cum_sum())
        .group_by("sweep", maintain_order=True)
        .agg(t_s=(col("left").min() + col("reached").max()) / 2, direction=col("direction").first())
        .select("t_s", "direction")
    )


def matched(true: pl.DataFrame, found: pl.DataFrame) -> int:
    """Pairs of true and found shifts, nearest first, each used once."""
    near = [
        (abs(t - f), i, k)
        for i, (t, way) in enumerate(true.select("t_s", "direction").iter_rows())
        for k, (f, found_way) in enumerate(found.select("t_s", "direction").iter_rows())
        if way == found_way and abs(t - f) <= MATCH_S
    ]
    used_true: set[int] = set()
    used_found: set[int] = set()
    for _, i, k in sorted(near):
        if i not in used_true and k not in used_found:
            used_true.add(i)
            used_found.add(k)
    return len(used_true)


def f1(hits: int, true: int, found: int) -> float:
    """Harmonic mean of the share of true shifts found and the share of found ones that are true."""
    return 2.0 * hits / (true + found) if true + found else 1.0


def away_from_shifts(t_s: pl.Series, shifts_s: pl.Series) -> pl.Series:
    """Whether each time is further than ``AWAY_S`` from every shift."""
    if shifts_s.is_empty():
        return pl.Series([True] * len(t_s))
    shifts, times = shifts_s.to_numpy(), t_s.to_numpy()
    nearest = np.abs(times[:, None] - shifts).min(axis=1)
    return pl.Series(nearest > AWAY_S)


def nearest_ratio(recorded: pl.DataFrame, true: pl.DataFrame) -> pl.Series:
    """The plain rule: each sample by itself gets the gear whose true development is nearest.

    Null where speed or cadence is missing or zero. It is even told the true developments.
    """
    developments = np.log(true["development_m"].to_numpy())
    speed = recorded["speed_mps"].fill_null(0.0).to_numpy()
    cadence = recorded["cadence_rpm"].fill_null(0.0).to_numpy()
    known = (speed > 0) & (cadence > 0)
    ln_development = np.log(60.0 * np.where(known, speed, 1.0) / np.where(known, cadence, 1.0))
    nearest = np.abs(ln_development[:, None] - developments).argmin(axis=1)
    gear = true["gear"].to_numpy()[nearest]
    return pl.Series("gear", np.where(known, gear, 0), pl.Int64).replace(0, None)
