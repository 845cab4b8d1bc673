"""The quantity of a claim as ridden, with its 95 % interval, or why the rides do not tell it.

The largest of several steps is at least as large as each of them. Its lower limit is the largest
lower limit of the joint intervals (2.5 % shared among the steps, after Bonferroni), because the one
that errs most is picked; its upper limit is the largest upper limit, where sharing is not needed.
The smallest step is the mirror image. The mean step follows from the range. Evenness is the
greatest quotient of two steps' factors, and treated as the largest step is.

A cadence change is that from one gear to its neighbour at one speed: the cadence in the higher gear
times the step.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import permutations
from typing import TYPE_CHECKING, Literal

from ridelab.analysis import words
from ridelab.analysis.intervals import apart, quotient, scaled
from ridelab.analysis.wheel import Wheel
from ridelab.campaign.model import BY_TWO_METERS, UNTESTABLE
from ridelab.gears.result import Interval

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridelab.analysis.evidence import Evidence, Pair
    from ridelab.campaign import Claim

#: What was measured is the quantity itself; or the least, or the most, that it can be; or that of a
#: part, which says nothing of the whole; or the range of a stepless drivetrain as it was ridden.
Shows = Literal["all", "at least", "at most", "part", "as ridden"]


@dataclass(frozen=True)
class Estimate:
    """A quantity as measured so far.

    Attributes:
        measured: value and 95 % interval, in the unit of the claim.
        gears: the gears it was taken from.
        to_ride: gears that it also depends on and that were not measured.
        shows: what that is of the quantity itself.
        wheel: the wheel whose true rollout the interval leaves open; None if none comes in.
        each: where a claim speaks of every step, their joint intervals; one outside disproves it.
        meters: what two power meters may be apart by, in the logarithm; it is in the interval.
    """

    measured: Interval
    gears: tuple[int, ...]
    to_ride: tuple[int, ...] = ()
    shows: Shows = "all"
    wheel: Wheel | None = None
    each: tuple[Interval, ...] = ()
    meters: float = 0.0


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
    if claim.quantity in BY_TWO_METERS and evidence.passed:
        return _efficiency(claim, evidence)
    if claim.quantity in UNTESTABLE:
        return Silent(UNTESTABLE[claim.quantity])
    if claim.quantity == "range":
        return _range(evidence)
    if claim.quantity not in _BY_QUANTITY:
        return Silent(f"no ride shows this: {claim.quantity}")
    if evidence.stepless:
        return Silent("a stepless drivetrain has no gears to measure, only a range")
    return _BY_QUANTITY[claim.quantity](claim, evidence)


def _range(evidence: Evidence) -> Answer:
    if evidence.stepless:
        if evidence.range is None:
            return Silent("no range was measured: ride from its lowest to its highest ratio", False)
        return Estimate(evidence.range, (), shows="as ridden")
    if len(evidence.published) == 1:
        return Silent("one gear has no range")
    to_ride = evidence.unmeasured(evidence.ends)
    span = _span(evidence)
    if span is None:
        return Missing(to_ride)
    return Estimate(span, evidence.ends, to_ride, "at least" if to_ride else "all")


def _span(evidence: Evidence) -> Interval | None:
    """Return highest over lowest measured ratio, of two published gears or more."""
    gears = list(evidence.ratios)
    if len(gears) < 2 or evidence.range is not None:
        return evidence.range
    return evidence.between((gears[0], gears[-1]))


def _ratio(claim: Claim, evidence: Evidence) -> Answer:
    return _by_wheel(claim, evidence, Wheel.ratio)


def _development(claim: Claim, evidence: Evidence) -> Answer:
    return _by_wheel(claim, evidence, Wheel.development_m)


def _speed(claim: Claim, evidence: Evidence) -> Answer:
    turns_per_s = (claim.at_cadence_rpm or 0.0) / 60
    return _by_wheel(
        claim,
        evidence,
        lambda wheel, recorded_m: scaled(
            wheel.development_m(recorded_m), lambda metres: metres * turns_per_s
        ),
    )


def _by_wheel(
    claim: Claim, evidence: Evidence, seen_by: Callable[[Wheel, Interval], Interval]
) -> Answer:
    """Return what follows from the recorded development of a gear, the true wheel left open."""
    gear, wheel = named_gear(claim, evidence), evidence.wheel
    if wheel is None:
        return Silent(words.NO_ROLLOUT)
    if gear not in evidence.developments:
        return Missing((gear,))
    if wheel.off is not None:
        return Silent(words.wrong_wheel(wheel.off, wheel.is_measured), for_ever=False)
    return Estimate(seen_by(wheel, evidence.developments[gear]), (gear,), wheel=wheel)


def _step(claim: Claim, evidence: Evidence) -> Answer:
    if len(evidence.published) == 1:
        return Silent("one gear has no step")
    if claim.gear is not None:
        return _one_step(named_gear(claim, evidence), evidence)
    if claim.which in {"largest", "smallest"}:
        return _extreme_step(claim.which == "largest", evidence)
    if claim.which == "every":
        return _every_step(claim, evidence)
    return _mean_step(evidence)


def _cadence_change(claim: Claim, evidence: Evidence) -> Answer:
    cadence_rpm = claim.at_cadence_rpm or 0.0
    of_steps = replace(claim, value=claim.value / cadence_rpm if cadence_rpm else 0.0)
    answer = _step(of_steps, evidence)
    if not isinstance(answer, Estimate):
        return answer

    def in_rpm(one: Interval) -> Interval:
        return scaled(one, lambda step: step * cadence_rpm)

    each = tuple(in_rpm(one) for one in answer.each)
    return replace(answer, measured=in_rpm(answer.measured), each=each)


def _every_step(claim: Claim, evidence: Evidence) -> Answer:
    """Return the step furthest from the claimed one, within the interval that holds them all."""
    to_ride = evidence.unmeasured(evidence.published)
    if not evidence.steps:
        return Missing(to_ride)
    steps = [step.measured for step in evidence.steps.values()]
    furthest = max(steps, key=lambda step: abs(step.value - claim.value))
    measured = Interval(
        furthest.value, min(step.low for step in steps), max(step.high for step in steps)
    )
    joint = tuple(step.joint for step in evidence.steps.values())
    return Estimate(
        measured, tuple(evidence.ratios), to_ride, "part" if to_ride else "all", each=joint
    )


def _evenness(_claim: Claim, evidence: Evidence) -> Answer:
    """Return the largest of all steps over the smallest, both as factors, minus 1."""
    if len(evidence.published) < 3:
        return Silent("steps can be compared from three gears on")
    to_ride = evidence.unmeasured(evidence.published)
    pairs = list(permutations(evidence.steps, 2))
    if not pairs:
        return Missing(to_ride)
    plain = [_over(evidence, *pair, joint=False) for pair in pairs]
    joint = [_over(evidence, *pair, joint=True) for pair in pairs]
    measured = Interval(
        max(one.value for one in plain) - 1,
        max(max(one.low for one in joint) - 1, 0.0),
        max(one.high for one in plain) - 1,
    )
    gears = tuple(evidence.ratios)
    return Estimate(measured, gears, to_ride, "at least" if to_ride else "all")


def _over(evidence: Evidence, one: Pair, other: Pair, *, joint: bool) -> Interval:
    """Return the factor of one step over that of another.

    Neighbouring steps share a gear, whose error makes the one larger and the other smaller: there
    the errors of both add up.
    """
    above, below = (
        scaled(step.joint if joint else step.measured, lambda value: 1 + value)
        for step in (evidence.steps[one], evidence.steps[other])
    )
    return apart(above, below) if set(one) & set(other) else quotient(above, below)


def _rollout(_claim: Claim, evidence: Evidence) -> Answer:
    """Return the effective rollout, where the ride's metres do not come from the wheel itself."""
    if not evidence.by_satellite:
        return Silent(words.ROLLOUT_IS_SET)
    wheel = evidence.wheel
    if wheel is None or not evidence.ratios:
        return Missing(tuple(evidence.published))
    return Estimate(wheel.effective_m, tuple(evidence.ratios))


