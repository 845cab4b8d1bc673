"""One ride -> the speed to divide by cadence: which channel of the file, and how late it is.

The speed may come from the file's speed field or from differences of its distance field, and either
may trail the cadence. Both are tried at a row of lags; the pair under which ln(development)
clusters most sharply is the right one, since a gear has one development and a wrong lag smears it.
Errors of satellite speed last for seconds, so decoding does not average them out; a mean of both
channels does where each has its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.gears.result import LAG_CURVE_SCHEMA
from ridelab.telemetry.clock import GAP_S

if TYPE_CHECKING:
    from ridelab.gears.observations import Flags, Floats
    from ridelab.gears.result import Channel
    from ridelab.telemetry.ride import Ride

#: Below these, speed and cadence are too coarse to divide.
MIN_SPEED_MPS = 0.7
MIN_CADENCE_RPM = 20.0
#: Fewer samples tell nothing.
MIN_SAMPLES = 60
LAGS_S = np.arange(-3.0, 6.01, 0.25)
#: Of the lags every other one is tried, and all so near to the best of these.
AROUND_S = 0.75
#: Weights of the less sharp channel in a mean of both; by how much that must be sharper, judged by
#: medians over so many samples.
SHARES, WORTH, LASTING = (0.1, 0.2, 0.3, 0.4, 0.5), 0.04, 5
#: Kernel width of the sharpness score, in ln(development): about a wheel sensor's own spread.
SHARPNESS_WIDTH = 0.007


@dataclass(frozen=True)
class Chosen:
    """The speed that fits the cadence best.

    Attributes:
        channel: which one, or of a mean of both the one that weighs more.
        lag_s: how many seconds it trails the cadence.
        other_share: weight of the other channel, under its own lag, in the mean; 0: not used.
        speed_mps: the speed with the lag taken out, one value a sample; nan where unknown.
        lag_curve: ``LAG_CURVE_SCHEMA``: the sharpness of each channel under each lag tried.
    """

    channel: Channel
    lag_s: float
    other_share: float
    speed_mps: Floats
    lag_curve: pl.DataFrame


def column(ride: Ride, name: str) -> Floats:
    """Return a column of the samples, nan where it is empty."""
    values: Floats = ride.samples[name].fill_null(float("nan")).to_numpy().astype(np.float64)
    return values


def channels(ride: Ride, t: Floats) -> dict[Channel, Floats]:
    """Return the speed channels that hold anything, metres per second, one value a sample."""
    speed = column(ride, "speed_mps")
    distance = column(ride, "distance_m")
    steps = np.diff(t, prepend=np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        difference = np.diff(distance, prepend=np.nan) / steps
    difference[~((steps > 0) & (steps <= GAP_S))] = np.nan
    found: dict[Channel, Floats] = {"speed field": speed, "distance field": difference}
    return {name: values for name, values in found.items() if (values > MIN_SPEED_MPS).any()}


def divisible(speed_mps: Floats, cadence_rpm: Floats) -> Flags:
    """Return where both are known and fast enough to divide."""
    with np.errstate(invalid="ignore"):
        return (speed_mps > MIN_SPEED_MPS) & (cadence_rpm > MIN_CADENCE_RPM)


def choose(found: dict[Channel, Floats], t: Floats, cadence: Floats) -> Chosen | None:
    """Return the speed under which ln(development) clusters most sharply.

    ``found``: as of ``channels``; ``t``: seconds; ``cadence``: rpm. Each channel under its best
    lag, or a weighted mean of two: where their errors are not the same ones, it is better than
    either. None where too few samples can be divided under any lag.
    """
    spread = {name: _unrounded(values) for name, values in found.items()}
    curves = {name: _curve(values, t, cadence) for name, values in spread.items()}
    tried = [(name, lag_s, score) for name in curves for lag_s, score in curves[name].items()]
    if not tried:
        return None
    curve = pl.DataFrame(tried, schema=LAG_CURVE_SCHEMA, orient="row")
    best = {name: max(lags, key=lags.__getitem__) for name, lags in curves.items() if lags}
    main, *others = sorted(best, key=lambda name: -curves[name][best[name]])
    speed, share = _shifted(found[main], t, best[main]), 0.0
    for other in others:
        both = [_shifted(spread[name], t, best[name]) for name in (main, other)]
        share = _share_of_other(both[0], both[1], cadence)
        speed = _mean(speed, _shifted(found[other], t, best[other]), share)
    return Chosen(main, best[main], share, speed, curve)


def _share_of_other(main: Floats, other: Floats, cadence: Floats) -> float:
    """Return the weight of ``other`` under which both together are sharpest, 0 if hardly so.

    Judged by medians over some samples: errors of single ones decoding averages out by itself.
    """
    scores = {0.0: _lasting_score(main, cadence) + WORTH}
    scores |= {share: _lasting_score(_mean(main, other, share), cadence) for share in SHARES}
    return max(scores, key=scores.__getitem__)


def _curve(values: Floats, t: Floats, cadence: Floats) -> dict[float, float]:
    """Return the sharpness under each lag tried, in order: every other one, all near the best."""
    if np.isfinite(values).sum() < MIN_SAMPLES:
        return {}
    coarse = {lag: _score(_shifted(values, t, lag), cadence) for lag in LAGS_S[::2].tolist()}
    best = max(coarse, key=coarse.__getitem__)
    near = LAGS_S[np.abs(LAGS_S - best) <= AROUND_S].tolist()
    fine = {lag: _score(_shifted(values, t, lag), cadence) for lag in near if lag not in coarse}
    return {lag: score for lag, score in sorted((coarse | fine).items()) if np.isfinite(score)}


def _score(speed: Floats, cadence: Floats) -> float:
    """Return the sharpness of the developments, minus infinity where there are too few."""
    y = _ln_developments(speed, cadence)
    return _sharpness_of(y[np.isfinite(y)])


def _lasting_score(speed: Floats, cadence: Floats) -> float:
    """Return the sharpness of the medians over each ``LASTING`` developments in a row."""
    windows = np.lib.stride_tricks.sliding_window_view(_ln_developments(speed, cadence), LASTING)
    return _sharpness_of(np.median(windows[np.isfinite(windows).all(axis=1)], axis=1))


def _sharpness_of(y: Floats) -> float:
    return sharpness(y) if len(y) >= MIN_SAMPLES else -np.inf


def _ln_developments(speed: Floats, cadence: Floats) -> Floats:
    """Return one value a sample, nan where it has none."""
    y = np.full(len(speed), np.nan)
    usable = divisible(speed, cadence)
    y[usable] = np.log(60.0 * speed[usable] / cadence[usable])
    return y


def _mean(main: Floats, other: Floats, share: float) -> Floats:
    """Return the mean with this share of ``other``; where that is unknown, ``main`` alone."""
    return np.where(np.isfinite(other), (1.0 - share) * main + share * other, main)


def _shifted(values: Floats, t: Floats, lag_s: float) -> Floats:
    """Return ``values`` as they read ``lag_s`` later, nan across a gap or beyond the ends."""
    known = np.isfinite(values)
    times, readings, at = t[known], values[known], t + lag_s
    moved = np.interp(at, times, readings, left=np.nan, right=np.nan)
    gaps = np.flatnonzero(np.diff(times) > GAP_S)
    ends = np.searchsorted(at, np.stack([times[gaps], times[gaps + 1]]), side="right")
    for begin, end in ends.T:
        moved[begin:end] = np.nan
    return np.asarray(moved)


def _unrounded(values: Floats) -> Floats:
    """Return ``values`` spread over all that would have been rounded to them.

    A distance that counts whole turns makes speeds of few values, whose quotients with whole rpm
    cluster as sharply as gears do. Evenly spread, the same way each time, half a step at most.
    """
    known = np.flatnonzero(np.isfinite(values))
    distinct, which = np.unique(np.round(values[known], 4), return_inverse=True)
    gaps = np.diff(distinct)
    below, above = np.append(0.0, gaps)[which], np.append(gaps, 0.0)[which]
    golden = 0.5 * (np.sqrt(5.0) - 1.0)
    off = np.mod(np.arange(len(known)) * golden, 1.0) - 0.5
    spread = values.copy()
    spread[known] += off * np.where(off < 0, below, above)
    return spread


def sharpness(x: Floats, width: float = SHARPNESS_WIDTH) -> float:
    """Mean log density of ``x`` under its own kernel density estimate, itself left out.

    The negative of the leave-one-out entropy estimate (Hall and Morton 1993, "On the estimation of
    entropy"); higher is sharper. ``x`` holds at least two values. Computed on bins of a quarter of
    ``width``.
    """
    bin_width = width / 4.0
    index = np.floor((x - x.min()) / bin_width).astype(np.int64)
    counts = np.bincount(index).astype(np.float64)
    reach = np.arange(-16, 17) * bin_width / width
    kernel = np.exp(-0.5 * reach**2) / (np.sqrt(2.0 * np.pi) * width)
    around = np.convolve(counts, kernel)[16 : 16 + len(counts)] - kernel[16]
    density = np.maximum(around / (len(x) - 1), 1e-3)
    return float((counts * np.log(density)).sum() / counts.sum())
