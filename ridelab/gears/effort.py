"""Speed and height -> whether somebody pushed: evidence beside the cadence of what the crank did.

A vehicle that nobody drives slows down by its rolling and air drag, uphill faster, and speeds up
downhill. What it gains beyond that is push. How much a rider pushes, and how it looks when nobody
does, every ride shows itself: where the crank surely drove, and where it stood.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

#: Standard acceleration of gravity (ISO 80000-3), m/s2.
GRAVITY = 9.80665
#: Usual resistance of a cycle with its rider, and how much it differs: rolling, and air drag over
#: the square of the speed (a rolling coefficient of 0.006; 0.5 m2 and 90 kg in air of 1.2 kg/m3:
#: common practice). While a vehicle rolls, gusts and brakes add this much, m/s2.
ROLLING_MPS2, ROLLING_DOUBT = 0.06, 0.03
DRAG_PER_M, DRAG_DOUBT = 0.0033, 0.001
GUSTS_MPS2, BRAKES, LEAST_PUSH_MPS2, EASY = 0.15, 0.25, 0.02, 0.2
#: Acceleration is the slope over so many samples on either side, the grade over so many.
AROUND, AROUND_GRADE = 2, 8
#: Less way than this around a sample tells no grade, m.
LEAST_WAY_M = 10.0
#: Bins of push, and by how much its density is smoothed, m/s2.
BINS, SMOOTHED = np.arange(-1.5, 2.01, 0.05), 0.08
#: So many seconds of driving are needed to know how it looks. How rolling looks is known in part
#: beforehand: no push, but for gusts and brakes, as if seen for so many seconds.
LEAST_S, BELIEVED_S = 40, 20.0
#: Wind and road last for seconds, so that each second counts this much; and no more than this.
TEMPER, MOST = 0.4, 1.5


def gained(t_s: Floats, speed_mps: Floats, altitude_m: Floats) -> Floats:
    """Return acceleration and climbing together, m/s2; nan where unknown.

    One value a sample. Without heights the road is taken as level, which blurs the result.
    """
    gain = _slope(speed_mps, t_s)
    seconds = np.diff(t_s, prepend=t_s[0]).clip(0.0, 10.0)
    way = np.cumsum(np.nan_to_num(speed_mps) * seconds)
    if np.isfinite(altitude_m).any():
        gain = gain + GRAVITY * np.nan_to_num(_grade(way, altitude_m))
    return gain


def _slope(values: Floats, t_s: Floats) -> Floats:
    out = np.full(len(values), np.nan)
    if len(values) > 2 * AROUND:
        later, before = slice(2 * AROUND, None), slice(None, -2 * AROUND)
        span = t_s[later] - t_s[before]
        rise = values[later] - values[before]
        out[AROUND:-AROUND] = np.where(span <= 4.0 * AROUND, rise / np.maximum(span, 0.1), np.nan)
    return out


def _grade(way_m: Floats, altitude_m: Floats) -> Floats:
    """Return the slope of height over way around each sample, by least squares."""
    known = np.flatnonzero(np.isfinite(altitude_m))
    height = np.interp(np.arange(len(way_m)), known, altitude_m[known])
    way, height = way_m - way_m.mean(), height - height.mean()
    window = np.ones(2 * AROUND_GRADE + 1)

    def around(values: Floats) -> Floats:
        return np.asarray(np.convolve(values, window, mode="same"))

    count = around(np.ones(len(way)))
    across = count * around(way**2) - around(way) ** 2
    along = count * around(way * height) - around(way) * around(height)
    enough = across > (count * LEAST_WAY_M / np.sqrt(12.0)) ** 2
    return np.where(enough, along / np.where(enough, across, 1.0), np.nan)


def driven_evidence(
    gain: Floats, speed_mps: Floats, driving: Flags, rolling: Flags
) -> Floats | None:
    """Return ln(likelihood of each gain if the crank drives, over that if it does not), tempered.

    ``gain``: see ``gained``; ``driving``, ``rolling``: where a ride surely does either; one value a
    sample, 0 where the gain is unknown. None where there is too little driving to compare with.
    """
    known = np.isfinite(gain) & np.isfinite(speed_mps)
    if (driving & known).sum() < LEAST_S:
        return None
    slowing = _resistance(gain[rolling & known], speed_mps[rolling & known])
    resistance = slowing[0] + slowing[1] * speed_mps[known] ** 2
    push = gain[known] + resistance
    bins = np.digitize(push, BINS)
    drives, rolls = (
        np.bincount(bins[kind[known]], minlength=len(BINS) + 1) for kind in (driving, rolling)
    )
    middles = np.append(BINS, BINS[-1])
    believed = _between(middles, np.full(len(middles), LEAST_PUSH_MPS2))
    alone = _density(rolls + BELIEVED_S * believed / believed.sum())
    # Who keeps a pace on the level, or helps along downhill, pushes by no more than resists: little
    # where it is slow, however seldom this ride had that.
    driven = (1.0 - EASY) * _density(drives)[bins] + EASY * _between(push, resistance)
    ratio = np.clip(TEMPER * np.log(driven / alone[bins]), -MOST, MOST)
    evidence = np.zeros(len(gain))
    evidence[known] = ratio
    return evidence


def _resistance(gain: Floats, speed_mps: Floats) -> Floats:
    """Return rolling resistance, m/s2, and drag, 1/m, of a vehicle that rolls.

    Least squares beside the usual values, strays weighted down (Huber 1964), and those that slow it
    more than others, since brakes never make it faster.
    """
    usual, doubt = np.array([ROLLING_MPS2, DRAG_PER_M]), np.array([ROLLING_DOUBT, DRAG_DOUBT])
    design = np.stack([np.ones(len(gain)), speed_mps**2], axis=1)
    found = usual
    for _ in range(8):
        off = (-gain - design @ found) / GUSTS_MPS2
        weight = TEMPER / GUSTS_MPS2**2 / np.maximum(np.abs(off), 1.0)
        weight = np.where(off > 0.0, BRAKES * weight, weight)
        normal = (design * weight[:, None]).T @ design + np.diag(doubt**-2.0)
        found = np.linalg.solve(normal, design.T @ (weight * -gain) + usual / doubt**2)
    return np.asarray(np.maximum(found, 0.0))


def _between(push: Floats, most: Floats) -> Floats:
    """Return the share of a bin at each push, all from none to ``most`` alike, spread by gusts."""
    from scipy.special import ndtr

    most = np.maximum(most, LEAST_PUSH_MPS2)
    inside = ndtr(push / GUSTS_MPS2) - ndtr((push - most) / GUSTS_MPS2)
    return np.asarray(float(BINS[1] - BINS[0]) * inside / most)


def _density(counts: NDArray[np.generic]) -> Floats:
    """Return the share of a kind in each bin, smoothed, and nowhere nothing."""
    from scipy.ndimage import gaussian_filter1d

    width = SMOOTHED / float(BINS[1] - BINS[0])
    smooth = gaussian_filter1d(counts.astype(np.float64), width, mode="nearest") + 0.5
    return np.asarray(smooth / smooth.sum())
