"""What the rides of one vehicle say about its drivetrain, gathered from the store's relations."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from math import exp, log, sqrt
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.analysis.intervals import opened, quotient, scaled, widened
from ridelab.analysis.losses.measured import half_width
from ridelab.analysis.wheel import Wheel, wheel_of
from ridelab.drivetrain.ladder import MERGE_WITHIN
from ridelab.gears.result import Interval, Precision

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from ridelab.units import UnitSystem

Pair = tuple[int, int]

#: One of two tails: what an interval leaves out on either side.
TAIL = 0.025


@dataclass(frozen=True)
class Step:
    """A measured step with its 95 % interval; the ``joint`` ones of a vehicle hold all at once."""

    measured: Interval
    joint: Interval


@dataclass(frozen=True)
class Passed:
    """Power at the wheel over power at the crank, as two meters read it.

    ``scatter``: standard error of its logarithm, with degrees of ``freedom``; ``accuracy``: what
    the meters may be apart by, in the logarithm, whatever is ridden.
    """

    wheel_over_crank: float
    scatter: float
    freedom: float
    accuracy: float

    def efficiency(self, share: float = 1.0) -> Interval:
        """Return the interval that errs in ``share`` of the cases in which a 95 % one does."""
        half = half_width(self.scatter, self.freedom, share) + self.accuracy
        value = self.wheel_over_crank
        return Interval(value, value * exp(-half), value * exp(half))


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
        members: of a published gear that several combinations share, the lowest and the highest of
            their ratios; those that are ridden need not be the middle of all.
        combinations: of the drivetrain, those that share a gear counted one by one.
        covariance: of ln(development) of every two measured gears; empty where it is not known.
        precision: what riding leaves uncertain; None where that is not known.
        speeds_mps: mean speed in each measured gear, where known.
        by_satellite: no speed comes from a sensor at a wheel.
        passed: power at the wheel over that at the crank in each gear that was ridden with both
            meters, and always under None their mean; empty where there are none.
        share: intervals err in this share of the cases in which 95 % intervals do.
        units: that people are told figures in.
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
    members: Mapping[int, tuple[float, float]] = field(default_factory=dict)
    combinations: int = 0
    covariance: Mapping[Pair, float] = field(default_factory=dict)
    precision: Precision | None = None
    speeds_mps: Mapping[int, float] = field(default_factory=dict)
    by_satellite: bool = False
    passed: Mapping[int | None, Passed] = field(default_factory=dict)
    share: float = 1.0
    units: UnitSystem = "metric"

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
        if pair not in self.covariance:
            return quotient(self.ratios[above], self.ratios[below])
        c = self.covariance
        sd = sqrt(max(c[above, above] + c[below, below] - 2 * c[pair], 0.0))
        half = quantile(self.precision, TAIL * self.share) * sd
        value = self.ratios[above].value / self.ratios[below].value
        return opened(
            Interval(value, value * exp(-half), value * exp(half)), *self.open_between(pair)
        )

    def surer(self, share: float) -> Evidence:
        """Return the same with intervals that err in ``share`` of the cases in which these do.

        What the combinations of one gear leave open is added, as it does not depend on that.
        """
        times = quantile(self.precision, TAIL * share) / quantile(self.precision, TAIL)

        def wider(gear: int, one: Interval) -> Interval:
            return opened(widened(one, times), *self.open_log(gear))

        def wider_step(pair: Pair, one: Interval) -> Interval:
            factor = widened(scaled(one, lambda step: 1 + step), times)
            return scaled(opened(factor, *self.open_between(pair)), lambda f: f - 1)

        span, gears = self.range, tuple(self.ratios)
        if span is not None:
            ends = self.open_between((gears[0], gears[-1])) if gears else (0.0, 0.0)
            span = opened(widened(span, times), *ends)
        return replace(
            self,
            ratios={gear: wider(gear, one) for gear, one in self.ratios.items()},
            developments={gear: wider(gear, one) for gear, one in self.developments.items()},
            steps={
                pair: Step(wider_step(pair, step.measured), wider_step(pair, step.joint))
                for pair, step in self.steps.items()
            },
            strangers={gear: widened(one, times) for gear, one in self.strangers.items()},
            range=span,
            share=share,
        )

    def open_log(self, gear: int) -> tuple[float, float]:
        """Return how far a gear's middle may lie below and above the combination ridden."""
        middle = self.published.get(gear, 1.0)
        low, high = self.members.get(gear, (middle, middle))
        return log(high / middle), log(middle / low)

    def open_between(self, pair: Pair) -> tuple[float, float]:
        """Return the same of the quotient of the upper over the lower gear of a pair."""
        (down, up), (down_below, up_below) = (self.open_log(gear) for gear in pair[::-1])
        return down + up_below, up + down_below


