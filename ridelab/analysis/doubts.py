"""What casts doubt on which gears were ridden, and so on the claims that depend on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.analysis import words
from ridelab.analysis.census import take_census
from ridelab.gears.match import MOST_UNEXPLAINED
from ridelab.gears.slide import SURE_PLACEMENT

if TYPE_CHECKING:
    from ridelab.analysis.evidence import Evidence
    from ridelab.campaign import Claim

_OF_ONE_GEAR = frozenset({"ratio", "development", "speed"})


def misplaced(evidence: Evidence) -> bool:
    """Whether gears may carry the wrong numbers, so that some of them may seem to be missing.

    A ladder of which every gear was ridden has nowhere else to sit.
    """
    return _unsure(evidence) and not evidence.whole


def doubt(claim: Claim, evidence: Evidence) -> str | None:
    """Return why a claim cannot be judged however sharp its measurement is, None if it can."""
    if evidence.without_steps:
        return words.NO_STEPS
    share, placed = evidence.unexplained_share, evidence.placement_probability
    if share is not None and share > MOST_UNEXPLAINED:
        return words.unexplained(share)
    of_one_gear = claim.gear is not None or claim.quantity in _OF_ONE_GEAR
    if placed is not None and (_unsure(evidence) if of_one_gear else misplaced(evidence)):
        wheel = evidence.wheel
        return words.may_slide(1 - placed, wheel is not None and wheel.is_measured)
    if not of_one_gear and claim.quantity in {"range", "step"}:
        return _changed_by_strangers(claim, evidence)
    return None


def _unsure(evidence: Evidence) -> bool:
    placed = evidence.placement_probability
    return placed is not None and placed < SURE_PLACEMENT


def _changed_by_strangers(claim: Claim, evidence: Evidence) -> str | None:
    """Return why a range or a step of the whole ladder is open: another gear may change it."""
    if not evidence.strangers:
        return None
    census = take_census(evidence)
    low, high = (evidence.published[gear] for gear in evidence.ends)
    for ratios, say in (
        (census.strange, words.off_the_ladder),
        (census.doubtful, words.maybe_off_the_ladder),
    ):
        matter = [one for one in ratios if claim.quantity == "step" or not low < one < high]
        if matter:
            return say(matter)
    return None
