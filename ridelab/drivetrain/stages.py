"""Stages of a drivetrain: what each multiplies the crank's turns by, and the choices it offers."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridelab.errors import NotAccepted

if TYPE_CHECKING:
    from collections.abc import Sequence

_MOST_SPEEDS = 1000
_MOST_TEETH = 500
#: No cycle is geared beyond these, a stage or a whole drivetrain: far outside what is built.
LEAST_RATIO, MOST_RATIO = 0.01, 100.0
WIDEST_RANGE = 50.0
_BETWEEN = f"from {LEAST_RATIO:g} to {MOST_RATIO:g}"


@dataclass(frozen=True)
class Choice:
    """One setting of a stage: its name for people ("38/18", "5") and output over input turns."""

    label: str
    ratio: float


@dataclass(frozen=True)
class Stage:
    """One step from the crank towards the driven wheel.

    Either ``choices`` holds at least one setting, or ``continuous`` holds the lowest and the
    highest ratio of a stepless stage; never both.
    """

    name: str
    choices: tuple[Choice, ...] = ()
    continuous: tuple[float, float] | None = None
    #: (driver teeth, driven teeth) of each choice, for chains and belts; empty otherwise.
    teeth: tuple[tuple[int, int], ...] = ()
    #: What a maker would look at twice, for people.
    notes: tuple[str, ...] = ()
    #: What the digits printed leave open: each entry, by how much the logarithms of the ratios of
    #: all choices (of the two ends, where stepless) may move together, one way or the other.
    rounding: tuple[tuple[float, ...], ...] = ()

    @property
    def shifters(self) -> int:
        """How many things are shifted: 2 for chainrings and sprockets, 0 for a fixed chain."""
        if self.teeth:
            drivers, drivens = ({pair[side] for pair in self.teeth} for side in (0, 1))
            return (len(drivers) > 1) + (len(drivens) > 1)
        return int(self.continuous is not None or len(self.choices) > 1)

    @property
    def ends(self) -> tuple[float, float]:
        """Lowest and highest ratio."""
        if self.continuous is not None:
            return self.continuous
        ratios = [choice.ratio for choice in self.choices]
        return min(ratios), max(ratios)


@dataclass(frozen=True)
class ServiceInterval:
    """How often the maker wants the drivetrain serviced; whichever comes first."""

    every_km: float | None = None
    every_months: float | None = None


@dataclass(frozen=True)
class Drivetrain:
    """The chain of stages as its maker publishes it, from the crank outward."""

    name: str
    stages: tuple[Stage, ...]
    description: str = ""
    service: ServiceInterval | None = None
    #: stage name -> newton metres, as the maker limits them
    max_input_torque_nm: tuple[tuple[str, float], ...] = ()
    #: stage name -> least turns of its input for one turn of the crank, another way to limit torque
    min_primary_ratio: tuple[tuple[str, float], ...] = ()
    #: whether gears can be changed while the crank stands, where the maker or user says so
    stated_shifts_standing: bool | None = None

    @property
    def moves_chain(self) -> bool:
        """Whether a gear is changed by moving a chain to another wheel, in one stage at least."""
        return any(stage.teeth and stage.shifters for stage in self.stages)

    @property
    def shifts_standing(self) -> bool:
        """Whether gears can be changed while the crank stands: as stated, else by its stages.

        A chain moves to another wheel only while it runs; gearboxes, epicyclic hubs and stepless
        ones take a gear at any time (common practice, no source).
        """
        if self.stated_shifts_standing is not None:
            return self.stated_shifts_standing
        return not self.moves_chain


def from_ratios(name: str, ratios: Sequence[float], half_digit: float = 0.0) -> Stage:
    """Build a stage from published ratios (output over input turns), labelled "1", "2", … as given.

    ``half_digit`` is half a unit of the last digit they are printed to.

    Raises:
        NotAccepted: no ratio, or one that no cycle has.
    """
    accepted = f"ratios {_BETWEEN}, output turns over input turns, lowest first"
    if not 1 <= len(ratios) <= _MOST_SPEEDS:
        raise NotAccepted(f"{len(ratios)} ratios", f"1 to {_MOST_SPEEDS} {accepted}", "ratios")
    for ratio in ratios:
        if not _possible(ratio):
            raise NotAccepted(f"{ratio}", accepted, "ratios")
    return Stage(name, _numbered(ratios), rounding=_one_by_one(ratios, half_digit))


def from_teeth(name: str, driver: Sequence[int], driven: Sequence[int]) -> Stage:
    """Build a chain or belt stage: every pair of wheels is a choice, ratio = driver / driven teeth.

    Labels are "driver/driven", in the order given, drivers outermost.

    Raises:
        NotAccepted: no wheel on one side, a tooth count below 1, or one wheel named twice.
    """
    for key, wheels in (("driver", driver), ("driven", driven)):
        accepted = f"tooth counts from 1 to {_MOST_TEETH}, each once, such as [32] or [22, 36]"
        if not wheels:
            raise NotAccepted("an empty list", accepted, key)
        for count in wheels:
            if not 1 <= count <= _MOST_TEETH:
                raise NotAccepted(f"{count} teeth", accepted, key)
        if len(set(wheels)) < len(wheels):
            raise NotAccepted(f"a tooth count twice in {list(wheels)}", accepted, key)
    teeth = tuple((front, rear) for front in driver for rear in driven)
    choices = tuple(Choice(f"{front}/{rear}", front / rear) for front, rear in teeth)
    return Stage(name, choices, teeth=teeth)


def from_range(
    name: str,
    speeds: int,
    range_factor: float,
    lowest_ratio: float | None = None,
    half_digits: tuple[float, float] = (0.0, 0.0),
) -> Stage:
    """Build ``speeds`` ratios evenly spaced in the logarithm over ``range_factor``.

    ratio_i = lowest × range^((i - 1) / (speeds - 1)). Without ``lowest_ratio`` the geometric mean
    is 1, the usual guess for a hub gear whose middle speed is the direct one. ``half_digits`` are
    half a unit of the last digit of the range and of the lowest ratio.

    Raises:
        NotAccepted: fewer than 2 speeds, a range not above 1, a range or ratio that no cycle has.
    """
    if not 2 <= speeds <= _MOST_SPEEDS:
        raise NotAccepted(f"{speeds}", f"a whole number from 2 to {_MOST_SPEEDS}", "speeds")
    if not 1 < range_factor <= WIDEST_RANGE:
        accepted = f"highest ratio over lowest, above 1 and up to {WIDEST_RANGE:g}: 5.26 or '526 %'"
        raise NotAccepted(f"{range_factor:g}", percent_meant(range_factor, accepted), "range")
    if lowest_ratio is not None and not (
        _possible(lowest_ratio) and _possible(lowest_ratio * range_factor)
    ):
        accepted = f"a ratio that is {_BETWEEN}, and times the range as well"
        raise NotAccepted(f"{lowest_ratio}", accepted, "lowest")
    lowest = lowest_ratio if lowest_ratio is not None else 1 / math.sqrt(range_factor)
    places = [i / (speeds - 1) for i in range(speeds)]
    fixed = 0.0 if lowest_ratio is not None else 0.5
    wider, higher = half_digits[0] / range_factor, half_digits[1] / lowest
    rounding = tuple((place - fixed) * wider for place in places), (higher,) * speeds
    return Stage(
        name,
        _numbered([lowest * range_factor**place for place in places]),
        rounding=tuple(one for one in rounding if any(one)),
    )


def epicyclic(name: str, sun: int, ring: int) -> Stage:
    """Build the three speeds of one planet set whose sun (teeth) is fixed to the axle.

    Willis' equation, (n_ring - n_carrier) / (n_sun - n_carrier) = -sun / ring, with n_sun = 0: the
    ring driving the carrier gives 1 / (1 + sun/ring), the set locked 1, the carrier driving the
    ring 1 + sun/ring.

    Raises:
        NotAccepted: a sun without teeth, or a ring that leaves no room for planets around it.
    """
    if not 1 <= sun <= _MOST_TEETH:
        raise NotAccepted(f"{sun} teeth", f"a tooth count from 1 to {_MOST_TEETH}", "sun")
    if not sun < ring <= _MOST_TEETH:
        raise NotAccepted(
            f"{ring} teeth",
            f"more teeth than the sun's {sun}, planets run between, and at most {_MOST_TEETH}",
            "ring",
        )
    up = 1 + sun / ring
    return Stage(name, _numbered([1 / up, 1.0, up]))


def stepless(
    name: str, lowest_ratio: float, highest_ratio: float, half_digit: float = 0.0
) -> Stage:
    """Build a stage that takes any ratio between two ends.

    ``half_digit`` is half a unit of the last digit they are printed to.

    Raises:
        NotAccepted: ends that no cycle has, or not in order.
    """
    if not (_possible(lowest_ratio) and _possible(highest_ratio) and lowest_ratio < highest_ratio):
        raise NotAccepted(
            f"[{lowest_ratio}, {highest_ratio}]",
            f"the lowest and the highest ratio, {_BETWEEN} and in this order, such as [0.5, 1.9]",
            "continuous",
        )
    ends = lowest_ratio, highest_ratio
    return Stage(name, continuous=ends, rounding=_one_by_one(ends, half_digit))


def percent_meant(factor: float, accepted: str) -> str:
    """Put before what is accepted that a percentage was meant, where its sign seems forgotten."""
    forgotten = 100 < factor <= 100 * WIDEST_RANGE
    return f'did you mean "{factor:g} %"? {accepted}' if forgotten else accepted


def _possible(ratio: float) -> bool:
    return LEAST_RATIO <= ratio <= MOST_RATIO


def _numbered(ratios: Sequence[float]) -> tuple[Choice, ...]:
    return tuple(Choice(str(number), float(ratio)) for number, ratio in enumerate(ratios, 1))


def _one_by_one(ratios: Sequence[float], half_digit: float) -> tuple[tuple[float, ...], ...]:
    """Return the rounding of ratios that are printed each for itself."""
    if not half_digit:
        return ()
    return tuple(
        tuple(half_digit / ratio if place == own else 0.0 for place in range(len(ratios)))
        for own, ratio in enumerate(ratios)
    )
