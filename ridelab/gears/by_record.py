"""Recorded gears as evidence: where the published ladder sits, if electronic shifting names them.

Each development that was recorded in a named gear tells the rollout. With it a whole gear's slide
is out of the question, and a wheel that is set wrong does not matter.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ridelab.drivetrain.wheel import accepted_rollout_m
from ridelab.gears.recorded import gears_by_record, has_teeth

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.ladder import Stated
    from ridelab.gears.observations import Flags, Floats, Observations
    from ridelab.telemetry.ride import Ride

#: Samples this close to a change are left out, seconds: either clock may be late.
NEAR_CHANGE_S = 2.0
#: Developments within this of their middle, in the logarithm, agree on a rollout; that many seconds
#: and such a share of them must.
AGREE, LEAST_SECONDS, LEAST_SHARE = 0.025, 60.0, 0.6


def stated_by_record(
    stated: Stated, rides: Sequence[Ride], observed: Sequence[Observations | str]
) -> Stated:
    """Return what is stated with the rollout that recorded gears tell, where they tell one.

    Teeth are what they are. Positions are a matter of counting: they tell only where no rollout is
    stated, or where theirs is within half a step of what a stated one may be.
    """
    ladder = stated.ladder
    if ladder is None or ladder.stepless or len(ladder.gears) < 2:
        return stated
    told = rollout_by_record(rides, observed, ladder)
    if told is None:
        return stated
    if not any(has_teeth(ride) for ride in rides) and stated.rollout_m is not None:
        half_step = float(np.exp(0.5 * np.median(np.diff(np.log(ladder.ratios)))))
        low_m, high_m = accepted_rollout_m(stated.rollout_m, stated.rollout_is_measured)
        if not low_m / half_step < told < high_m * half_step:
            return stated
    return replace(stated, rollout_m=told, rollout_is_measured=True, wheel_is_set=False)


def rollout_by_record(
    rides: Sequence[Ride], observed: Sequence[Observations | str], ladder: Ladder
) -> float | None:
    """Return the rollout, metres, that puts developments in recorded gears on their ratios."""
    ln_ratios = np.log(np.array([1.0, *ladder.ratios]))
    off, seconds = [], []
    for ride, seen in zip(rides, observed, strict=True):
        named = gears_by_record(ride, ladder)
        if named is None or isinstance(seen, str):
            continue
        gear = named.fill_null(0).to_numpy()
        known = np.isfinite(seen.ln_development) & (gear > 0)
        known &= away_from_changes(seen.t_s, gear)
        off.append(seen.ln_development[known] - ln_ratios[gear[known]])
        seconds.append(seen.seconds[known])
    return _agreed(np.concatenate(off), np.concatenate(seconds)) if off else None


def away_from_changes(t_s: Floats, *named: NDArray[Any]) -> Flags:
    """Return which samples lie ``NEAR_CHANGE_S`` or more from any change of the gears named."""
    changed = np.zeros(len(t_s), dtype=bool)
    for gear in named:
        changed[1:] |= gear[1:] != gear[:-1]
    at = t_s[changed]
    if len(at) == 0:
        return np.ones(len(t_s), dtype=bool)
    place = np.searchsorted(at, t_s)
    after = t_s - at[(place - 1).clip(0)]
    before = at[place.clip(max=len(at) - 1)] - t_s
    near = (np.abs(after) < NEAR_CHANGE_S) | (np.abs(before) < NEAR_CHANGE_S)
    return np.asarray(~near)


def _agreed(off: Floats, seconds: Floats) -> float | None:
    """Return the rollout that most of the seconds agree on; decoupled ones read too high."""
    if seconds.sum() < LEAST_SECONDS:
        return None
    middle = float(np.median(off))
    for _ in range(10):
        middle = float(np.median(off[np.abs(off - middle) <= 2.0 * AGREE]))
    agree = np.abs(off - middle) <= AGREE
    if seconds[agree].sum() < max(LEAST_SECONDS, LEAST_SHARE * seconds.sum()):
        return None
    return float(np.exp(middle))