def _efficiency(claim: Claim, evidence: Evidence) -> Answer:
    """Return how much of the power at the crank the meter at the wheel found, 100 % at most."""
    if evidence.stepless and claim.gear is not None:
        return Silent("a stepless drivetrain has no gears to measure, only a range")
    gear = None if claim.gear is None else named_gear(claim, evidence)
    if gear is not None and gear not in evidence.passed:
        return Missing((gear,))
    if any(one.efficiency().low > 1 for one in evidence.passed.values()):
        return Silent(words.METERS_DISAGREE, for_ever=False)
    passed = evidence.passed[gear]
    read = passed.efficiency(evidence.share)
    measured = Interval(min(read.value, 1.0), min(read.low, 1.0), min(read.high, 1.0))
    gears = tuple(one for one in evidence.passed if one is not None) if gear is None else (gear,)
    return Estimate(measured, gears, meters=passed.accuracy)


def _one_step(gear: int, evidence: Evidence) -> Answer:
    if gear == evidence.ends[0]:
        return Silent(f"there is no gear below gear {gear} to step from")
    pair = (gear - 1, gear)
    to_ride = evidence.unmeasured(pair)
    if to_ride:
        return Missing(to_ride)
    return Estimate(evidence.steps[pair].measured, pair)


def _extreme_step(largest: bool, evidence: Evidence) -> Answer:
    to_ride = evidence.unmeasured(evidence.published)
    if not evidence.steps:
        return Missing(to_ride)
    plain = [step.measured for step in evidence.steps.values()]
    joint = [step.joint for step in evidence.steps.values()]
    extreme = max if largest else min
    measured = Interval(
        extreme(step.value for step in plain),
        extreme(step.low for step in (joint if largest else plain)),
        extreme(step.high for step in (plain if largest else joint)),
    )
    bound: Shows = "at least" if largest else "at most"
    return Estimate(measured, tuple(evidence.ratios), to_ride, bound if to_ride else "all")


def _mean_step(evidence: Evidence) -> Answer:
    """Return the mean step between the lowest and the highest gear that were measured."""
    to_ride = evidence.unmeasured(evidence.ends)
    span, gears = _span(evidence), tuple(evidence.ratios)
    if span is None or len(gears) < 2:
        return Missing(to_ride)
    steps = gears[-1] - gears[0]
    mean = scaled(span, lambda factor: factor ** (1 / steps) - 1)
    return Estimate(mean, evidence.ends, to_ride, "part" if to_ride else "all")


def named_gear(claim: Claim, evidence: Evidence) -> int:
    """Return the number of the gear that a claim names."""
    if claim.gear == "lowest":
        return evidence.ends[0]
    if claim.gear == "highest" or claim.gear is None:
        return evidence.ends[1]
    return claim.gear


_BY_QUANTITY: dict[str, Callable[[Claim, Evidence], Answer]] = {
    "ratio": _ratio,
    "development": _development,
    "speed": _speed,
    "step": _step,
    "cadence change": _cadence_change,
    "evenness": _evenness,
    "rollout": _rollout,
}
