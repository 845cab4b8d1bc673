"""What the digits of published ratios leave open, gear by gear."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.drivetrain.stages import Drivetrain, Stage


def printed_within(
    drivetrains: Mapping[str, Drivetrain], ladders: Mapping[str, Ladder]
) -> dict[tuple[str, int], float]:
    """Return by how much each published ratio may be off by its printing, as a share.

    By (drivetrain, gear); none for stepless ladders. Where one stage is shifted, its settings in
    order are the gears; where several are, all gears get what the worst of them would. The settings
    that share a gear lie as far apart as they do, half of which is left open, too.
    """
    found = {}
    for name, drivetrain in drivetrains.items():
        gears = ladders[name].gears
        shifted = [stage for stage in drivetrain.stages if len(stage.choices) > 1]
        fixed = sum(max(_open(stage), default=0.0) for stage in drivetrain.stages
                    if stage not in shifted)  # fmt: skip
        if len(shifted) == 1 and len(shifted[0].choices) == len(gears):
            own = _open(shifted[0])
        else:
            own = [sum(max(_open(stage)) for stage in shifted)] * len(gears)
        for gear, share in zip(gears, own, strict=True):
            shared = (max(gear.members) / min(gear.members) - 1.0) / 2.0
            found[name, gear.number] = fixed + share + shared
    return found


def _open(stage: Stage) -> list[float]:
    """Return what is left open of each setting of a stage, lowest ratio first."""
    by_ratio = sorted(range(len(stage.choices)), key=lambda place: stage.choices[place].ratio)
    return [sum(abs(moved[place]) for moved in stage.rounding) for place in by_ratio]