def quantile(precision: Precision | None, tail: float) -> float:
    """Return by how many standard errors a value may be off, but for ``tail`` on that side.

    Student's t with the degrees of freedom of the rides; the normal distribution where they are
    not known.
    """
    from scipy.special import ndtri, stdtrit

    if precision is None:
        return float(-ndtri(tail))
    return float(-stdtrit(precision.freedom, tail))


def gather_all(
    vehicles: pl.DataFrame,
    measured_gears: pl.DataFrame,
    measured_range: pl.DataFrame,
    measured_steps: pl.DataFrame,
    published_gears: pl.DataFrame,
    *,
    merge_within: float = MERGE_WITHIN,
    units: UnitSystem = "metric",
    **where_known: pl.DataFrame | None,
) -> list[Evidence]:
    """Collect what concerns each row of ``vehicles``.

    ``units``: that people are told figures in; ``where_known``: the last relations of ``gather``,
    by their names.
    """
    return [
        replace(
            gather(
                vehicle,
                measured_gears,
                measured_range,
                measured_steps,
                published_gears,
                merge_within,
                **where_known,
            ),
            units=units,
        )
        for vehicle in vehicles.iter_rows(named=True)
    ]


def gather(
    vehicle: Mapping[str, Any],
    measured_gears: pl.DataFrame,
    measured_range: pl.DataFrame,
    measured_steps: pl.DataFrame,
    published_gears: pl.DataFrame,
    merge_within: float = MERGE_WITHIN,
    measured_covariance: pl.DataFrame | None = None,
    measured_precision: pl.DataFrame | None = None,
    rides: pl.DataFrame | None = None,
    gear_losses: pl.DataFrame | None = None,
) -> Evidence:
    """Collect what concerns one row of ``vehicles`` from the relations of the same names."""
    name, drivetrain = vehicle["vehicle"], vehicle["drivetrain"]
    of_drivetrain = pl.col("drivetrain").eq_missing(pl.lit(drivetrain, pl.String))
    ladder = published_gears.filter(of_drivetrain).sort("gear")
    published = dict(ladder.select("gear", "ratio").iter_rows())
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
        members=_members(ladder),
        combinations=_combinations(ladder),
        covariance=_covariance(_own(measured_covariance, name), published),
        precision=_precision(_own(measured_precision, name)),
        speeds_mps={
            one["gear"]: one["distance_m"] / one["seconds"]
            for one in listed
            if one.get("distance_m") and one.get("seconds")
        },
        by_satellite=_by_satellite(_own(rides, name)),
        passed=_passed(_own(gear_losses, name)),
    )


def _own(relation: pl.DataFrame | None, vehicle: str) -> pl.DataFrame:
    """Return the rows of a vehicle; none where the relation is not given."""
    return pl.DataFrame() if relation is None else relation.filter(pl.col("vehicle") == vehicle)


def _members(ladder: pl.DataFrame) -> dict[int, tuple[float, float]]:
    """Return the lowest and highest combination of each gear that several share."""
    if "ratio_low" not in ladder.columns:
        return {}
    rows = ladder.select("gear", "ratio_low", "ratio_high").iter_rows()
    return {gear: (low, high) for gear, low, high in rows if low < high}


def _combinations(ladder: pl.DataFrame) -> int:
    """Return how many combinations make the ladder; a gear's label names its own."""
    if "label" not in ladder.columns:
        return len(ladder)
    return sum(label.count(" = ") + 1 for label in ladder["label"])


def _covariance(rows: pl.DataFrame, published: Mapping[int, float]) -> dict[Pair, float]:
    if rows.is_empty():
        return {}
    return {
        (gear, other): covariance
        for gear, other, covariance in rows.select("gear", "other", "covariance").iter_rows()
        if gear in published and other in published
    }


def _precision(rows: pl.DataFrame) -> Precision | None:
    if rows.is_empty():
        return None
    row = rows.row(0, named=True)
    return Precision(**{one.name: row[one.name] for one in fields(Precision)})


def _passed(rows: pl.DataFrame) -> dict[int | None, Passed]:
    known = [one.name for one in fields(Passed)]
    return {
        row["gear"]: Passed(**{name: row[name] for name in known})
        for row in rows.iter_rows(named=True)
    }


def _by_satellite(rides: pl.DataFrame) -> bool:
    return not rides.is_empty() and bool((rides["speed_source"] == "satellite").all())


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
