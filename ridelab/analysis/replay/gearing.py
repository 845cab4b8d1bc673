"""A ladder on a wheel: what a replay shifts through."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.drivetrain.grouping import FEEL_WITHIN

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from ridelab.drivetrain.ladder import Ladder

    Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Gearing:
    """Gears by their development, lowest first, or a stepless span of developments.

    Attributes:
        drivetrain: its name; empty where the campaign publishes none.
        numbers: of the gears, as the ladder counts them; none where stepless.
        labels: of the gears.
        development_m: metres for one turn of the crank, one a gear; none where stepless.
        span_m: least and most development of a stepless drivetrain.
        holes_m: developments between these that it cannot take, each from one to another.
        shifts_standing: whether gears can be changed while the crank stands.
    """

    drivetrain: str
    numbers: tuple[int, ...]
    labels: tuple[str, ...]
    development_m: tuple[float, ...]
    span_m: tuple[float, float] | None = None
    holes_m: tuple[tuple[float, float], ...] = ()
    shifts_standing: bool = True

    @property
    def log_development(self) -> Floats:
        """Logarithms of the developments, lowest first."""
        return np.log(np.array(self.development_m, dtype=np.float64))

    @property
    def ends_m(self) -> tuple[float, float]:
        """Least and most development."""
        return self.span_m or (self.development_m[0], self.development_m[-1])

    def nearest_m(self, wanted_m: Floats) -> Floats:
        """Return the development that a stepless drivetrain can take nearest to each wanted one.

        Near is meant in the logarithm, as cadence goes by it.
        """
        low, high = self.ends_m
        taken = np.clip(wanted_m, low, high)
        for below, above in self.holes_m:
            inside = (taken > below) & (taken < above)
            nearer_below = taken < np.sqrt(below * above)
            taken = np.where(inside, np.where(nearer_below, below, above), taken)
        return np.asarray(taken)

    def beyond(self, other: Gearing) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Return which gears are lower than all of another's, and which higher, so that it is felt.

        Felt is 5 % and more (common practice, no source).
        """
        own, (low, high) = np.array(self.development_m), other.ends_m
        return own < low / (1 + FEEL_WITHIN), own > high * (1 + FEEL_WITHIN)


def on_wheel(ladder: Ladder, rollout_m: float, *, shifts_standing: bool = True) -> Gearing:
    """Put a published ladder on a wheel that rolls so far in one turn: ratio × rollout."""
    gears = ladder.gears
    span = None if ladder.continuous is None else _times(ladder.continuous, rollout_m)
    return Gearing(
        drivetrain=ladder.drivetrain,
        numbers=tuple(gear.number for gear in gears),
        labels=tuple(gear.label for gear in gears),
        development_m=tuple(gear.ratio * rollout_m for gear in gears),
        span_m=span,
        holes_m=tuple(_times(hole, rollout_m) for hole in ladder.holes),
        shifts_standing=shifts_standing,
    )


def as_ridden(
    published: Gearing | None, measured_m: Mapping[int, float], labels: Mapping[int, str]
) -> Gearing:
    """Return the ridden ladder: gears as measured, and those that were not ridden as published.

    ``measured_m``: development of each measured gear. Without a published ladder only those that
    were measured are known, and the drivetrain is taken for one that shifts while it runs.
    """
    known_m = dict(
        zip(published.numbers, published.development_m, strict=True) if published else ()
    )
    names = dict(zip(published.numbers, published.labels, strict=True) if published else ())
    known_m |= measured_m
    order = sorted(known_m, key=lambda number: known_m[number])
    return Gearing(
        drivetrain=published.drivetrain if published else "",
        numbers=tuple(order),
        labels=tuple(names.get(number) or labels[number] for number in order),
        development_m=tuple(known_m[number] for number in order),
        span_m=published.span_m if published else None,
        holes_m=published.holes_m if published else (),
        shifts_standing=published.shifts_standing if published else False,
    )


def _times(pair: tuple[float, float], factor: float) -> tuple[float, float]:
    return pair[0] * factor, pair[1] * factor
