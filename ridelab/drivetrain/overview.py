"""A published ladder as a whole: how many gears, how evenly stepped, what each stage adds to it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.drivetrain.grouping import FEEL_WITHIN, MERGE_WITHIN, count_groups, group_starts

if TYPE_CHECKING:
    from ridelab.drivetrain.ladder import Ladder
    from ridelab.drivetrain.stages import Drivetrain, Stage

STAGES_SCHEMA = pl.Schema(
    {
        "stage": pl.String(),
        "shifts": pl.String(),  # "driver" or "driven" where a chain shifts on both sides
        "settings": pl.Int32(),  # null where stepless
        "lowest_ratio": pl.Float64(),  # what the stage multiplies the lowest gear by
        "highest_ratio": pl.Float64(),  # and the highest; both null for one side of a chain
        "range": pl.Float64(),  # by what factor it widens the range
        "gears": pl.Int32(),  # of the whole drivetrain, null where stepless
        "gears_without": pl.Int32(),  # with this left in one setting, whichever
    }
)
COMBINATIONS_SCHEMA = pl.Schema(
    {
        "gear": pl.Int32(),
        "combination": pl.String(),
        "ratio": pl.Float64(),
        "deviation": pl.Float64(),  # from the ratio of its gear, relative
        "same_gear_as": pl.String(),  # the other combinations of its gear; null where it has none
    }
)


@dataclass(frozen=True)
class Steps:
    """The steps of a ladder, ratio over the gear below minus 1.

    ``largest_over_smallest`` and ``variation`` say how uneven they are: 1 and 0 where all are
    equal. ``variation`` is the coefficient of variation, standard deviation over mean, of the
    logarithms of the ratios of neighbours. Neither says anything of efficiency.
    """

    smallest: float
    mean: float
    largest: float
    largest_over_smallest: float
    variation: float


def steps_of(ladder: Ladder) -> Steps | None:
    """Return the steps of a ladder; None where there are fewer than two gears.

    The mean step is that of an even ladder between the same ends.
    """
    if len(ladder.gears) < 2:
        return None
    log_steps = np.diff(np.log(ladder.ratios))
    steps = np.expm1(log_steps)
    return Steps(
        smallest=float(steps.min()),
        mean=math.expm1(float(log_steps.mean())),
        largest=float(steps.max()),
        largest_over_smallest=float(steps.max() / steps.min()),
        variation=float(log_steps.std() / log_steps.mean()),
    )


def felt_gears(ladder: Ladder, within: float = FEEL_WITHIN) -> int:
    """Return how many gears remain where all that is ``within`` of the lowest of a group is one.

    5 % is what a rider feels (common practice, no source).
    """
    members = [ratio for gear in ladder.gears for ratio in gear.members]
    return len(group_starts(np.array(members), within)) if members else 0


def combination_rows(ladder: Ladder) -> pl.DataFrame:
    """Return one row a combination, lowest first (``COMBINATIONS_SCHEMA``); none where stepless."""
    rows = [
        (
            gear.number,
            setting,
            ratio,
            ratio / gear.ratio - 1,
            " = ".join(gear.settings[:place] + gear.settings[place + 1 :]) or None,
        )
        for gear in ladder.gears
        for place, (setting, ratio) in enumerate(zip(gear.settings, gear.members, strict=True))
    ]
    return pl.DataFrame(rows, schema=COMBINATIONS_SCHEMA, orient="row")


def stage_rows(drivetrain: Drivetrain, merge_within: float = MERGE_WITHIN) -> pl.DataFrame:
    """Return what each stage does to the ladder (``STAGES_SCHEMA``), from the crank outward.

    Beside a direct drive in its place, a stage multiplies the lowest gear by its lowest ratio and
    the highest by its highest, and so the range by its own. A chain that is shifted on both sides
    has two more rows, for what chainrings and sprockets add by themselves.
    """
    sides = {stage.name: _sides(stage) for stage in drivetrain.stages}
    shifted = [(name, side) for name, found in sides.items() for side in found]
    stepless = any(stage.continuous for stage in drivetrain.stages)

    def gears(without: str = "", side: str | None = None) -> int | None:
        kept = [
            sides[name][one] for name, one in shifted if name != without or side not in {None, one}
        ]
        return None if stepless else count_groups(kept, merge_within)

    rows: list[tuple[object, ...]] = []
    for stage in drivetrain.stages:
        low, high = stage.ends
        settings = None if stage.continuous else len(stage.choices)
        without = gears(stage.name)
        rows.append((stage.name, None, settings, low, high, high / low, gears(), without))
        for side, ratios in sides[stage.name].items():
            if side:
                own = max(ratios) / min(ratios), gears(), gears(stage.name, side)
                rows.append((stage.name, side, len(ratios), None, None, *own))
    return pl.DataFrame(rows, schema=STAGES_SCHEMA, orient="row")


def _sides(stage: Stage) -> dict[str, list[float]]:
    """Return the ratios that each shifter of a stage chooses from, up to a common factor.

    A chain that is shifted on both sides has "driver" and "driven", other stages "".
    """
    if stage.shifters > 1:
        drivers, drivens = (sorted({pair[side] for pair in stage.teeth}) for side in (0, 1))
        return {"driver": [float(n) for n in drivers], "driven": [1 / n for n in drivens]}
    return {} if stage.continuous else {"": [choice.ratio for choice in stage.choices]}
