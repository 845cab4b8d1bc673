"""A ladder -> the whole teeth that explain it best, on one chainring or on two.

Rollout and chainring enter every gear of one ring alike, so rides tell only their product: one
number for each ring, and with it the sprockets. Those are tried over a grid.

The more teeth, the closer together are the ratios that they make, and the nearer lies one of them
to any gear. A fit is therefore rated by its likelihood over that of gears which lie anywhere:
squared deviations in standard errors, plus twice the logarithm of how many whole-tooth ratios there
are per unit of ln(development) at each gear.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.gears.observations import Flags, Floats

    Whole = NDArray[np.int64]

#: What is sold: common practice, no source. A row of sprockets begins at 9 to 18 teeth and has up
#: to 13 of them; two chainrings differ by up to 16 teeth, so hardly by more than a factor of 1.6.
SPROCKETS, FIRST_SPROCKET, MOST_SPROCKETS = (9, 52), 18, 13
RING_RATIOS = (1.1, 1.6)
#: A measured gear is no better known than this, in ln(development): wheels differ by the day.
LEAST_SD = 0.001
#: Grid of what rollout and chainring make together, in its logarithm.
GRID = 0.001
#: A gear's chainring is good if a whole number of teeth is this near, in standard errors.
GOOD = 2.5
#: A gear further than this fits no teeth: two that were measured as one, or noise. One in so many
#: may; and a second chainring counts from so many gears on.
FURTHEST, ONE_IN, LEAST_ON_RING = 4.0, 6, 3
#: Fewer gears than this on one chainring, or on two, are explained by chance.
LEAST_GEARS = {1: 5, 2: 10}
#: A ladder is explained unless so large deviations come up less often than this.
LEAST_PROBABILITY = 0.01
#: Fits that are looked at in full, the most likely first.
CANDIDATES = 60


@dataclass(frozen=True)
class ToothFit:
    """Chainrings and sprockets; arrays have one entry a gear, lowest first.

    Attributes:
        fits: whether the gear was explained; it counts for nothing else if not.
        ring: 0 for the smaller or only chainring, 1 for the larger.
        sprocket: teeth.
        residuals: measured over fitted, in ln(development).
        ln_scale: of rollout times the teeth of the smaller chainring, metres.
        ln_ring_ratio: of the larger chainring over the smaller; 0 where there is one.
        misfit: sum of squared residuals in standard errors, of the gears that fit.
        rating: minus twice the log likelihood over that of gears anywhere; lower is better.
    """

    fits: Flags
    ring: Whole
    sprocket: Whole
    residuals: Floats
    ln_scale: float
    ln_ring_ratio: float
    misfit: float
    rating: float

    @property
    def rings(self) -> int:
        """How many chainrings there are."""
        return 1 + int(self.ln_ring_ratio > 0)

    @property
    def rms(self) -> float:
        """Root mean square of the residuals of gears that fit, as a share of the development."""
        return float(np.sqrt(np.mean(self.residuals[self.fits] ** 2)))

    @property
    def within_errors(self) -> bool:
        """Whether the residuals are as small as the gears' standard errors let expect."""
        from scipy.special import chdtrc

        freedom = int(self.fits.sum()) - self.rings
        return bool(chdtrc(freedom, self.misfit) > LEAST_PROBABILITY)


def fit_teeth(
    ln_developments: Floats, sd: Floats, rings: int, worst: float = np.inf
) -> ToothFit | None:
    """Return the best rated teeth on one or two chainrings, None where none are possible.

    ``ln_developments``: lowest first; ``sd``: their standard errors, what all gears share left out;
    ``worst``: what is certainly rated above is not looked at. The most likely places of the grid
    are assigned and settled in turn.
    """
    if len(ln_developments) < LEAST_GEARS[rings]:
        return None
    y, sd = ln_developments, np.hypot(sd, LEAST_SD)
    grid = _Grid.of(y, sd, rings)
    # Least squares improves on the nearest place of the grid by so much at most.
    gain = len(y) * (0.5 * GRID / LEAST_SD) ** 2
    best: ToothFit | None = None
    for rating, small, large in grid.candidates(worst + gain):
        if best is not None and rating - gain >= best.rating:
            break
        found = _settled(y, sd, grid, (small, large))
        if found is not None and (best is None or found.rating < best.rating):
            best = found
    return best


