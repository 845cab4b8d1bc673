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


@dataclass(frozen=True)
class ChainDrive:
    """A fit: ``residuals`` are ln(development) over the fitted one, one a gear."""

    chainrings: tuple[int, ...]
    sprockets: tuple[int, ...]
    rollout_m: float
    residuals: NDArray[np.float64]

    @property
    def rms(self) -> float:
        """Root mean square of the residuals, as a share of the development."""
        return float(np.sqrt(np.mean(self.residuals**2)))


def one_chainring(developments_m: Sequence[float]) -> ChainDrive:
    """Fit one chainring: development x sprocket teeth = one constant, K = rollout x chainring.

    K is free within what chainrings and wheels allow, which says nothing of either alone; the
    chainring named is the one whose rollout comes closest to 2.1 m. A smaller K means coarser teeth
    and so a harder test; the smallest K within 10 % of the best fit is taken.
    """
    developments = np.asarray(developments_m)
    low, high = ROLLOUTS_M[0] * CHAINRINGS[0], ROLLOUTS_M[1] * CHAINRINGS[-1]
    constants = np.exp(np.arange(np.log(low), np.log(high), 0.0005))
    teeth = np.round(constants[:, None] / developments)
    residuals = np.log(developments * teeth / constants[:, None])
    possible = (teeth >= SPROCKETS[0]) & (teeth <= SPROCKETS[-1])
    distinct = (np.diff(np.sort(teeth, axis=1), axis=1) > 0).all(axis=1)
    rms = np.sqrt((residuals**2).mean(axis=1))
    rms[~(possible.all(axis=1) & distinct)] = np.inf
    best = int(np.flatnonzero(rms <= 1.1 * rms.min())[0])
    chainring = min(CHAINRINGS, key=lambda ring: abs(constants[best] / ring - 2.1))
    return ChainDrive(
        (chainring,),
        tuple(int(count) for count in teeth[best]),
        float(constants[best] / chainring),
        residuals[best],
    )


def by_chance(gears: int, span: tuple[float, float], tries: int = 200, seed: int = 1) -> float:
    """Return the middle rms that ladders without any teeth behind them reach by the same fit."""
    rng = np.random.default_rng(seed)
    found: list[float] = []
    while len(found) < tries:
        random = np.sort(rng.uniform(np.log(span[0]), np.log(span[1]), gears))
        if np.diff(random).min() > 0.03:
            found.append(one_chainring([float(d) for d in np.exp(random)]).rms)
    return float(np.median(found))
