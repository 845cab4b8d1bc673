"""What claims, a published ladder and a wheel say, as rows in the logarithms of a few unknowns.

Unknown are the ratio of every gear concerned, the rollout, and, where steps are claimed, the
quotient of two gears at the largest and at the smallest step. A range is then a difference, a speed
at a cadence a sum, and a rounded number an interval.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import exp, inf, isfinite, log
from typing import TYPE_CHECKING

import numpy as np

from ridelab.analysis.bounds import Row
from ridelab.campaign import COUNTS, UNTESTABLE
from ridelab.drivetrain.grouping import overall_ratios
from ridelab.drivetrain.wheel import accepted_rollout_m

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ridelab.campaign import Claim, Vehicle
    from ridelab.drivetrain.ladder import Ladder
    from ridelab.drivetrain.stages import Drivetrain, Stage

#: Sources of rows beside claims.
LADDER, COUNT, WHEEL = "ladder", "count", "wheel"
_ROLLOUT, _LARGEST, _SMALLEST = "rollout", "largest step", "smallest step"
#: Step claims that the unknown extremes are needed for.
_EXTREME = {"largest", "smallest", "every"}


@dataclass(frozen=True)
class Numbers:
    """How many gears there are, and who says so."""

    count: int
    sources: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Reading:
    """A claim as bounds on a sum of unknowns, and how such a sum becomes a value again.

    ``exp(sum) = offset + factor * value``; ``of_count``: it follows only with the number of gears.
    """

    terms: Mapping[str, float]
    low: float
    high: float
    offset: float
    factor: float
    of_count: bool = False

    def value(self, logarithm: float) -> float:
        """Return the claimed quantity, SI, for a value of the sum."""
        return (exp(logarithm) - self.offset) / self.factor if isfinite(logarithm) else logarithm


def by_claim(claim: Claim) -> str:
    """Return the source of what a claim says."""
    return f"claim {claim.id}"


def bounding(claims: Iterable[Claim]) -> list[Claim]:
    """Return the claims that bound unknowns: none of counts, and none that are only words."""
    return [one for one in claims if one.quantity not in {*COUNTS, *UNTESTABLE}]


def claim_rows(claims: Iterable[Claim], numbers: Numbers) -> list[Row]:
    """Return what the claims say."""
    return [
        Row(
            one.terms,
            one.low,
            one.high,
            frozenset({by_claim(claim)}) | (numbers.sources if one.of_count else frozenset()),
        )
        for claim in claims
        for one in readings(claim, numbers)
    ]


def readings(claim: Claim, numbers: Numbers) -> list[Reading]:
    """Return the bounds that a claim is: one, or two where all steps are claimed."""
    offset, factor = _scale(claim)
    low, high = (
        -inf if offset + factor * limit <= 0 else log(offset + factor * limit)
        for limit in claim.limits
    )
    lowest, highest = _gear(1), _gear(numbers.count)
    steps = numbers.count - 1
    if claim.quantity == "range":
        terms = {highest: 1.0, lowest: -1.0} if steps else {}
        return [Reading(terms, low, high, offset, factor, of_count=not steps)]
    if claim.quantity in {"ratio", "speed", "development"}:
        number = {"lowest": 1, "highest": numbers.count}.get(str(claim.gear)) or claim.gear
        rolls = {} if claim.quantity == "ratio" else {_ROLLOUT: 1.0}
        return [Reading({_gear(number): 1.0} | rolls, low, high, offset, factor)]
    if claim.quantity == "rollout":
        return [Reading({_ROLLOUT: 1.0}, low, high, offset, factor)]
    if not steps:
        return []
    if claim.quantity == "evenness":
        return [Reading({_LARGEST: 1.0, _SMALLEST: -1.0}, low, high, offset, factor)]
    if isinstance(claim.gear, int):
        terms = {_gear(claim.gear): 1.0, _gear(claim.gear - 1): -1.0}
        return [Reading(terms, low, high, offset, factor)]
    if claim.which == "every":
        return [
            Reading({_LARGEST: 1.0}, -inf, high, offset, factor),
            Reading({_SMALLEST: 1.0}, low, inf, offset, factor),
        ]
    if claim.which in _EXTREME:
        extreme = _LARGEST if claim.which == "largest" else _SMALLEST
        return [Reading({extreme: 1.0}, low, high, offset, factor)]
    mean = {highest: 1 / steps, lowest: -1 / steps}
    return [Reading(mean, low, high, offset, factor, of_count=True)]


def order_rows(claims: Sequence[Claim], numbers: Numbers) -> list[Row]:
    """Return what is true of any ladder: gears rise, and no step lies beyond the extreme ones.

    All steps together make the range: it is at least the largest and else smallest steps, and at
    most the smallest and else largest.
    """
    gears = concerned(claims, numbers)
    rows = [
        Row({_gear(above): 1.0, _gear(below): -1.0}, low=0.0) for below, above in pairwise(gears)
    ]
    if not _extremes(claims) or numbers.count < 2:
        return rows
    for below, above in pairwise(gears):
        step = {_gear(above): 1.0, _gear(below): -1.0}
        rows += [Row(step | {_LARGEST: -1.0}, high=0.0), Row(step | {_SMALLEST: -1.0}, low=0.0)]
    whole = {_gear(numbers.count): 1.0, _gear(1): -1.0}
    others = numbers.count - 2.0
    return [
        *rows,
        Row({_SMALLEST: 1.0}, low=0.0),
        Row(whole | {_LARGEST: -1.0, _SMALLEST: -others}, low=0.0, sources=numbers.sources),
        Row(whole | {_LARGEST: -others, _SMALLEST: -1.0}, high=0.0, sources=numbers.sources),
    ]


def concerned(claims: Iterable[Claim], numbers: Numbers) -> list[int]:
    """Return the gears whose ratios the claims speak of, the lowest and highest always."""
    claims = list(claims)
    if _extremes(claims):
        return list(range(1, numbers.count + 1))
    named = {
        number
        for claim in claims
        if isinstance(claim.gear, int)
        for number in ((claim.gear - 1, claim.gear) if _of_step(claim) else (claim.gear,))
    }
    return sorted({1, numbers.count, *named})


def ladder_rows(drivetrain: Drivetrain, ladder: Ladder, claims: Sequence[Claim]) -> list[Row]:
    """Return what the published ladder says of the gears concerned, rounded as it is printed.

    A gear that several combinations share lies anywhere among them. A stepless ladder has two
    gears, its ends.
    """
    said = frozenset({LADDER})
    shared = _members(drivetrain, ladder)
    rows = [Row({unknown: 1.0}, -1.0, 1.0) for unknown in shared[1][0].rounding]
    gears = concerned(claims, Numbers(len(shared)))
    for number in gears:
        least, most = shared[number]
        rows += [
            Row({_gear(number): 1.0} | least.taken_off, low=least.log_ratio, sources=said),
            Row({_gear(number): 1.0} | most.taken_off, high=most.log_ratio, sources=said),
        ]
    if _extremes(claims) and len(shared) > 1:
        steps = [_step_span(shared[below], shared[above]) for below, above in pairwise(gears)]
        rows += [
            Row({_LARGEST: 1.0}, high=max(high for _, high in steps), sources=said),
            Row({_SMALLEST: 1.0}, low=min(low for low, _ in steps), sources=said),
        ]
    return rows


def wheel_rows(vehicle: Vehicle | None) -> list[Row]:
    """Return between what a vehicle's rollout lies; nothing where its wheel is not stated."""
    if vehicle is None or vehicle.stated_rollout_m is None:
        return []
    ends = accepted_rollout_m(vehicle.stated_rollout_m, vehicle.rollout_m is not None)
    low, high = (log(end) for end in ends)
    return [Row({_ROLLOUT: 1.0}, low, high, frozenset({WHEEL}))]


