"""Rides of one vehicle that do not agree on the wheel -> by how much each must be shifted.

One recording device may be set to another wheel size than the next, or take its speed from
satellites: the ladders of two rides then differ by a common factor, up to some per cent.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.mixture import weights

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.observations import Floats
    from ridelab.gears.stretches import Stretches

BIN = 0.001
#: Width of a gear in the density that rides are laid on, ln(development).
WIDTH = 0.005
#: Shifts that are tried, and how far apart the wheels of two rides are expected to be.
FURTHEST, EXPECTED_SD = 0.06, 0.01
#: A ride is shifted only if that makes its stretches this much likelier (natural logarithm).
WORTH = 6.0


def ride_shifts(parts: Sequence[Stretches]) -> Floats:
    """Return ln(wheel of a ride over the wheel of all), one value a ride, their weighted mean 0.

    Rides are laid one by one, the one with most evidence first, on the density of those before.
    """
    shifts = np.zeros(len(parts))
    evidence = np.array([float(weights(part).sum()) for part in parts])
    if (evidence > 0).sum() < 2:
        return shifts
    low = min(float(part.ln_development.min()) for part in parts if len(part)) - 2 * FURTHEST
    high = max(float(part.ln_development.max()) for part in parts if len(part)) + 2 * FURTHEST
    laid = np.zeros(int((high - low) / BIN) + 2)
    for place, ride in enumerate(np.argsort(-evidence)):
        if evidence[ride] == 0:
            break
        if place:
            shifts[ride] = _best_shift(parts[ride], _blurred(laid), low)
        bins = ((parts[ride].ln_development - shifts[ride] - low) / BIN).astype(np.int64)
        laid += np.bincount(bins, weights=weights(parts[ride]), minlength=len(laid))
    return np.asarray(shifts - (evidence * shifts).sum() / evidence.sum())


def _blurred(laid: Floats) -> Floats:
    """Return the density of the stretches laid so far, per unit of ln(development)."""
    reach = np.arange(-int(4 * WIDTH / BIN), int(4 * WIDTH / BIN) + 1) * BIN
    kernel = np.exp(-0.5 * (reach / WIDTH) ** 2) / (np.sqrt(2.0 * np.pi) * WIDTH)
    return np.asarray(np.convolve(laid, kernel, mode="same") / laid.sum())


def _best_shift(part: Stretches, density: Floats, low: float) -> float:
    """Return the most probable shift, 0 unless another one is clearly likelier."""
    tried = np.arange(-FURTHEST, FURTHEST + BIN / 2, BIN)
    bins = np.round((part.ln_development[:, None] - tried - low) / BIN).astype(np.int64)
    likelihood = (weights(part)[:, None] * np.log(density[bins] + 0.1)).sum(axis=0)
    posterior = likelihood - 0.5 * (tried / EXPECTED_SD) ** 2
    unshifted = int(np.argmin(np.abs(tried)))
    best = int(np.argmax(posterior))
    return float(tried[best]) if posterior[best] - posterior[unshifted] > WORTH else 0.0
