"""What the rides of one vehicle say about its drivetrain, gathered from the store's relations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.analysis.intervals import quotient, scaled
from ridelab.analysis.wheel import Wheel, wheel_of
from ridelab.drivetrain.ladder import MERGE_WITHIN
from ridelab.gears.result import Interval

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

Pair = tuple[int, int]


@dataclass(frozen=True)
class Step:
    """A measured step with its 95 % interval; the ``joint`` ones of a vehicle hold all at once."""

    measured: Interval
    joint: Interval


@dataclass(frozen=True)
class Evidence:
    """One vehicle as measured, beside the gears that its maker publishes.

    Attributes:
        vehicle: its name in the campaign.
        drivetrain: what it is said to have.
        published: ratio of each published gear, lowest first; empty where stepless.
        ratios: measured ratio of each published gear that was measured, the scale common to all
            left out.
        developments: metres a crank turn of the same gears as recorded, the scale included.
        steps: between neighbours that were both measured, by their numbers, the lower first.
        strangers: measured ratios that no published gear stands for, by the number given to them.
        wheel: None where nobody stated its size.
        range: highest over lowest measured ratio of published gears, or as ridden where stepless;
            None where it was not measured.
        placement_probability: of the published ladder sitting where it was placed; None where
            nothing had to be placed.
        unexplained_share: of the steady pedalling, 0 to 1, that fits no published gear; None where
            there is none.
        merge_within: ratios closer than this are one gear, relative.
        without_steps: gears are published, but the rides show a ratio that varies without steps.
    """

    vehicle: str
    drivetrain: str | None
    published: Mapping[int, float]
    ratios: Mapping[int, Interval]
    developments: Mapping[int, Interval]
    steps: Mapping[Pair, Step]
    strangers: Mapping[int, Interval]
    wheel: Wheel | None
    range: Interval | None
    placement_probability: float | None = None
    unexplained_share: float | None = None
    merge_within: float = MERGE_WITHIN
    without_steps: bool = False

    @property
    def stepless(self) -> bool:
        """Whether the drivetrain has no gears to count."""
        return not self.published

    @property
    def ends(self) -> tuple[int, int]:
        """The lowest and the highest published gear, of a drivetrain with gears."""
        numbers = tuple(self.published)
        return numbers[0], numbers[-1]

    @property
    def whole(self) -> bool:
        """Whether every published gear was measured."""
        return not self.unmeasured(self.published)

    def unmeasured(self, gears: Iterable[int]) -> tuple[int, ...]:
        """Return those of the gears that were not engaged for long enough."""
        return tuple(gear for gear in gears if gear not in self.ratios)

    def between(self, pair: Pair) -> Interval:
        """Return the ratio of the upper over that of the lower of two measured gears."""
        if pair in self.steps:
            return scaled(self.steps[pair].measured, lambda step: 1 + step)
        below, above = pair
        return quotient(self.ratios[above], self.ratios[below])


def gather(
    vehicle: Mapping[str, Any],
    measured_gears: pl.DataFrame,
    measured_range: pl.DataFrame,
    measured_steps: pl.DataFrame,
    published_gears: pl.DataFrame,
    merge_within: float = MERGE_WITHIN,
) -> Evidence:
    """Collect what concerns one row of ``vehicles`` from the relations of the same names."""
    name, drivetrain = vehicle["vehicle"], vehicle["drivetrain"]
    of_drivetrain = pl.col("drivetrain").eq_missing(pl.lit(drivetrain, pl.String))
    ladder = published_gears.filter(of_drivetrain).sort("gear").select("gear", "ratio")
    published = dict(ladder.iter_rows())
    gears = measured_gears.filter(pl.col("vehicle") == name).sort("gear").to_dicts()
    listed = [one for one in gears if one["gear"] in published and one["published_ratio"]]
    ends = measured_range.filter(pl.col("vehicle") == name).to_dicts()
    steps = measured_steps.filter(pl.col("vehicle") == name).sort("gear").to_dicts()
    return Evidence(
        vehicle=name,
        drivetrain=drivetrain,
        published=published,
        ratios=_intervals(listed, "ratio", "ratio_low", "ratio_high"),
        developments=_intervals(listed, "development_m", "development_low_m", "development_high_m"),
        steps={(one["below"], one["gear"]): _step(one) for one in steps},
        strangers=_intervals(
            [one for one in gears if one not in listed], "ratio", "ratio_low", "ratio_high"
        ),
        wheel=wheel_of(vehicle),
        range=_interval(ends[0], "range", "range_low", "range_high") if ends else None,
        placement_probability=vehicle["placement_probability"],
        unexplained_share=vehicle["unexplained_share"],
        merge_within=merge_within,
        without_steps=bool(vehicle["stepless"] and published),
    )


def _intervals(
    gears: Iterable[Mapping[str, Any]], value: str, low: str, high: str
) -> dict[int, Interval]:
    """Return the interval of each gear that has one."""
    found = {one["gear"]: _interval(one, value, low, high) for one in gears}
    return {number: interval for number, interval in found.items() if interval is not None}


def _step(row: Mapping[str, Any]) -> Step:
    return Step(
        Interval(row["step"], row["step_low"], row["step_high"]),
        Interval(row["step"], row["joint_low"], row["joint_high"]),
    )


def _interval(row: Mapping[str, Any], value: str, low: str, high: str) -> Interval | None:
    """Return None where a value is unknown, or known without its uncertainty."""
    known = row[value], row[low], row[high]
    return None if None in known else Interval(*known)
