"""Spells of all rides of a vehicle -> the relation ``gear_losses``, and what to know about it.

The interval of a loss has two parts. What spells and rides scatter by is a confidence interval
(``losses.mixed``). What the meters may be off by is not: nobody knows how such errors are spread
within what a maker states, so the whole span is added, both meters erring apart. All gears share
it, and it drops out of how they compare.

A drivetrain loses nothing less than nothing. A loss is never told below zero: where the wheel reads
more than the crank by more than all that, the meters disagree, and no loss is told at all.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from ridelab.analysis.losses.mixed import Estimated, fit
from ridelab.units import format_number

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridelab.analysis.losses.mixed import Fit, Floats, Whole
    from ridelab.analysis.losses.spells import PowerSpells
    from ridelab.campaign.power import Meters

#: One row a gear, and one without for their mean: the columns of the relation but the vehicle.
GEAR_LOSS_SCHEMA = pl.Schema(
    {
        "gear": pl.Int32(),  # null: the mean of the gears ridden; where stepless, all of it
        "loss": pl.Float64(),  # share of the power at the crank; null where meters disagree
        "loss_low": pl.Float64(),  # 95 %, and all that the meters may be off by
        "loss_high": pl.Float64(),
        "against_mean": pl.Float64(),  # share that is lost beyond the mean of the gears
        "against_mean_low": pl.Float64(),  # 95 %; what meters are off by drops out
        "against_mean_high": pl.Float64(),
        "crank_w": pl.Float64(),
        "wheel_w": pl.Float64(),
        "seconds": pl.Float64(),
        "spells": pl.Int64(),
        "rides": pl.Int64(),
        "wheel_over_crank": pl.Float64(),  # as the meters read
        "scatter": pl.Float64(),  # standard error of its logarithm, meters' accuracy left out
        "freedom": pl.Float64(),  # degrees of freedom of that
        "accuracy": pl.Float64(),  # what the meters may be apart, in the logarithm
    }
)
#: A gear with less than this under both meters is left out.
LEAST_S = 30.0
#: An interval that reaches below this share of the loss leaves it open whether there is one.
_LITTLE_LEFT = 0.1
_TAIL = 0.025


@dataclass(frozen=True)
class GearLosses:
    """``GEAR_LOSS_SCHEMA``, and what to know about it: warnings first, then notes."""

    rows: pl.DataFrame
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def motor_in_between(drives: str) -> str:
    """Say why a vehicle with a motor has no losses."""
    return (
        "power was recorded at the crank and at the wheel, but its motor "
        f"(drives {drives!r}) adds power in between: no loss follows from the two"
    )


def measure_losses(rides: Mapping[str, PowerSpells], meters: Meters) -> GearLosses:
    """Return the loss of each gear of a vehicle, by its rides with both powers.

    ``rides``: their spells, by ride. Gears with less than 30 s are left out.
    """
    notes = tuple(_told_of_rides(rides))
    spells = _Spells.of(tuple(rides.values()))
    found = spells.fitted() if len(spells.y) else None
    if found is None:
        too_little = (
            "too little steady pedalling under both power meters to tell a loss: ride some "
            "minutes in a few gears, 50 W or more"
        )
        return GearLosses(GEAR_LOSS_SCHEMA.to_frame(), (), (too_little, *notes))
    rows = pl.DataFrame(list(_rows(spells, found, meters.apart)), schema=GEAR_LOSS_SCHEMA)
    warnings, beside = _told_of_losses(rows, meters)
    if len(rides) == 1:
        beside = (*beside, "all losses are from one ride: meters drift from one to the next")
    return GearLosses(rows, warnings, (*beside, *notes))


@dataclass(frozen=True)
class _Spells:
    """The spells of all rides, in gears that were ridden long enough; ``gear`` is an index."""

    numbers: Whole
    gear: Whole
    ride: Whole
    seconds: Floats
    crank_j: Floats
    wheel_j: Floats

    @classmethod
    def of(cls, rides: Sequence[PowerSpells]) -> _Spells:
        number = np.concatenate([one.gear for one in rides] or [np.empty(0, np.int64)])
        ride = np.repeat(np.arange(len(rides)), [len(one.gear) for one in rides])
        seconds, crank_j, wheel_j = (
            np.concatenate([getattr(one, name) for one in rides] or [np.empty(0)])
            for name in ("seconds", "crank_j", "wheel_j")
        )
        numbers, gear = np.unique(number, return_inverse=True)
        long_enough = np.bincount(gear, seconds, minlength=len(numbers)) >= LEAST_S
        kept = long_enough[gear]
        numbers, gear = np.unique(number[kept], return_inverse=True)
        _, ride = np.unique(ride[kept], return_inverse=True)
        return cls(numbers, gear, ride, seconds[kept], crank_j[kept], wheel_j[kept])

    @property
    def y(self) -> Floats:
        """ln(wheel / crank) of each spell."""
        return np.log(self.wheel_j / self.crank_j)

    def fitted(self) -> Fit | None:
        return fit(self.y, self.seconds, self.gear, self.ride)

    def facts(self, index: int | None) -> dict[str, Any]:
        """Return mean powers, time, spells and rides of one gear, or of all."""
        own = np.ones(len(self.gear), np.bool_) if index is None else self.gear == index
        seconds = float(self.seconds[own].sum())
        return {
            "crank_w": float(self.crank_j[own].sum()) / seconds,
            "wheel_w": float(self.wheel_j[own].sum()) / seconds,
            "seconds": seconds,
            "spells": int(own.sum()),
            "rides": len(np.unique(self.ride[own])),
        }


def _rows(spells: _Spells, found: Fit, apart: float) -> Iterator[dict[str, Any]]:
    """Yield the gears, lowest first, and their mean; none of them where the meters disagree."""
    count = len(spells.numbers)
    mean = np.full(count, 1 / count)
    every: list[tuple[int | None, Floats]] = [(None, mean)]
    if tuple(spells.numbers) != (0,):
        every = [*((index, np.eye(count)[index]) for index in range(count)), *every]
    rows = []
    for index, weights in every:
        row: dict[str, Any] = {"gear": None if index is None else int(spells.numbers[index])}
        row |= _loss(found.of(weights), apart)
        if index is not None and count > 1:
            row |= _against_mean(found.of(weights - mean))
        rows.append(row | spells.facts(index))
    if any(row["loss_high"] < 0 for row in rows):
        yield from (row | dict.fromkeys(("loss", "loss_low", "loss_high")) for row in rows)
    else:
        yield from (
            row | {name: max(row[name], 0.0) for name in ("loss", "loss_low")} for row in rows
        )


def _loss(read: Estimated, apart: float) -> dict[str, float]:
    half = half_width(read.sd, read.freedom) + apart
    return {
        "loss": 1 - exp(read.value),
        "loss_low": 1 - exp(read.value + half),
        "loss_high": 1 - exp(read.value - half),
        "wheel_over_crank": exp(read.value),
        "scatter": read.sd,
        "freedom": read.freedom,
        "accuracy": apart,
    }


def _against_mean(difference: Estimated) -> dict[str, float]:
    half = half_width(difference.sd, difference.freedom)
    return {
        "against_mean": 1 - exp(difference.value),
        "against_mean_low": 1 - exp(difference.value + half),
        "against_mean_high": 1 - exp(difference.value - half),
    }


def half_width(sd: float, freedom: float, share: float = 1.0) -> float:
    """Return half the 95 % interval by Student's t; it errs in ``share`` of the usual cases."""
    from scipy.special import stdtrit

    return float(-stdtrit(freedom, _TAIL * share)) * sd


