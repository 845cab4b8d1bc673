"""Where ridelab is wrong on a case: time ranges, what was true and what was inferred."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks import scoring
from tests.benchmarks.inference_counts import named_shifts, renumbered
from tests.benchmarks.inference_found import NONE, as_found, measured, readings
from tests.benchmarks.inference_truth import nearest_gears, true_gears, true_ride

if TYPE_CHECKING:
    import polars as pl

    from tests.benchmarks.inference_cases import Case
    from tests.benchmarks.inference_found import Flags, Named
    from tests.benchmarks.inference_truth import TrueRide


def wrong_stretches(case: Case) -> list[str]:
    """Return lines about the ladder, then every ride's stretches and shifts that are wrong."""
    rides = case.rides()
    read = readings(case, rides)
    result = measured(case, read)
    gears = true_gears(rides)
    found, numbers = as_found(result), {gear: gear for gear in result.gears["gear"]}
    if not case.given:
        scale = float(np.log(case.body.rollout_m))
        numbers = nearest_gears(found.ln_developments, gears, scale)
        found = renumbered(found, gears, scale)
    out = [f"{case.name}: {len(result.gears)} gears measured, {len(gears)} driven"]
    out += [f"  said: {problem.message}" for problem in result.problems]
    for row in result.gears.iter_rows(named=True):
        gear = numbers[row["gear"]]
        true = gears.get(gear)
        if true is None:
            out.append(f"  gear {gear}: {row['ratio']:.4f}, never driven")
            continue
        low, high = (np.log(row[f"ratio_{end}"]) - true.ln_ratio for end in ("low", "high"))
        out.append(
            f"  gear {gear:2} true {np.exp(true.ln_ratio):.4f} ({true.seconds:4.0f} s): "
            f"{np.log(row['ratio']) - true.ln_ratio:+.3%}, interval {low:+.3%} to {high:+.3%}"
        )
    for number, (ride, named) in enumerate(zip(rides, found.rides, strict=True), 1):
        one = result.rides[number - 1]
        out.append(f"ride {number}: {one.channel}, lag {one.lag_s} s, spread {one.spread}")
        out += _ride_lines(named, true_ride(ride))
    return out


def _ride_lines(named: Named, true: TrueRide) -> list[str]:
    right = named.gear == true.gear
    claimed = named.coupled & (named.gear != NONE)
    return [
        *_stretches("wrong gear", true.driven & true.away & ~right, named, true),
        *_stretches("given a gear while decoupled", true.loose & claimed, named, true),
        *_shifts(named, true),
    ]


def _stretches(what: str, wrong: Flags, named: Named, true: TrueRide) -> list[str]:
    lines = []
    for is_wrong, group in groupby(range(len(wrong)), key=lambda i: bool(wrong[i])):
        at = list(group)
        if is_wrong:
            spans = [f"{true.t_s[at[0]]:.0f}–{true.t_s[at[-1]]:.0f} s"]
            spans.append("true " + "/".join(map(str, np.unique(true.gear[at]))))
            spans.append("found " + "/".join(map(str, np.unique(named.gear[at]))))
            lines.append(f"  {what}: {', '.join(spans)}")
    return lines


def _shifts(named: Named, true: TrueRide) -> list[str]:
    """Return true sweeps without a found one near them, and found ones without a true one."""
    shifts, ways = true.shown, named_shifts(named, true)
    return [
        *(f"  shift missed: {_moment(row)}" for row in _alone(shifts, ways)),
        *(f"  shift too many: {_moment(row)}" for row in _alone(ways, shifts)),
    ]


def _alone(these: pl.DataFrame, others: pl.DataFrame) -> list[tuple[float, int]]:
    return [
        (t, way)
        for t, way in these.select("t_s", "direction").iter_rows()
        if not any(
            way == other_way and abs(t - other) <= scoring.MATCH_S
            for other, other_way in others.select("t_s", "direction").iter_rows()
        )
    ]


def _moment(row: tuple[float, int]) -> str:
    return f"{row[0]:.1f} s {'up' if row[1] > 0 else 'down'}"
