"""The quantity of a claim as ridden, with its 95 % interval, or why the rides do not tell it.

Ratios of different gears are taken as independently measured. The interval of a quotient then
follows from those of its parts in the logarithm, side by side, since an interval need not be
symmetric (MOVER; G. Y. Zou and A. Donner, Statistics in Medicine 27 (2008) 1693-1702).

The largest of several steps is at least as large as each of them. Its lower limit is the largest
lower limit, each taken at 2.5 % shared among the steps (Bonferroni), because the one that errs
most is picked; its upper limit is the largest upper limit, where sharing is not needed. The
smallest step is the mirror image.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, hypot, log
from statistics import NormalDist
from typing import TYPE_CHECKING, Literal

from ridelab.analysis.words import wrong_wheel
from ridelab.gears.result import Interval

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridelab.analysis.evidence import Evidence
    from ridelab.campaign import Claim

#: The scale of a ladder is taken from its own gears: with fewer, any ratio would fit.
FEWEST_GEARS_FOR_A_RATIO = 3
_ONE_SIDED = 0.025


@dataclass(frozen=True)
class Estimate:
    """A quantity as measured so far.

    Attributes:
        measured: value and 95 % interval, in the unit of the claim.
        gears: the gears it was taken from.
        to_ride: gears that it also depends on and that were not measured.
        bound: where ``to_ride`` is not empty, or the drivetrain stepless: the quantity is at least,
            or at most, what was measured.
    """

    measured: Interval
    gears: tuple[int, ...]
    to_ride: tuple[int, ...] = ()
    bound: Literal["at least", "at most"] | None = None


@dataclass(frozen=True)
class Missing:
    """Nothing was measured yet: ``to_ride`` are the gears that would have to be."""

    to_ride: tuple[int, ...]


@dataclass(frozen=True)
class Silent:
    """The rides cannot tell, whatever gear is ridden, and why; ``for_ever`` if no ride could."""

    reason: str
    for_ever: bool = True


Answer = Estimate | Missing | Silent


def estimate(claim: Claim, evidence: Evidence) -> Answer:
    """Return what the rides say about a claim on anything but the number of gears."""
    if claim.quantity == "range":
        return _range(evidence)
    if claim.quantity not in _BY_QUANTITY:
        return Silent(f"no ride shows this: {claim.quantity}")
    if evidence.stepless:
        return Silent("a stepless drivetrain has no gears to measure, only a range")
    return _BY_QUANTITY[claim.quantity](claim, evidence)


def quotient(above: Interval, below: Interval, widen: float = 1.0) -> Interval:
    """Return ``above / below`` with its interval; ``widen`` stretches that in the logarithm."""
    middle = log(above.value / below.value)
    down = hypot(log(above.value / above.low), log(below.high / below.value))
    up = hypot(log(above.high / above.value), log(below.value / below.low))
    return Interval(exp(middle), exp(middle - widen * down), exp(middle + widen * up))


def scaled(interval: Interval, change: Callable[[float], float]) -> Interval:
    """Return the interval after an increasing change of its three figures."""
    return Interval(change(interval.value), change(interval.low), change(interval.high))


def _range(evidence: Evidence) -> Answer:
    ends = (evidence.published[0], evidence.published[-1]) if evidence.published else ()
    to_ride = evidence.unmeasured(ends)
    if evidence.range is None:
        if evidence.stepless:
            return Silent("no range was measured: ride from its lowest to its highest ratio", False)
        return Missing(to_ride or ends)
    whole = evidence.complete and not evidence.stepless
    return Estimate(evidence.range, ends, to_ride, None if whole else "at least")


def _ratio(claim: Claim, evidence: Evidence) -> Answer:
    gear = _named_gear(claim, evidence)
    if gear not in evidence.ratios:
        return Missing((gear,))
    if len(evidence.ratios) < FEWEST_GEARS_FOR_A_RATIO:
        return Silent(
            "a ratio shows only beside those of other gears: ride 60 s of steady pedalling in each "
            f"of {FEWEST_GEARS_FOR_A_RATIO} gears or more",
            for_ever=False,
        )
    return Estimate(evidence.ratios[gear], (gear,))


def _development(claim: Claim, evidence: Evidence) -> Answer:
    gear = _named_gear(claim, evidence)
    if gear not in evidence.ratios:
        return Missing((gear,))
    if gear not in evidence.developments:
        return Silent(
            "metres cannot be told without the size of the wheel: give this vehicle a tyre or a "
            "measured rollout_m",
            for_ever=False,
        )
    if evidence.rollout_off is not None:
        return Silent(wrong_wheel(evidence.rollout_off), for_ever=False)
    return Estimate(evidence.developments[gear], (gear,))


def _speed(claim: Claim, evidence: Evidence) -> Answer:
    development = _development(claim, evidence)
    if not isinstance(development, Estimate):
        return development
    turns_per_s = (claim.at_cadence_rpm or 0.0) / 60
    speed = scaled(development.measured, lambda metres: metres * turns_per_s)
    return Estimate(speed, development.gears)


def _step(claim: Claim, evidence: Evidence) -> Answer:
    if claim.gear is not None:
        return _one_step(_named_gear(claim, evidence), evidence)
    if claim.which in {"largest", "smallest"}:
        return _extreme_step(claim.which == "largest", evidence)
    return _mean_step(evidence)


def _one_step(gear: int, evidence: Evidence) -> Answer:
    place = evidence.published.index(gear)
    if place == 0:
        return Silent(f"there is no gear below gear {gear} to step from")
    pair = (evidence.published[place - 1], gear)
    to_ride = evidence.unmeasured(pair)
    if to_ride:
        return Missing(to_ride)
    return Estimate(_step_between(pair, evidence), pair)


def _extreme_step(largest: bool, evidence: Evidence) -> Answer:
    to_ride = evidence.unmeasured(evidence.published)
    pairs = evidence.adjacent()
    if not pairs:
        return Missing(to_ride)
    plain = [_step_between(pair, evidence) for pair in pairs]
    shared = NormalDist().inv_cdf(_ONE_SIDED / len(pairs)) / NormalDist().inv_cdf(_ONE_SIDED)
    wide = [_step_between(pair, evidence, shared) for pair in pairs]
    extreme = max if largest else min
    measured = Interval(
        extreme(step.value for step in plain),
        extreme(step.low for step in (wide if largest else plain)),
        extreme(step.high for step in (plain if largest else wide)),
    )
    bound: Literal["at least", "at most"] = "at least" if largest else "at most"
    return Estimate(measured, tuple(evidence.ratios), to_ride, bound if to_ride else None)


def _mean_step(evidence: Evidence) -> Answer:
    steps = len(evidence.published) - 1
    if not steps:
        return Silent("a drivetrain with one gear has no step")
    answer = _range(evidence)
    if not isinstance(answer, Estimate):
        return answer
    mean = scaled(answer.measured, lambda factor: factor ** (1 / steps) - 1)
    return Estimate(mean, answer.gears, answer.to_ride, answer.bound)


def _step_between(pair: tuple[int, int], evidence: Evidence, widen: float = 1.0) -> Interval:
    below, above = pair
    between = quotient(evidence.ratios[above], evidence.ratios[below], widen)
    return scaled(between, lambda factor: factor - 1)


def _named_gear(claim: Claim, evidence: Evidence) -> int:
    if claim.gear == "lowest":
        return evidence.published[0]
    if claim.gear == "highest" or claim.gear is None:
        return evidence.published[-1]
    return claim.gear


_BY_QUANTITY: dict[str, Callable[[Claim, Evidence], Answer]] = {
    "ratio": _ratio,
    "development": _development,
    "speed": _speed,
    "step": _step,
}
