"""Estimates -> the table of measured gears, the effective rollout, the steps and the range."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import polars.selectors as cs

from ridelab.gears.ladder import LEAST_S
from ridelab.gears.mixture import robust_middle
from ridelab.gears.result import MEASURED_SCHEMA, STEPS_SCHEMA, Interval, MeasuredRange

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.decode import Decoded
    from ridelab.gears.ladder import Rungs, Stated
    from ridelab.gears.observations import Flags, Floats, Observations
    from ridelab.gears.spells import Estimate

EMPTY = MEASURED_SCHEMA.to_frame()
NO_STEPS = STEPS_SCHEMA.to_frame()
UNPUBLISHED = "outside the published ladder"


@dataclass(frozen=True)
class Table:
    """What a vehicle's rides say of its ladder.

    ``gears`` is ``MEASURED_SCHEMA``, ``steps`` is ``STEPS_SCHEMA``; ``listed``: what they are made
    from, in the same order.
    """

    gears: pl.DataFrame
    rollout: Interval | None
    range: MeasuredRange | None
    steps: pl.DataFrame
    listed: Estimate | None = None


@dataclass(frozen=True)
class Use:
    """How long and how far each gear was engaged and coupled: (rides, gears)."""

    seconds: Floats
    metres: Floats


def use(seen: Sequence[Observations], decoded: Sequence[Decoded], gears: int) -> Use:
    """Return the use that rides make of a ladder of so many gears."""
    pairs = list(zip(seen, decoded, strict=True))
    seconds = [seconds_in_gear(one, made, gears) for one, made in pairs]
    metres = [
        _per_gear(one, made, np.nan_to_num(one.seconds * one.speed_mps), gears)
        for one, made in pairs
    ]
    return Use(np.array(seconds), np.array(metres))


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
    used: Use,
    stated: Stated,
    unridden: Sequence[int] = (),
) -> Table:
    """Return every gear engaged for ``LEAST_S`` or more, with 95 % intervals.

    ``unridden``: indices of gears that are left out, being named only by noise.
    """
    if found is None:
        return Table(EMPTY, None, None, NO_STEPS)
    told = _told(found, used.seconds) & ~np.isin(found.gears, unridden)
    if not told.any():
        return Table(EMPTY, None, None, NO_STEPS)
    found = found.only(told)
    published = rungs.ln_ratios[found.gears] if rungs.ln_ratios is not None else None
    rollout = _rollout(found, published, stated.rollout_m)
    frame = _frame(rungs, found, published, rollout, stated.ladder)
    seconds, metres = used.seconds[:, found.gears], used.metres[:, found.gears]
    frame = frame.with_columns(
        seconds=pl.Series(seconds.sum(axis=0)),
        distance_m=pl.Series(metres.sum(axis=0)),
        rides=pl.Series((seconds > 0).sum(axis=0)),
    )
    return Table(
        frame.select(pl.col(name).cast(kind) for name, kind in MEASURED_SCHEMA.items()).sort(
            "gear"
        ),
        rollout,
        _range(rungs, found, stated.ladder),
        steps(rungs, found),
        found,
    )


def _told(found: Estimate, seconds_by_ride: Floats) -> Flags:
    """Return which gears were ridden long enough, and cannot be a better known one misread.

    A gear whose interval holds the development of another one with more seconds may never have
    been engaged.
    """
    seconds = seconds_by_ride.sum(axis=0)[found.gears]
    error = found.quantile * np.sqrt(np.diag(found.covariance))
    apart = np.abs(found.ln_developments[:, None] - found.ln_developments)
    misread = (apart <= error[:, None]) & (seconds[:, None] < seconds)
    return np.asarray((seconds >= LEAST_S) & ~misread.any(axis=1))


def _frame(
    rungs: Rungs,
    found: Estimate,
    published: Floats | None,
    rollout: Interval | None,
    ladder: Ladder | None,
) -> pl.DataFrame:
    ln_dev = found.ln_developments
    ln_ratio = ln_dev - np.log(rollout.value) if rollout else np.full(len(ln_dev), np.nan)
    error = found.quantile * ratio_sd(found)
    dev_error = found.quantile * np.sqrt(np.diag(found.covariance))
    columns = {
        "gear": rungs.numbers[found.gears],
        "label": _labels(rungs.numbers[found.gears], ln_dev, ladder),
        "ratio": np.exp(ln_ratio),
        "ratio_low": np.exp(ln_ratio - error),
        "ratio_high": np.exp(ln_ratio + error),
        "development_m": np.exp(ln_dev),
        "development_low_m": np.exp(ln_dev - dev_error),
        "development_high_m": np.exp(ln_dev + dev_error),
        "published_ratio": np.exp(published) if published is not None else None,
        "deviation": np.expm1(ln_ratio - published) if published is not None else None,
    }
    return pl.DataFrame(columns).with_columns(cs.float().fill_nan(None))


def _labels(numbers: NDArray[np.int64], ln_dev: Floats, ladder: Ladder | None) -> list[str]:
    if ladder is None:
        return [f"{np.exp(value):.2f} m" for value in ln_dev]
    labels = {gear.number: gear.label for gear in ladder.gears}
    return [labels.get(int(number), UNPUBLISHED) for number in numbers]


def _rollout(
    found: Estimate, published: Floats | None, stated_rollout_m: float | None
) -> Interval | None:
    """Return the robust middle of development over published ratio, or the stated rollout."""
    if published is None:
        if stated_rollout_m is None:
            return None
        return Interval(stated_rollout_m, float("nan"), float("nan"))
    known = np.isfinite(published)
    if not known.any():
        return None
    covariance = found.covariance[np.ix_(known, known)]
    precision = 1.0 / np.diag(covariance)
    middle = robust_middle((found.ln_developments - published)[known], precision)
    share = precision / precision.sum()
    return _interval(middle, found.quantile * float(np.sqrt(share @ covariance @ share)))


def _interval(middle: float, error: float) -> Interval:
    """Return a value from its logarithm and the half width of that."""
    low, high = float(np.exp(middle - error)), float(np.exp(middle + error))
    return Interval(float(np.exp(middle)), low, high)


def ratio_sd(found: Estimate) -> Floats:
    """Return the standard deviation of each ln(ratio), what all gears share left out.

    That is the gear's distance from the common scale (their precision-weighted mean); but at least
    its own scatter, since a gear that alone sets the scale has not thereby been measured exactly.
    """
    share = 1.0 / np.diag(found.covariance)
    contrast = np.eye(len(share)) - share / share.sum()
    relative = np.einsum("ij,jk,ik->i", contrast, found.covariance, contrast)
    return np.asarray(np.sqrt(np.maximum(relative, found.own_variance)))


def _range(rungs: Rungs, found: Estimate, ladder: Ladder | None) -> MeasuredRange | None:
    """Return highest over lowest measured gear; the scale cancels in the quotient.

    Gears that nobody published are no ends of a published ladder.
    """
    ends = np.arange(len(found.gears))
    if rungs.ln_ratios is not None:
        ends = ends[np.isfinite(rungs.ln_ratios[found.gears])]
    if len(ends) < 2:
        return None
    bottom, top = int(ends[0]), int(ends[-1])
    middle, sd = _between(found, bottom, top)
    low, high = (int(rungs.numbers[found.gears[end]]) for end in (bottom, top))
    return MeasuredRange(
        low_gear=low,
        high_gear=high,
        range=_interval(middle, found.quantile * sd),
        published_range=ladder.range if ladder is not None else None,
        complete=(low == 1 and high == len(ladder.gears)) if ladder is not None else None,
    )


def _between(found: Estimate, below: int, above: int) -> tuple[float, float]:
    """Return ln(ratio above over ratio below) and its standard deviation.

    What both share, the rollout above all, cancels.
    """
    c = found.covariance
    variance = float(c[above, above] + c[below, below] - 2 * c[above, below])
    middle = float(found.ln_developments[above] - found.ln_developments[below])
    return middle, float(np.sqrt(max(variance, 0.0)))


def steps(rungs: Rungs, found: Estimate) -> pl.DataFrame:
    """Return the steps between neighbours of the ladder that were both measured.

    Gears that nobody published stand outside the order of a published ladder.
    """
    gears = np.arange(len(found.gears))
    if rungs.ln_ratios is not None:
        gears = gears[np.isfinite(rungs.ln_ratios[found.gears])]
    numbers = rungs.numbers[found.gears]
    pairs = [(b, a) for b, a in pairwise(gears.tolist()) if numbers[a] == numbers[b] + 1]
    if not pairs:
        return NO_STEPS
    middle, sd = np.array([_between(found, *pair) for pair in pairs]).T
    below, above = np.array(pairs).T
    error, joint = found.quantile * sd, _shared_quantile(found.quantile, len(pairs)) * sd
    published = None
    if rungs.ln_ratios is not None:
        published = np.expm1(
            rungs.ln_ratios[found.gears[above]] - rungs.ln_ratios[found.gears[below]]
        )
    columns = {
        "gear": numbers[above],
        "below": numbers[below],
        "step": np.expm1(middle),
        "step_low": np.expm1(middle - error),
        "step_high": np.expm1(middle + error),
        "joint_low": np.expm1(middle - joint),
        "joint_high": np.expm1(middle + joint),
        "published_step": published,
    }
    return pl.DataFrame(columns).select(pl.col(n).cast(k) for n, k in STEPS_SCHEMA.items())


def _shared_quantile(quantile: float, among: int) -> float:
    """Return the quantile of intervals of which all hold in 95 % of cases (Bonferroni).

    ``quantile``: of Student's t for 95 % of one; it tells the degrees of freedom.
    """
    from scipy.special import stdtridf, stdtrit

    freedom = float(stdtridf(0.975, quantile))
    return float(stdtrit(freedom, 1.0 - 0.025 / among))
