"""One ride -> the speed to divide by cadence: which channel of the file, and how late it is.

The speed may come from the file's speed field or from differences of its distance field, and either
may trail the cadence. Both are tried at a row of lags; the pair under which ln(development)
clusters most sharply is the right one, since a gear has one development and a wrong lag smears it.
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
#: Kernel width of the sharpness score, in ln(development): about a wheel sensor's own spread.
SHARPNESS_WIDTH = 0.007


@dataclass(frozen=True)
class Chosen:
    """The speed channel that fits the cadence best.

    Attributes:
        channel: which one.
        lag_s: how many seconds it trails the cadence.
        speed_mps: its speed with the lag taken out, one value a sample; nan where unknown.
        lag_curve: ``LAG_CURVE_SCHEMA``: the sharpness of each channel under each lag tried.
    """

    channel: Channel
    lag_s: float
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
    """Return channel and lag under which ln(development) clusters most sharply.

    ``found``: as of ``channels``; ``t``: seconds; ``cadence``: rpm. None where too few samples can
    be divided under any lag.
    """
    tried: list[tuple[Channel, float, float]] = []
    for name, values in found.items():
        if np.isfinite(values).sum() < MIN_SAMPLES:
            continue
        undone = _unrounded(values)
        for lag in LAGS_S:
            speed = _shifted(undone, t, float(lag))
            usable = divisible(speed, cadence)
            if usable.sum() >= MIN_SAMPLES:
                score = sharpness(np.log(60.0 * speed[usable] / cadence[usable]))
                tried.append((name, float(lag), score))
    if not tried:
        return None
    channel, lag_s, _ = max(tried, key=lambda one: one[2])
    curve = pl.DataFrame(tried, schema=LAG_CURVE_SCHEMA, orient="row")
    return Chosen(channel, lag_s, _shifted(found[channel], t, lag_s), curve)


def _shifted(values: Floats, t: Floats, lag_s: float) -> Floats:
    """Return ``values`` as they read ``lag_s`` later, nan across a gap or beyond the ends."""
    known = np.isfinite(values)
    at = t + lag_s
    out: Floats = np.interp(at, t[known], values[known], left=np.nan, right=np.nan)
    after = np.searchsorted(t[known], at).clip(1, known.sum() - 1)
    out[(t[known][after] - t[known][after - 1]) > GAP_S] = np.nan
    return out


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
