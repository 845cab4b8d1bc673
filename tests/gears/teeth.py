"""Do developments stand to each other as whole tooth numbers do? Fits a chain drive to a ladder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

#: What is sold: common practice, no source.
CHAINRINGS = range(22, 61)
SPROCKETS = range(9, 53)
#: Rollouts of wheels from 20 to 29 inches, metres.
ROLLOUTS_M = (1.4, 2.4)
#: A front derailleur spans up to 16 teeth (common practice, no source).
WIDEST_PAIR = 16


@dataclass(frozen=True)
class ChainDrive:
    """A fit: the gears as (chainring, sprocket), and ln(development) over the fitted one."""

    gears: tuple[tuple[int, int], ...]
    rollout_m: float
    residuals: NDArray[np.float64]

    @property
    def rms(self) -> float:
        """Root mean square of the residuals, as a share of the development."""
        return float(np.sqrt(np.mean(self.residuals**2)))


def fit_teeth(developments_m: Sequence[float], chainrings: int = 1) -> ChainDrive | None:
    """Fit one or two chainrings and whole sprockets to a ladder; None if nothing possible fits.

    Only the product of rollout and chainring is told by developments, so rollouts are tried on a
    grid of 0.1 % and sprockets rounded; every gear takes the chainring that brings it nearer.
    Sprockets on one chainring must differ. Few teeth make a hard test: of all fits within 10 % of
    the best the one with the smallest chainrings is taken.
    """
    ln_dev = np.log(np.asarray(developments_m))
    best: tuple[float, ChainDrive] | None = None
    for rings in _ring_sets(chainrings):
        fitted = _best_rollout(ln_dev, rings)
        if fitted is not None and (best is None or fitted.rms < best[0] / 1.1):
            best = (fitted.rms, fitted)
    return best[1] if best else None


def _ring_sets(chainrings: int) -> list[tuple[int, ...]]:
    if chainrings == 1:
        return [(ring,) for ring in CHAINRINGS]
    return [
        (small, large)
        for large in CHAINRINGS
        for small in CHAINRINGS
        if 6 <= large - small <= WIDEST_PAIR
    ]


def _best_rollout(ln_dev: NDArray[np.float64], rings: tuple[int, ...]) -> ChainDrive | None:
    ln_rollout = np.arange(np.log(ROLLOUTS_M[0]), np.log(ROLLOUTS_M[1]), 0.001)
    constant = ln_rollout[:, None, None] + np.log(np.array(rings))  # rollouts, 1, rings
    teeth = np.clip(np.round(np.exp(constant - ln_dev[:, None])), SPROCKETS[0], SPROCKETS[-1])
    off = ln_dev[:, None] + np.log(teeth) - constant
    ring = np.abs(off).argmin(axis=2)
    nearest = np.take_along_axis(off, ring[:, :, None], axis=2)[:, :, 0]
    sprocket = np.take_along_axis(teeth, ring[:, :, None], axis=2)[:, :, 0]
    names = np.sort(ring * 1000 + sprocket, axis=1)
    rms = np.sqrt((nearest**2).mean(axis=1))
    rms[(np.diff(names, axis=1) == 0).any(axis=1)] = np.inf
    at = int(rms.argmin())
    if not np.isfinite(rms[at]):
        return None
    gears = tuple((rings[r], int(s)) for r, s in zip(ring[at], sprocket[at], strict=True))
    return ChainDrive(gears, float(np.exp(ln_rollout[at])), nearest[at])


def by_chance(developments_m: Sequence[float], chainrings: int = 1, tries: int = 40) -> float:
    """Return the middle rms of the same fit to ladders without any teeth behind them.

    They have as many gears, between the same ends, at random places at least 1.5 % apart.
    """
    rng = np.random.default_rng(1)
    low, high = np.log(developments_m[0]), np.log(developments_m[-1])
    found: list[float] = []
    while len(found) < tries:
        inner = rng.uniform(low, high, len(developments_m) - 2)
        random = np.sort(np.concatenate([[low, high], inner]))
        if np.diff(random).min() > 0.015:
            fitted = fit_teeth([float(d) for d in np.exp(random)], chainrings)
            found.append(fitted.rms if fitted else np.inf)
    return float(np.median(found))
