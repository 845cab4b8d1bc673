"""The cheapest gears for a ride whose road is known: dynamic programming over time and gear.

Bellman's principle (R. Bellman, Dynamic Programming, 1957): the least cost of being in a gear now
is that of the cheapest gear a moment ago, the shift from it included, and the discomfort now. A
shift costs a fixed price and more for each gear passed, so the cheapest gear to come from is found
in two sweeps along the ladder, one up and one down, instead of by trying all pairs (the distance
transform of P. Felzenszwalb and D. Huttenlocher, Theory of Computing 8 (2012) 415-428; from
memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Places = NDArray[np.int64]


@dataclass(frozen=True)
class Price:
    """What a shift costs, in seconds of pedalling at an edge of the comfortable band.

    ``shift``: to a neighbouring gear; ``further``: the share of that for each gear beyond it.
    """

    shift: float = 3.0
    further: float = 0.2

    @property
    def fixed(self) -> float:
        """What does not depend on how far one shifts."""
        return self.shift * (1.0 - self.further)

    @property
    def each(self) -> float:
        """What each gear adds."""
        return self.shift * self.further

    def of(self, gears: NDArray[np.int64]) -> Floats:
        """Return the price of shifts over so many gears, 0 where there is none."""
        return np.where(gears == 0, 0.0, self.fixed + self.each * np.abs(gears))


def best_gears(discomfort: Floats, may_shift: Flags, price: Price) -> tuple[Places, Floats]:
    """Return the places of the cheapest gears, moments × rides, and what each ride costs in all.

    ``discomfort``: moments × rides × gears, lowest gear first; ``may_shift``: moments × rides,
    whether the gear may differ from that of the moment before. A ride begins in any gear.
    """
    least = _least_costs(discomfort, may_shift, price)
    rides = range(discomfort.shape[1])
    moved = least[1:] < least[:-1] + discomfort[1:]
    places = [_traced(least[:, ride], moved[:, ride], price) for ride in rides]
    return np.stack(places, axis=1), least[-1].min(axis=1)


def cost_of(places: Places, discomfort: Floats, price: Price) -> Floats:
    """Return what rides in these gears cost in all: discomfort and shifts; one value a ride."""
    felt = np.take_along_axis(discomfort, places[..., None], axis=2)[..., 0]
    return np.asarray(felt.sum(axis=0) + price.of(np.diff(places, axis=0)).sum(axis=0))


def _least_costs(discomfort: Floats, may_shift: Flags, price: Price) -> Floats:
    """Return the least cost of being in each gear at each moment."""
    least = np.empty_like(discomfort)
    now = least[0] = discomfort[0]
    ramp = price.each * np.arange(discomfort.shape[2])
    twice, last = 2.0 * ramp, ramp - price.fixed
    reach = np.empty_like(now)
    backward = reach[:, ::-1]
    free, barred = np.all(may_shift, axis=1), ~np.any(may_shift, axis=1)
    added = np.where(may_shift, 0.0, np.inf)[..., None]
    lowest, add, subtract = np.minimum, np.add, np.subtract
    for t in range(1, len(discomfort)):
        if barred[t]:
            now = add(now, discomfort[t], out=least[t])
            continue
        subtract(now, ramp, out=reach)
        lowest.accumulate(reach, axis=1, out=reach)
        add(reach, twice, out=reach)
        lowest.accumulate(backward, axis=1, out=backward)
        subtract(reach, last, out=reach)
        if not free[t]:
            add(reach, added[t], out=reach)
        lowest(reach, now, out=reach)
        now = add(reach, discomfort[t], out=least[t])
    return least


def _traced(least: Floats, moved: Flags, price: Price) -> Places:
    """Go back through one ride from its cheapest end, from shift to shift."""
    places = np.empty(len(least), dtype=np.int64)
    columns, gears = np.ascontiguousarray(moved.T), np.arange(least.shape[1])
    gear, end = int(least[-1].argmin()), len(least)
    while True:
        shifts = columns[gear, : end - 1][::-1]
        back = int(shifts.argmax()) if shifts.size else 0
        if not shifts.size or not shifts[back]:
            places[:end] = gear
            return places
        begin = end - 1 - back
        places[begin:end] = gear
        # Where a shift has no fixed price, rounding may pass for one: then the gear itself is best.
        gear, end = int((least[begin - 1] + price.of(gears - gear)).argmin()), begin
