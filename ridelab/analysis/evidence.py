"""What the rides of one vehicle say about its drivetrain, gathered from the store's relations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.gears.result import Interval

if TYPE_CHECKING:
    from collections.abc import Mapping

#: A loaded tyre rolls 1 to 3 % less than its nominal size says, a measured rollout holds within
#: 1 % from day to day: common practice, no source. Beyond that the recording unit was set to
#: another wheel, or the vehicle has one.
_MEASURED_FITS = (-0.01, 0.01)
_NOMINAL_FITS = (-0.04, 0.01)


@dataclass(frozen=True)
class Evidence:
    """One vehicle as measured, beside the gears that its maker publishes.

    Attributes:
        vehicle: its name in the campaign.
        drivetrain: what it is said to have.
        published: numbers of the published gears, lowest first; empty where stepless.
        ratios: measured ratio of each measured gear, the scale common to all left out.
        developments: metres a crank turn of each measured gear, the scale included; empty where
            no rollout is known.
        outside: measured gears that no published gear stands for.
        rollout_off: how much farther the wheel rolled in the rides than it is stated to, relative,
            where that is more than wheels and tyres differ; else None.
        range: highest over lowest measured ratio, None where fewer than two gears were measured.
        complete: the range runs between the published ends.
    """

    vehicle: str
    drivetrain: str | None
    published: tuple[int, ...]
    ratios: Mapping[int, Interval]
    developments: Mapping[int, Interval]
    outside: tuple[int, ...]
    rollout_off: float | None
    range: Interval | None
    complete: bool

    @property
    def stepless(self) -> bool:
        """Whether the drivetrain has no gears to count."""
        return not self.published

    def unmeasured(self, gears: tuple[int, ...]) -> tuple[int, ...]:
        """Return those of the gears that were not engaged for long enough."""
        return tuple(gear for gear in gears if gear not in self.ratios)

    def adjacent(self) -> list[tuple[int, int]]:
        """Return the pairs of neighbours on the published ladder that were both measured."""
        pairs = zip(self.published, self.published[1:], strict=False)
        return [pair for pair in pairs if not self.unmeasured(pair)]


def gather(
    vehicle: Mapping[str, Any],
    measured_gears: pl.DataFrame,
    measured_range: pl.DataFrame,
    published_gears: pl.DataFrame,
) -> Evidence:
    """Collect what concerns one row of ``vehicles`` from the relations of the same names."""
    name, drivetrain = vehicle["vehicle"], vehicle["drivetrain"]
    of_drivetrain = pl.col("drivetrain").eq_missing(pl.lit(drivetrain, pl.String))
    published = tuple(published_gears.filter(of_drivetrain)["gear"].sort().to_list())
    gears = measured_gears.filter(pl.col("vehicle") == name).sort("gear").to_dicts()
    ends = measured_range.filter(pl.col("vehicle") == name).to_dicts()
    found = {gear["gear"]: gear for gear in gears}
    rollout_known = bool(vehicle["stated_rollout_m"] or vehicle["effective_rollout_m"])
    return Evidence(
        vehicle=name,
        drivetrain=drivetrain,
        published=published,
        ratios=_intervals(found, "ratio", "ratio_low", "ratio_high"),
        developments=_intervals(
            found if rollout_known else {},
            "development_m",
            "development_low_m",
            "development_high_m",
        ),
        outside=tuple(
            number
            for number, gear in found.items()
            if published and (number not in published or gear["published_ratio"] is None)
        ),
        rollout_off=_rollout_off(vehicle),
        range=_interval(ends[0], "range", "range_low", "range_high") if ends else None,
        complete=bool(ends and ends[0]["complete"]),
    )


def _rollout_off(vehicle: Mapping[str, Any]) -> float | None:
    """Compare the rollout as ridden with the stated one; None where they fit, or one is missing."""
    stated, ridden = vehicle["stated_rollout_m"], vehicle["effective_rollout_m"]
    if not stated or not ridden:
        return None
    off = float(ridden / stated - 1)
    least, most = _MEASURED_FITS if vehicle["rollout_is_measured"] else _NOMINAL_FITS
    return None if least <= off <= most else off


def _intervals(
    gears: Mapping[int, Mapping[str, Any]], value: str, low: str, high: str
) -> dict[int, Interval]:
    """Return the interval of each gear that has one."""
    found = {number: _interval(gear, value, low, high) for number, gear in gears.items()}
    return {number: interval for number, interval in found.items() if interval is not None}


def _interval(row: Mapping[str, Any], value: str, low: str, high: str) -> Interval | None:
    """Return None where a value is unknown, or known without its uncertainty."""
    known = row[value], row[low], row[high]
    return None if None in known else Interval(*known)
