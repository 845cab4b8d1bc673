"""What must become known before a claim is decided, in the logarithm of developments."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import inf, log
from typing import TYPE_CHECKING

from ridelab.analysis.doubts import doubt
from ridelab.analysis.estimates import Silent, estimate, named_gear
from ridelab.campaign import COUNTS, UNTESTABLE
from ridelab.gears.result import Interval

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridelab.analysis.evidence import Evidence, Pair
    from ridelab.campaign import Claim


@dataclass(frozen=True)
class Goal:
    """A sum of ln(development) of gears that must come to lie on one side of two limits, surely.

    Attributes:
        weights: of each gear in the sum.
        low, high: the limits, in the logarithm; infinite where there is none.
        at: the sum as measured, or as published where a gear was not measured.
        down, up: how much lower, or higher, than the sum the true value may be for other causes
            than the ride, such as the wheel.
    """

    weights: Mapping[int, float]
    low: float
    high: float
    at: float
    down: float = 0.0
    up: float = 0.0

    @property
    def shut(self) -> bool:
        """Whether other causes leave so much open that no riding brings it inside its limits."""
        return self.low + self.down >= self.high - self.up


def goals(claim: Claim, evidence: Evidence) -> tuple[Goal, ...]:
    """Return what must become known for a claim; nothing where riding would not decide it."""
    if evidence.stepless or claim.quantity in UNTESTABLE or claim.quantity == "rollout":
        return ()
    if claim.quantity not in COUNTS and isinstance(estimate(claim, evidence), Silent):
        return ()
    if doubt(claim, evidence) is not None or not evidence.covariance:
        return ()
    if claim.quantity in {"ratio", "development", "speed"}:
        return _of_one_gear(claim, evidence)
    low, high = (_ln(limit) for limit in claim.limits)
    if claim.quantity == "range":
        return (_between(evidence.ends, low, high, evidence),)
    if claim.quantity in COUNTS:
        apart = log(1.0 + (claim.within or evidence.merge_within))
        return tuple(
            _between(pair, *_beyond(pair, apart, evidence), evidence)
            for pair in pairwise(evidence.published)
        )
    return _of_steps(claim, evidence)


def _beyond(pair: Pair, apart: float, evidence: Evidence) -> tuple[float, float]:
    below, above = pair
    published = log(evidence.published[above] / evidence.published[below])
    return (apart if published > apart else published / 2), inf


def _of_steps(claim: Claim, evidence: Evidence) -> tuple[Goal, ...]:
    per_step = claim.at_cadence_rpm or 1.0 if claim.quantity == "cadence change" else 1.0
    low, high = (_ln(1.0 + limit / per_step) for limit in claim.limits)
    pairs = list(pairwise(evidence.published))
    if claim.gear is not None:
        gear = named_gear(claim, evidence)
        return (_between((gear - 1, gear), low, high, evidence),)
    by_step = [_between(pair, low, high, evidence) for pair in pairs]
    if claim.quantity == "evenness":
        ordered = sorted(by_step, key=lambda goal: goal.at)
        return (_difference(ordered[-1], ordered[0], low, high), *_merely_ridden(by_step))
    if claim.which == "every":
        return tuple(by_step)
    if claim.which in {"largest", "smallest"}:
        return _of_extreme(by_step, claim.which == "largest", low, high)
    steps = len(pairs)
    return (_between(evidence.ends, low * steps, high * steps, evidence),)


def _of_extreme(
    by_step: Sequence[Goal], largest: bool, low: float, high: float
) -> tuple[Goal, ...]:
    """The extreme step lies on one side of both limits, all others on one side of the outer one."""
    ordered = sorted(by_step, key=lambda goal: goal.at if largest else -goal.at)
    *others, extreme = ordered
    outer = [
        Goal(
            one.weights,
            -inf if largest else low,
            high if largest else inf,
            one.at,
            one.down,
            one.up,
        )
        for one in others
    ]
    return (*outer, extreme)


def _difference(above: Goal, below: Goal, low: float, high: float) -> Goal:
    weights = dict(above.weights)
    for gear, weight in below.weights.items():
        weights[gear] = weights.get(gear, 0.0) - weight
    return Goal(
        weights, low, high, above.at - below.at, above.down + below.up, above.up + below.down
    )


def _merely_ridden(by_step: Sequence[Goal]) -> tuple[Goal, ...]:
    """Return goals that are reached once both gears of a step were ridden at all."""
    return tuple(Goal(goal.weights, -inf, inf, goal.at) for goal in by_step)


def _between(pair: Pair, low: float, high: float, evidence: Evidence) -> Goal:
    below, above = pair
    at = _ln_ratio(above, evidence) - _ln_ratio(below, evidence)
    return Goal({above: 1.0, below: -1.0}, low, high, at, *evidence.open_between(pair))


def _of_one_gear(claim: Claim, evidence: Evidence) -> tuple[Goal, ...]:
    """The wheel leaves open how metres recorded and true ones go together."""
    gear, wheel = named_gear(claim, evidence), evidence.wheel
    if wheel is None:
        return ()
    recorded_m = wheel.effective_m.value * evidence.published[gear]
    if gear in evidence.developments:
        recorded_m = evidence.developments[gear].value
    exact = Interval(recorded_m, recorded_m, recorded_m)
    seen = wheel.ratio(exact) if claim.quantity == "ratio" else wheel.development_m(exact)
    turns_hz = (claim.at_cadence_rpm or 0.0) / 60.0 if claim.quantity == "speed" else 1.0
    low, high = (_ln(limit / turns_hz) for limit in claim.limits)
    down, up = evidence.open_log(gear)
    return (
        Goal(
            {gear: 1.0}, low, high, log(seen.value),
            log(seen.value / seen.low) + down, log(seen.high / seen.value) + up,
        ),
    )  # fmt: skip


def _ln_ratio(gear: int, evidence: Evidence) -> float:
    one = evidence.ratios.get(gear)
    return log(evidence.published[gear] if one is None else one.value)


def _ln(value: float) -> float:
    return log(value) if value > 0.0 else -inf
