"""Drivetrains without steps: no gears are named, and the range is told as ridden."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.result import Interval, MeasuredRange
from ridelab.gears.stretches import pooled, steady_stretches

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.decode import Decoded
    from ridelab.gears.ladder import Stated
    from ridelab.gears.observations import Floats, Observations

#: Spacing of the grid that stands for "any ratio", in ln(development).
GRID_STEP = 0.02
#: A stated rollout and a published range are together no better known than this.
MARGIN = 0.05
#: The ends ridden are taken where this share of the steady time lies beyond, so that one stray
#: stretch does not set them.
BEYOND = 0.005
#: Soft pedalling reads too long and lasts only seconds; stretches this long set the ends, if there
#: are enough of them.
LASTING_S, MANY = 10.0, 10
#: How far a stretch at one ratio may lie off, beside its own scatter; and an end ridden is the most
#: extreme of many.
END_SD = 0.003


def stepless_grid(seen: Sequence[Observations], stated: Stated) -> Floats | None:
    """Return ln(development) from the lowest to the highest that can be engaged; None if unknown.

    With a published range and a rollout that is the published range and a margin at either side;
    else what was ridden steadily.
    """
    if not seen:
        return None
    published = stated.ladder.continuous if stated.ladder is not None else None
    if published is not None and stated.rollout_m is not None:
        low = float(np.log(published[0] * stated.rollout_m)) - MARGIN
        high = float(np.log(published[1] * stated.rollout_m)) + MARGIN
    else:
        steady = pooled([steady_stretches(one) for one in seen]).ln_development
        if len(steady) == 0:
            return None
        low, high = float(steady.min()), float(steady.max())
    return np.linspace(low, high, max(int(np.ceil((high - low) / GRID_STEP)) + 1, 2))


def ridden_range(
    seen: Sequence[Observations], decoded: Sequence[Decoded], stated: Stated
) -> MeasuredRange | None:
    """Return the range over which the crank steadily drove the wheel; None if it never did."""
    steady = pooled(
        [steady_stretches(one, among=made.coupled) for one, made in zip(seen, decoded, strict=True)]
    )
    lasting = steady.where(steady.seconds >= LASTING_S)
    steady = lasting if len(lasting) >= MANY else steady
    if len(steady) < 2:
        return None
    order = np.argsort(steady.ln_development)
    share = np.cumsum(steady.seconds[order]) / steady.seconds.sum()
    low = order[int(np.searchsorted(share, BEYOND))]
    high = order[min(int(np.searchsorted(share, 1.0 - BEYOND)), len(order) - 1)]
    middle = float(steady.ln_development[high] - steady.ln_development[low])
    error = 1.96 * float(np.sqrt(steady.sd[high] ** 2 + steady.sd[low] ** 2 + 2.0 * END_SD**2))
    return MeasuredRange(
        low_gear=None,
        high_gear=None,
        range=Interval(
            float(np.exp(middle)), float(np.exp(middle - error)), float(np.exp(middle + error))
        ),
        published_range=stated.ladder.range if stated.ladder is not None else None,
        complete=None,
    )