@dataclass(frozen=True)
class _Grid:
    """Teeth that each gear would need, (grid, gears), at every value of ln(rollout * chainring).

    ``nearest``: the whole number next to it; ``misfit``: squared distance from that in standard
    errors, at most ``FURTHEST`` squared; ``crowd``: twice the sum of the logarithms of the ratios
    per unit of ln(development).
    """

    ln_scale: Floats
    nearest: Floats
    misfit: Floats
    crowd: Floats
    rings: int

    @classmethod
    def of(cls, y: Floats, sd: Floats, rings: int) -> _Grid:
        """Lay the grid so that the highest gear falls on what a row of sprockets begins with."""
        smallest = np.log(SPROCKETS[0] - 0.4) - (np.log(RING_RATIOS[1]) if rings == 2 else 0.0)
        ln_scale = y[-1] + np.arange(smallest, np.log(FIRST_SPROCKET + 0.4), GRID)
        ln_teeth = ln_scale[:, None] - y
        nearest = np.maximum(np.round(np.exp(ln_teeth)), 1.0)
        misfit = np.minimum(((ln_teeth - np.log(nearest)) / sd) ** 2, FURTHEST**2)
        misfit[(nearest < SPROCKETS[0]) | (nearest > SPROCKETS[1])] = FURTHEST**2
        return cls(ln_scale, nearest, misfit, 2.0 * ln_teeth.sum(axis=1), rings)

    def candidates(self, worst: float) -> list[tuple[float, int, int]]:
        """Return ratings up to ``worst``, best first, with the places of both rings on the grid."""
        if self.rings == 1:
            rated = self.misfit.sum(axis=1) + self.crowd
            order = np.argsort(rated)[:CANDIDATES]
            return [(float(rated[at]), int(at), int(at)) for at in order if rated[at] <= worst]
        found = []
        low, high = (int(np.ceil(np.log(ratio) / GRID)) for ratio in RING_RATIOS)
        gears, places = self.misfit.shape[1], len(self.ln_scale)
        narrow = self.misfit.astype(np.float32)
        for apart in range(low, min(high, places)):
            crowd = self.crowd[: places - apart] + 2.0 * gears * np.log1p(np.exp(apart * GRID))
            few = int(np.searchsorted(crowd, worst))
            if few == 0:
                continue
            rated = np.minimum(narrow[:few], narrow[apart : apart + few]).sum(axis=1) + crowd[:few]
            at = int(rated.argmin())
            found.append((float(rated[at]), at, at + apart))
        return sorted(found)[:CANDIDATES]


def _settled(y: Floats, sd: Floats, grid: _Grid, at: tuple[int, int]) -> ToothFit | None:
    """Return one place of the grid as a fit, its scale and ring ratio by least squares.

    None where no bicycle is made like that.
    """
    fits = grid.misfit[list(at)].min(axis=0) < FURTHEST**2
    ring, sprocket = _assigned(grid, at)
    if not _possible(fits, ring, sprocket, grid.rings):
        return None
    design = np.column_stack([np.ones(len(y)), ring])[:, : grid.rings]
    target = y + np.log(sprocket)
    known = (design / sd[:, None])[fits]
    solution = np.linalg.lstsq(known, (target / sd)[fits], rcond=None)[0]
    residuals = target - design @ solution
    misfit = float(((residuals / sd)[fits] ** 2).sum())
    ln_ring_ratio = float(solution[1]) if grid.rings == 2 else 0.0
    ratios = solution[0] - y + (np.log1p(np.exp(ln_ring_ratio)) if grid.rings == 2 else 0.0)
    rating = misfit + FURTHEST**2 * float((~fits).sum()) + 2.0 * float(ratios.sum())
    return ToothFit(
        fits, ring, sprocket, residuals, float(solution[0]), ln_ring_ratio, misfit, rating
    )


def _possible(fits: Flags, ring: Whole, sprocket: Whole, rings: int) -> bool:
    """Return whether enough gears fit, no two are the same, and one row holds the sprockets."""
    used = list(zip(ring[fits].tolist(), sprocket[fits].tolist(), strict=True))
    row = np.unique(sprocket[fits])
    return (
        int((~fits).sum()) <= len(fits) // ONE_IN
        and len(set(used)) == len(used)
        and len(row) <= MOST_SPROCKETS
        and row[0] <= FIRST_SPROCKET
        and (rings == 1 or min(np.bincount(ring[fits], minlength=2)) >= LEAST_ON_RING)
    )


def _assigned(grid: _Grid, at: tuple[int, int]) -> tuple[Whole, Whole]:
    """Return the chainring and the sprocket of each gear.

    Where a gear is good on both rings, that with a sprocket which others need anyway, since both
    rings drive the same row; else the smaller for the lower half of the ladder, as people ride.
    """
    teeth = grid.nearest[list(at)].astype(np.int64)
    misfit = grid.misfit[list(at)]
    ring = np.asarray(misfit.argmin(axis=0))
    if grid.rings == 1:
        return np.zeros_like(ring), teeth[0]
    either = (misfit < GOOD**2).all(axis=0)
    sure = np.flatnonzero(~either & (misfit.min(axis=0) < FURTHEST**2))
    needed = set(teeth[ring[sure], sure].tolist())
    for gear in np.flatnonzero(either):
        small, large = (int(one) in needed for one in teeth[:, gear])
        ring[gear] = int(large) if small != large else int(2 * gear >= len(ring))
        needed.add(int(teeth[ring[gear], gear]))
    return ring, teeth[ring, np.arange(len(ring))]
