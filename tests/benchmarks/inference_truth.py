"""What was true of a case, as the counts and the oracle need it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from tests.benchmarks import scoring

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridelab.simulate import SimulatedRide
    from tests.benchmarks.inference_found import Flags, Floats, Whole

#: A record tells of the second before it: of the turns that were completed in it.
SECOND_S = 1.0
#: Decoupled spells at least this long are counted apart from shorter ones.
SPELL_S = 2.0
_MOVING_MPS = 1.0


@dataclass(frozen=True)
class TrueRide:
    """One entry a record: the selected gear, ln(ratio as built), whether the crank drove just then.

    ``driven``: the crank drove throughout the second that the record tells of; ``loose``: it did
    not drive in any part of it. ``away``: further than ``scoring.AWAY_S`` from any change of gear;
    ``apart``: within a decoupled spell of ``SPELL_S`` or more; ``moving``: the wheel turns;
    ``turning``: the crank does. ``made``: every sweep that the rider made, ``shown``: those that a
    record can show, as ``scoring.seen_shifts`` says, a gear being seen once it has driven for a
    whole second; both with t_s and direction.
    """

    t_s: Floats
    gear: Whole
    ln_ratio: Floats
    coupled: Flags
    driven: Flags
    loose: Flags
    away: Flags
    apart: Flags
    moving: Flags
    turning: Flags
    made: pl.DataFrame
    shown: pl.DataFrame


@dataclass(frozen=True)
class TrueGear:
    """A gear as ridden: seconds driven in it, and the mean of ln(ratio as built) over them."""

    seconds: float
    ln_ratio: float


def true_ride(ride: SimulatedRide) -> TrueRide:
    """Return the truth of one ride."""
    truth = ride.truth
    t_s = truth["t_s"].to_numpy()
    changes = ride.shifts.filter(pl.col("from_gear") != pl.col("to_gear"))["t_s"].to_numpy()
    trace = ride.trace
    gear = truth["gear"].fill_null(0).cast(pl.Int64).to_numpy()
    spell = _long_spells(~trace.coupled, trace.t_s, SPELL_S)
    step = np.searchsorted(trace.t_s, t_s + 1e-6, side="right").clip(1) - 1
    share = _share_before(trace.coupled, step, round(SECOND_S / float(trace.t_s[0])))
    return TrueRide(
        t_s=t_s,
        gear=gear,
        ln_ratio=np.log(truth["ratio"].to_numpy()),
        coupled=truth["coupled"].to_numpy(),
        driven=share == 1.0,
        loose=share == 0.0,
        away=_further(t_s, changes, scoring.AWAY_S),
        apart=spell[step],
        moving=truth["speed_mps"].to_numpy() > _MOVING_MPS,
        turning=truth["cadence_rpm"].to_numpy() > 0.0,
        made=sweeps_made(ride),
        shown=seen_shifts(t_s, gear, share == 1.0),
    )


def seen_shifts(t_s: Floats, gear: Whole, coupled: Flags) -> pl.DataFrame:
    """Return the sweeps of a ride with this gear at each record: t_s and direction."""
    frame = pl.DataFrame({"t_s": t_s, "gear": gear, "coupled": coupled})
    return scoring.seen_shifts(frame.with_columns(pl.col("gear").replace(0, None)))


def sweeps_made(ride: SimulatedRide) -> pl.DataFrame:
    """Return the sweeps of the hand: shifts in one direction closer than three seconds are one."""
    way = (pl.col("to_gear") - pl.col("from_gear")).sign().cast(pl.Int64)
    begins = (pl.col("direction") != pl.col("direction").shift()) | (
        pl.col("t_s").diff() >= scoring.SWEEP_S
    )
    return (
        ride.shifts.select("t_s", direction=way)
        .filter(pl.col("direction") != 0)
        .with_columns(sweep=begins.fill_null(value=True).cum_sum())
        .group_by("sweep", maintain_order=True)
        .agg((pl.col("t_s").first() + pl.col("t_s").last()) / 2, pl.col("direction").first())
        .drop("sweep")
    )


def true_gears(rides: Sequence[SimulatedRide]) -> dict[int, TrueGear]:
    """Return every gear that drove, over all rides."""
    seconds, sums = np.zeros(1000), np.zeros(1000)
    for ride in rides:
        trace = ride.trace
        step_s = float(trace.t_s[0])
        gear = trace.gear[trace.coupled]
        seconds += np.bincount(gear, minlength=1000) * step_s
        ln_ratio = np.log(trace.ratio[trace.coupled])
        sums += np.bincount(gear, weights=ln_ratio, minlength=1000) * step_s
    return {
        gear: TrueGear(float(seconds[gear]), float(sums[gear] / seconds[gear]))
        for gear in np.flatnonzero(seconds).tolist()
        if gear
    }


def nearest_gears(
    ln_developments: Mapping[int, float], gears: Mapping[int, TrueGear], scale: float
) -> dict[int, int]:
    """Found gear -> the true one whose development is nearest, for ladders without numbers."""
    numbers = np.array(list(gears))
    true = np.array([gear.ln_ratio for gear in gears.values()]) + scale
    return {
        found: int(numbers[np.abs(true - ln_development).argmin()])
        for found, ln_development in ln_developments.items()
    }


def _share_before(inside: Flags, at: Whole, steps: int) -> Floats:
    """Return the share of these steps, up to each of the places ``at``, that are ``inside``."""
    sums = np.concatenate([[0], np.cumsum(inside)])
    first = np.maximum(at + 1 - steps, 0)
    return np.asarray((sums[at + 1] - sums[first]) / (at + 1 - first))


def _long_spells(inside: Flags, t_s: Floats, least_s: float) -> Flags:
    """Return which moments lie in unbroken runs of ``inside`` that last this long."""
    edges = np.flatnonzero(np.diff(inside.astype(int), prepend=0, append=0))
    long = np.zeros(len(inside), dtype=bool)
    step_s = float(t_s[1] - t_s[0])
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        long[start:stop] = (stop - start) * step_s >= least_s
    return long


def _further(t_s: Floats, moments_s: Floats, than_s: float) -> Flags:
    """Return which times are further than ``than_s`` from every moment."""
    if not len(moments_s):
        return np.ones(len(t_s), dtype=bool)
    after = np.searchsorted(moments_s, t_s).clip(0, len(moments_s) - 1)
    before = (after - 1).clip(0)
    nearest = np.minimum(np.abs(moments_s[after] - t_s), np.abs(moments_s[before] - t_s))
    return np.asarray(nearest > than_s)