def _told_of_losses(rows: pl.DataFrame, meters: Meters) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return warnings and notes on how far the losses can be trusted."""
    exact = (
        f"the meters are {'taken' if meters.is_assumed else 'stated'} to be exact to "
        f"±{_percent(meters.crank_accuracy)} at the crank and ±{_percent(meters.wheel_accuracy)} "
        "at the wheel"
    )
    if rows["loss"].null_count():
        disagree = (
            "the wheel reads more power than the crank, by more than accuracy and scatter allow "
            f"({exact}): the meters disagree, so no loss is told, only how gears compare"
        )
        return (disagree,), ()
    if rows["loss_low"][-1] <= _LITTLE_LEFT * rows["loss"][-1]:
        too_large = (
            f"{exact}, together about as much as is lost: the losses themselves cannot be told, "
            "only how gears compare"
        )
        return (too_large,), ()
    return (), (f"{exact}: all losses may be off by that together, how gears compare is not",)


def _told_of_rides(rides: Mapping[str, PowerSpells]) -> Iterator[str]:
    lags = [one.lag_s for one in rides.values() if one.lag_s]
    if lags:
        span = f"{min(lags)} s" if min(lags) == max(lags) else f"{min(lags)} to {max(lags)} s"
        yield (
            f"the wheel's power trails the crank's by {span} in {len(lags)} of {len(rides)} "
            "rides: taken out"
        )
    silent = sum(one.not_reading for one in rides.values())
    if silent:
        yield (
            f"{silent} spells in which one power meter read less than half of the other: left out"
        )


def _percent(share: float) -> str:
    return f"{format_number(100 * share, 2).rstrip('0').rstrip('.')} %"
