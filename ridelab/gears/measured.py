"""Estimates -> the table of measured gears, the effective rollout, and the range."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.gears.ladder import LEAST_S
from ridelab.gears.mixture import robust_middle
from ridelab.gears.result import MEASURED_SCHEMA, Interval, MeasuredRange

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.decode import Decoded
    from ridelab.gears.ladder import Rungs, Stated
    from ridelab.gears.observations import Flags, Floats, Observations
    from ridelab.gears.spells import Estimate

EMPTY = MEASURED_SCHEMA.to_frame()


@dataclass(frozen=True)
class Table:
    """What a vehicle's rides say of its ladder; ``gears`` is ``MEASURED_SCHEMA``."""

    gears: pl.DataFrame
    rollout: Interval | None
    range: MeasuredRange | None


def seconds_in_gear(seen: Observations, decoded: Decoded, gears: int) -> Floats:
    """Return how long each gear was engaged and coupled, seconds, one value a gear."""
    return _per_gear(seen, decoded, seen.seconds, gears)


def _per_gear(seen: Observations, decoded: Decoded, values: Floats, gears: int) -> Floats:
    inside = _engaged(seen, decoded)
    total = np.bincount(decoded.gear[inside], weights=values[inside], minlength=gears)
    return np.asarray(total, dtype=np.float64)


def _engaged(seen: Observations, decoded: Decoded) -> Flags:
    return decoded.coupled & np.isfinite(seen.ln_development)


def table(
    rungs: Rungs,
    found: Estimate | None,
    seen: Sequence[Observations],
    decoded: Sequence[Decoded],
    stated: Stated,
) -> Table:
    """Return every gear engaged for ``LEAST_S`` or more, with 95 % intervals."""
    pairs = list(zip(seen, decoded, strict=True))
    by_ride = np.array([seconds_in_gear(one, made, rungs.count) for one, made in pairs])
    metres = np.array(
        [_per_gear(o, m, np.nan_to_num(o.seconds * o.speed_mps), rungs.count) for o, m in pairs]
    )
    if found is None:
        return Table(EMPTY, None, None)
    told = by_ride.sum(axis=0)[found.gears] >= LEAST_S
    if not told.any():
        return Table(EMPTY, None, None)
    gears = found.gears[told]
    ln_dev = found.ln_developments[told]
    covariance = found.covariance[np.ix_(told, told)]
    published = rungs.ln_ratios[gears] if rungs.ln_ratios is not None else None
    rollout = _rollout(ln_dev, covariance, published, stated.rollout_m, found.quantile)
    ln_ratio = ln_dev - np.log(rollout.value) if rollout else np.full(len(gears), np.nan)
    error = found.quantile * _ratio_sd(covariance, found.own_variance[told])
    dev_error = found.quantile * np.sqrt(np.diag(covariance))
    frame = pl.DataFrame(
        {
            "gear": gears + 1,
            "label": _labels(gears, ln_dev, stated.ladder),
            "ratio": np.exp(ln_ratio),
            "ratio_low": np.exp(ln_ratio - error),
            "ratio_high": np.exp(ln_ratio + error),
            "development_m": np.exp(ln_dev),
            "development_low_m": np.exp(ln_dev - dev_error),
            "development_high_m": np.exp(ln_dev + dev_error),
            "published_ratio": np.exp(published) if published is not None else None,
            "deviation": np.expm1(ln_ratio - published) if published is not None else None,
            "seconds": by_ride.sum(axis=0)[gears],
            "distance_m": metres.sum(axis=0)[gears],
            "rides": (by_ride[:, gears] > 0).sum(axis=0),
        },
        schema=MEASURED_SCHEMA,
    ).with_columns(pl.col("ratio", "ratio_low", "ratio_high").fill_nan(None))
    return Table(frame, rollout, _range(gears, ln_dev, covariance, found.quantile, stated.ladder))


def _labels(gears: Sequence[int] | Floats, ln_dev: Floats, ladder: Ladder | None) -> list[str]:
    if ladder is not None:
        return [ladder.gears[int(gear)].label for gear in gears]
    return [f"{np.exp(value):.2f} m" for value in ln_dev]


def _rollout(
    ln_dev: Floats,
    covariance: Floats,
    published: Floats | None,
    stated_rollout_m: float | None,
    quantile: float,
) -> Interval | None:
    """Return the robust middle of development over published ratio, or the stated rollout."""
    if published is None:
        if stated_rollout_m is None:
            return None
        return Interval(stated_rollout_m, float("nan"), float("nan"))
    precision = 1.0 / np.diag(covariance)
    middle = robust_middle(ln_dev - published, precision)
    share = precision / precision.sum()
    error = quantile * float(np.sqrt(share @ covariance @ share))
    return Interval(
        float(np.exp(middle)), float(np.exp(middle - error)), float(np.exp(middle + error))
    )


def _ratio_sd(covariance: Floats, own_variance: Floats) -> Floats:
    """Return the standard deviation of each ln(ratio), what all gears share left out.

    That is the gear's distance from the common scale (their precision-weighted mean); but at least
    its own scatter, since a gear that alone sets the scale has not thereby been measured exactly.
    """
    share = 1.0 / np.diag(covariance)
    contrast = np.eye(len(share)) - share / share.sum()
    relative = np.einsum("ij,jk,ik->i", contrast, covariance, contrast)
    return np.asarray(np.sqrt(np.maximum(relative, own_variance)))


def _range(
    gears: Floats, ln_dev: Floats, covariance: Floats, quantile: float, ladder: Ladder | None
) -> MeasuredRange | None:
    """Return highest over lowest measured gear; the scale cancels in the quotient."""
    if len(gears) < 2:
        return None
    variance = covariance[-1, -1] + covariance[0, 0] - 2.0 * covariance[-1, 0]
    middle, error = float(ln_dev[-1] - ln_dev[0]), quantile * float(np.sqrt(variance))
    low, high = int(gears[0]) + 1, int(gears[-1]) + 1
    return MeasuredRange(
        low_gear=low,
        high_gear=high,
        range=Interval(
            float(np.exp(middle)), float(np.exp(middle - error)), float(np.exp(middle + error))
        ),
        published_range=ladder.range if ladder is not None else None,
        complete=(low == 1 and high == len(ladder.gears)) if ladder is not None else None,
    )
