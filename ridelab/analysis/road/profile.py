"""Altitude over distance -> the road's profile: its height, smoothed, and how steep it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

#: Cells of the grid to one length of smoothing; odd, so that a window has a middle.
CELLS = 9


@dataclass(frozen=True)
class RoadProfile:
    """A road as high as ``height_m`` at ``along_m``; both evenly spaced, nan where unknown.

    Heights are means over a window of ``resolution_m``, taken twice. A hill that repeats every L
    metres keeps (sin(x) / x)² of its height and grade, x = π · resolution / L (transfer function of
    a moving average, taken twice): half of it at L = 2.26 times the resolution, 91 % at six times.
    """

    along_m: Floats
    height_m: Floats
    resolution_m: float

    @classmethod
    def of(cls, along_m: Floats, altitude_m: Floats, resolution_m: float) -> RoadProfile | None:
        """Smooth altitudes at places along the road, in any density; nan is unknown.

        ``along_m`` never falls. None where less of the road than twice the resolution is known. A
        stretch longer than the resolution without altitudes stays unknown.
        """
        known = np.isfinite(altitude_m) & np.isfinite(along_m)
        along, altitude = along_m[known], altitude_m[known]
        if len(along) < 2 or along[-1] - along[0] < 2.0 * resolution_m:
            return None
        cell_m = resolution_m / CELLS
        cells = ((along - along[0]) / cell_m).astype(np.int64)
        count = np.bincount(cells)
        seen = np.flatnonzero(count)
        places = np.bincount(cells, along)[seen] / count[seen]
        heights = np.bincount(cells, altitude)[seen] / count[seen]
        grid = along[0] + (np.arange(len(count)) + 0.5) * cell_m
        smooth = _averaged(_averaged(_between(grid, places, heights)))
        unknown = _far_from(grid, places, resolution_m / 2.0)
        return cls(grid, np.where(unknown, np.nan, smooth), resolution_m)

    def height_at(self, along_m: Floats) -> Floats:
        """Return the height at places along the road, m."""
        return _between(along_m, self.along_m, self.height_m)

    def grade_at(self, along_m: Floats) -> Floats:
        """Return the rise of the road over its length at places along it."""
        cell_m = self.resolution_m / CELLS
        return np.interp(along_m, self.along_m, np.gradient(self.height_m, cell_m))


def swings(height_m: Floats, dead_band_m: float) -> NDArray[np.int64]:
    """Return where heights turn from rising to falling and back, both ends included.

    A swing smaller than the dead band is none: it belongs to the rise or fall around it. What lies
    before the first and after the last swing is smaller than that, too, and told by neither.
    """
    known = np.flatnonzero(np.isfinite(height_m))
    if not len(known):
        return np.empty(0, np.int64)
    turns = _turns(height_m, known)
    found: list[int] = []
    trend = 0
    places, heights = turns.tolist(), height_m[turns].tolist()
    low = high = heights[0]
    lowest = highest = places[0]
    for place, height in zip(places, heights, strict=True):
        if height > high:
            highest, high = place, height
        if height < low:
            lowest, low = place, height
        if trend >= 0 and high - height >= dead_band_m:
            found.append(highest)
            trend, lowest, highest, low, high = -1, place, place, height, height
        elif trend <= 0 and height - low >= dead_band_m:
            found.append(lowest)
            trend, lowest, highest, low, high = 1, place, place, height, height
    if trend:
        found.append(highest if trend > 0 else lowest)
    return np.array(found, np.int64)


def _turns(height_m: Floats, known: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the ends and the local extremes: nothing between them can be a turn."""
    heights = height_m[known]
    moved = known[np.flatnonzero(np.diff(heights, prepend=np.nan) != 0.0)]
    rising = np.diff(height_m[moved]) > 0.0
    inner = moved[1:-1][rising[1:] != rising[:-1]]
    return np.concatenate([moved[:1], inner, moved[-1:]])


def _between(grid: Floats, places: Floats, heights: Floats) -> Floats:
    """Return heights on the grid; before the first place and after the last, on as they came."""
    out = np.interp(grid, places, heights)
    for end, inner, beyond in ((0, 1, grid < places[0]), (-1, -2, grid > places[-1])):
        slope = (heights[end] - heights[inner]) / (places[end] - places[inner])
        out[beyond] = heights[end] + slope * (grid[beyond] - places[end])
    return np.asarray(out)


def _averaged(values: Floats) -> Floats:
    """Return running means over ``CELLS``; beyond its ends a road goes on as it came."""
    around = CELLS // 2
    before = 2.0 * values[0] - values[around:0:-1]
    after = 2.0 * values[-1] - values[-2 : -around - 2 : -1]
    padded = np.concatenate([before, values, after])
    sums = np.cumsum(np.concatenate([[0.0], padded]))
    return np.asarray((sums[CELLS:] - sums[:-CELLS]) / CELLS)


def _far_from(grid: Floats, places: Floats, reach_m: float) -> NDArray[np.bool_]:
    after = np.searchsorted(places, grid).clip(1, len(places) - 1)
    nearest = np.minimum(np.abs(grid - places[after - 1]), np.abs(places[after] - grid))
    return np.asarray(nearest > reach_m)
