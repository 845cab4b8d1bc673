"""Samples with both powers -> spells in one gear, with the energy at the crank and at the wheel.

Neither meter sees the other's clock: the wheel's may trail by seconds. The lag under which the two
powers go together best is taken out, in whole seconds, and what is left of it is kept out of the
spells by leaving out their ends. Nothing else is corrected: both meters tell power, so that what
goes into the speed of the vehicle passes both of them, while the little that crank, chain and
gears store turning in front of the wheel evens out over a spell.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.runs import Runs

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

#: A sample stands for the time until the next, at most so long; a longer silence ends a spell.
MOST_S = 10.0
#: A sample counts only if its gear is this certain.
LEAST_PROBABILITY = 0.8
#: Left out at either end of a spell: a shift under way, and what is left of a lag.
END_S = 2.0
SHORTEST_S, LONGEST_S = 10.0, 60.0
#: Meters are stated to be exact from some power on; common practice, no source.
LEAST_POWER_W = 50.0
#: A meter that reads less than half of the other is not reading.
READS = (0.5, 2.0)
MOST_LAG_S = 5
#: Powers that go together less than this say nothing of a lag.
LEAST_CORRELATION = 0.5
_NEAR_S = 1.5


@dataclass(frozen=True)
class PowerSpells:
    """Spells of one ride; arrays have one entry a spell.

    ``gear``: its number, 0 where there are no gears; ``seconds``; ``crank_j``, ``wheel_j``: energy;
    ``lag_s``: how far the wheel's meter trailed; ``not_reading``: spells left out because one meter
    read less than half of the other.
    """

    gear: NDArray[np.int64]
    seconds: Floats
    crank_j: Floats
    wheel_j: Floats
    lag_s: int = 0
    not_reading: int = 0


def spells_of(samples: pl.DataFrame, *, stepless: bool = False) -> PowerSpells:
    """Cut one ride into spells of 10 to 60 s in one gear, pedalled at 50 W or more.

    ``samples``: rows of the relation, by ``t_s``. Where ``stepless``, coupled samples are enough.
    """
    if samples.is_empty():
        return PowerSpells(np.empty(0, np.int64), np.empty(0), np.empty(0), np.empty(0))
    t_s, crank_w, wheel_w = (
        samples[name].fill_null(np.nan).to_numpy().astype(np.float64)
        for name in ("t_s", "power_w", "wheel_power_w")
    )
    lag_s = lag_between(t_s, crank_w, wheel_w)
    wheel_w = _at(t_s + lag_s, t_s, wheel_w) if lag_s else wheel_w
    running = samples["timer_running"].fill_null(value=True).to_numpy()
    seconds = np.where(running, np.append(np.diff(t_s), 0.0), 0.0)
    gear, is_named = _gears(samples, stepless)
    steady = is_named & np.isfinite(crank_w) & np.isfinite(wheel_w)
    steady &= (seconds > 0) & (seconds <= MOST_S)
    runs = _runs(t_s, gear, steady)
    own = seconds[runs.samples]
    spent = runs.sums(own)
    crank_j = runs.sums(own * crank_w[runs.samples])
    wheel_j = runs.sums(own * wheel_w[runs.samples])
    # Both powers in the mean: chosen by one of them, spells in which that erred upward would stay.
    enough = (spent >= SHORTEST_S) & (crank_j + wheel_j >= 2 * LEAST_POWER_W * spent)
    low, high = READS
    reads = (wheel_j >= low * crank_j) & (wheel_j <= high * crank_j)
    kept = enough & reads
    return PowerSpells(
        gear[runs.first][kept],
        spent[kept],
        crank_j[kept],
        wheel_j[kept],
        lag_s,
        int((enough & ~reads).sum()),
    )


def lag_between(t_s: Floats, crank_w: Floats, wheel_w: Floats) -> int:
    """Return by how many seconds the wheel's power trails the crank's, 0 where nothing tells."""
    known = np.isfinite(crank_w)
    if known.sum() < MOST_LAG_S or np.isfinite(wheel_w).sum() < MOST_LAG_S:
        return 0
    together = {
        lag: _correlation(crank_w[known], _at(t_s[known] + lag, t_s, wheel_w))
        for lag in range(-MOST_LAG_S, MOST_LAG_S + 1)
    }
    best = max(together, key=lambda lag: (together[lag], -abs(lag)))
    return best if together[best] >= LEAST_CORRELATION else 0


def _at(when_s: Floats, t_s: Floats, values: Floats) -> Floats:
    """Return values at other times, nan where the nearest known one is too far away.

    The nearest is taken, not one in between: that would smooth the noise of one meter alone.
    """
    known = np.isfinite(values)
    at, there = t_s[known], values[known]
    place = np.clip(np.searchsorted(at, when_s), 1, len(at) - 1)
    place -= when_s - at[place - 1] < at[place] - when_s
    found: Floats = np.where(np.abs(at[place] - when_s) <= _NEAR_S, there[place], np.nan)
    return found


def _correlation(one: Floats, other: Floats) -> float:
    both = np.isfinite(one) & np.isfinite(other)
    if both.sum() < MOST_LAG_S or one[both].std() == 0 or other[both].std() == 0:
        return 0.0
    return float(np.corrcoef(one[both], other[both])[0, 1])


def _gears(samples: pl.DataFrame, stepless: bool) -> tuple[NDArray[np.int64], Flags]:
    """Return the gear of each sample, and whether it is engaged and certain."""
    coupled = samples["coupled"].fill_null(value=False).to_numpy().astype(np.bool_)
    if stepless:
        return np.zeros(len(samples), dtype=np.int64), coupled
    gear = samples["gear"].fill_null(0).to_numpy().astype(np.int64)
    sure = samples["gear_probability"].fill_null(0.0).to_numpy() > LEAST_PROBABILITY
    return gear, coupled & sure & (gear > 0)


def _runs(t_s: Floats, gear: NDArray[np.int64], steady: Flags) -> Runs:
    """Return runs of steady samples in one gear, without their ends, cut every ``LONGEST_S``."""
    edges = np.ones(len(t_s), dtype=np.bool_)
    edges[1:] = (steady[1:] != steady[:-1]) | (gear[1:] != gear[:-1])
    runs = Runs.cut(edges)
    since = t_s - np.repeat(t_s[runs.first], runs.lengths)
    until = np.repeat(t_s[runs.stop - 1], runs.lengths) - t_s
    inside = steady & (since >= END_S) & (until >= END_S)
    edges[1:] |= inside[1:] != inside[:-1]
    edges[1:] |= np.diff(np.floor((since - END_S) / LONGEST_S)) > 0
    runs = Runs.cut(edges)
    return runs.where(inside[runs.first])