@dataclass(frozen=True)
class _Member:
    """A combination: the logarithm of its ratio, and by what each rounding moves that."""

    log_ratio: float
    rounding: dict[str, float]

    @property
    def taken_off(self) -> dict[str, float]:
        return {unknown: -weight for unknown, weight in self.rounding.items()}


def _members(drivetrain: Drivetrain, ladder: Ladder) -> dict[int, tuple[_Member, _Member]]:
    """Return the lowest and the highest combination of each gear, or of the two stepless ends."""
    settings = [_settings(stage) for stage in drivetrain.stages]
    shape = tuple(len(one) for one in settings)
    ratios = overall_ratios([list(one) for one in settings])
    order = np.argsort(ratios, kind="stable")
    if ladder.stepless:
        places = {1: (0, 0), 2: (len(order) - 1, len(order) - 1)}
    else:
        ends = np.cumsum([len(gear.members) for gear in ladder.gears]).tolist()
        places = {
            gear.number: (end - len(gear.members), end - 1)
            for gear, end in zip(ladder.gears, ends, strict=True)
        }
    return {
        number: (
            _member(drivetrain.stages, ratios, shape, int(order[least])),
            _member(drivetrain.stages, ratios, shape, int(order[most])),
        )
        for number, (least, most) in places.items()
    }


def _settings(stage: Stage) -> tuple[float, ...]:
    return stage.continuous or tuple(choice.ratio for choice in stage.choices)


def _member(
    stages: Sequence[Stage], ratios: np.ndarray, shape: tuple[int, ...], place: int
) -> _Member:
    chosen = np.unravel_index(place, shape)
    rounding = {
        f"rounding {number} of {stage.name}": weights[int(choice)]
        for stage, choice in zip(stages, chosen, strict=True)
        for number, weights in enumerate(stage.rounding)
    }
    return _Member(log(ratios[place]), rounding)


def _step_span(
    below: tuple[_Member, _Member], above: tuple[_Member, _Member]
) -> tuple[float, float]:
    """Return between what the logarithm of the quotient of two neighbouring gears lies."""
    ends = []
    for sign, upper, lower in ((-1, above[0], below[1]), (1, above[1], below[0])):
        moves = sum(abs(weight - lower.rounding[key]) for key, weight in upper.rounding.items())
        ends.append(upper.log_ratio - lower.log_ratio + sign * moves)
    return ends[0], ends[1]


def _scale(claim: Claim) -> tuple[float, float]:
    """Return ``offset`` and ``factor``, as in ``Reading``."""
    if claim.quantity in {"step", "evenness"}:
        return 1.0, 1.0
    if claim.quantity == "cadence change":
        return 1.0, 1 / _cadence_rpm(claim)
    if claim.quantity == "speed":
        return 0.0, 60 / _cadence_rpm(claim)
    return 0.0, 1.0


def _cadence_rpm(claim: Claim) -> float:
    if claim.at_cadence_rpm is None:
        raise ValueError(f"{claim.id}: {claim.quantity} without a cadence")
    return claim.at_cadence_rpm


def _of_step(claim: Claim) -> bool:
    return claim.quantity in {"step", "cadence change"}


def _extremes(claims: Iterable[Claim]) -> bool:
    return any(claim.which in _EXTREME or claim.quantity == "evenness" for claim in claims)


def _gear(number: object) -> str:
    return f"gear {number}"
