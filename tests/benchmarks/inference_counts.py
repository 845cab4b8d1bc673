"""Found against true: what is counted for one method on one case, and how counts add up."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks import scoring
from tests.benchmarks.inference_found import NONE, Found, Named
from tests.benchmarks.inference_truth import nearest_gears, seen_shifts

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    import polars as pl

    from tests.benchmarks.inference_truth import TrueGear, TrueRide

#: The ladder is judged by gears that were driven for this long.
RIDDEN_S = 60.0


@dataclass
class Counts:
    """Sums over rides, and one error a gear.

    ``away``: records of seconds in which the crank drove throughout, away from shifts;
    ``coupled``, ``coupled_away``: records at whose instant it drove. ``true_shifts``, ``hits``: of
    the sweeps that records can show; ``made_``: of all that the hand made. ``loose``: records of
    seconds in which the crank never drove; ``loose_instants``: records at whose instant it did not;
    ``loose_long``: those in spells of two seconds and more; ``loose_moving``: those with the wheel
    turning; each ``_named``: of these, given a gear as coupled. ``unmeasured``: gears driven long
    enough without a measurement; ``phantoms``: gears measured that never drove.
    """

    records: int = 0
    right: int = 0
    coupled: int = 0
    coupled_right: int = 0
    coupled_away: int = 0
    coupled_away_right: int = 0
    away: int = 0
    away_right: int = 0
    true_shifts: int = 0
    found_shifts: int = 0
    hits: int = 0
    made_shifts: int = 0
    made_hits: int = 0
    loose: int = 0
    loose_named: int = 0
    loose_instants: int = 0
    loose_instants_named: int = 0
    loose_moving: int = 0
    loose_moving_named: int = 0
    loose_long: int = 0
    loose_long_named: int = 0
    unmeasured: int = 0
    phantoms: int = 0
    errors: list[float] = field(default_factory=list)

    def __add__(self, other: Counts) -> Counts:
        return Counts(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))


def total(counts: Iterable[Counts]) -> Counts:
    """Add up."""
    return sum(counts, Counts())


def count_case(
    found: Found,
    rides: Sequence[TrueRide],
    gears: Mapping[int, TrueGear],
    numbered: bool,
    scale: float,
) -> Counts:
    """Count one method's result; ``numbered``: its gears bear the numbers of the true ladder.

    ``scale``: ln(development) of a ratio of 1, to know gears by where no ladder was given.
    """
    if not numbered:
        found = renumbered(found, gears, scale)
    counts = total(count_ride(named, true) for named, true in zip(found.rides, rides, strict=True))
    errors, unmeasured = ladder_errors(found.ln_developments, gears)
    counts.errors, counts.unmeasured = list(errors.values()), unmeasured
    counts.phantoms = sum(gear not in gears for gear in found.ln_developments)
    return counts


def renumbered(found: Found, gears: Mapping[int, TrueGear], scale: float) -> Found:
    """Give each found gear the number of the nearest true one; of several the most used stands."""
    numbers = nearest_gears(found.ln_developments, gears, scale)
    used = np.concatenate([ride.gear for ride in found.rides])
    samples = {gear: int((used == gear).sum()) for gear in found.ln_developments}
    ladder: dict[int, float] = {}
    for gear in sorted(found.ln_developments, key=lambda gear: samples[gear]):
        ladder[numbers[gear]] = found.ln_developments[gear]
    most = int(max([NONE, *used.tolist(), *numbers]))
    table = np.full(most + 1, NONE)
    for gear, number in numbers.items():
        table[gear] = number
    return Found(tuple(Named(table[ride.gear], ride.coupled) for ride in found.rides), ladder)


def ladder_errors(
    ln_developments: Mapping[int, float], gears: Mapping[int, TrueGear]
) -> tuple[dict[int, float], int]:
    """Return each gear's error, the common scale (their median) taken out, and how many lack one.

    Gears driven for ``RIDDEN_S`` or more.
    """
    ridden = [gear for gear, true in gears.items() if true.seconds >= RIDDEN_S]
    off = {
        gear: ln_developments[gear] - gears[gear].ln_ratio
        for gear in ridden
        if gear in ln_developments
    }
    scale = float(np.median(list(off.values()))) if off else 0.0
    return {gear: value - scale for gear, value in off.items()}, len(ridden) - len(off)


def count_ride(named: Named, true: TrueRide) -> Counts:
    """Count one ride."""
    right = named.gear == true.gear
    away, then_away = true.driven & true.away, true.coupled & true.away
    instants, claimed = ~true.coupled, named.coupled & (named.gear != NONE)
    moving, long = instants & true.moving, instants & true.apart
    ways = named_shifts(named, true)
    return Counts(
        records=len(right),
        right=int(right.sum()),
        coupled=int(true.coupled.sum()),
        coupled_right=int((right & true.coupled).sum()),
        coupled_away=int(then_away.sum()),
        coupled_away_right=int((right & then_away).sum()),
        away=int(away.sum()),
        away_right=int((right & away).sum()),
        true_shifts=len(true.shown),
        found_shifts=len(ways),
        hits=scoring.matched(true.shown, ways),
        made_shifts=len(true.made),
        made_hits=scoring.matched(true.made, ways),
        loose=int(true.loose.sum()),
        loose_named=int((true.loose & claimed).sum()),
        loose_instants=int(instants.sum()),
        loose_instants_named=int((instants & claimed).sum()),
        loose_moving=int(moving.sum()),
        loose_moving_named=int((moving & claimed).sum()),
        loose_long=int(long.sum()),
        loose_long_named=int((long & claimed).sum()),
    )


def named_shifts(named: Named, true: TrueRide) -> pl.DataFrame:
    """Sweeps as a method names them: t_s and direction."""
    return seen_shifts(true.t_s, named.gear, named.coupled)
