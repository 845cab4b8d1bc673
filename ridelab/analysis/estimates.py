"""The quantity of a claim as ridden, with its 95 % interval, or why the rides do not tell it.

The largest of several steps is at least as large as each of them. Its lower limit is the largest
lower limit of the joint intervals (2.5 % shared among the steps, after Bonferroni), because the one
that errs most is picked; its upper limit is the largest upper limit, where sharing is not needed.
The smallest step is the mirror image. The mean step follows from the range.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ridelab.analysis import words
from ridelab.analysis.intervals import scaled
from ridelab.analysis.wheel import Wheel
from ridelab.gears.result import Interval

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridelab.analysis.evidence import Evidence
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
    """

    measured: Interval
    gears: tuple[int, ...]
    to_ride: tuple[int, ...] = ()
    shows: Shows = "all"
    wheel: Wheel | None = None


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
    gear, wheel = _named_gear(claim, evidence), evidence.wheel
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
        return _one_step(_named_gear(claim, evidence), evidence)
    if claim.which in {"largest", "smallest"}:
        return _extreme_step(claim.which == "largest", evidence)
    return _mean_step(evidence)


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


def _named_gear(claim: Claim, evidence: Evidence) -> int:
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
}
