"""Verdicts on counts: how many gears are distinct, how many combinations only repeat one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.analysis import words
from ridelab.analysis.census import take_census
from ridelab.analysis.doubts import doubt, misplaced
from ridelab.analysis.verdict import Verdict
from ridelab.analysis.words import count, not_ridden
from ridelab.gears.result import Interval

if TYPE_CHECKING:
    from ridelab.analysis.census import Census
    from ridelab.analysis.evidence import Evidence
    from ridelab.campaign import Claim


def judge_count(claim: Claim, evidence: Evidence) -> Verdict:
    """Judge a claim on a number of gears, or of combinations that repeat one."""
    if evidence.stepless:
        return Verdict("untestable", "a stepless drivetrain has no gears to count")
    if claim.within is not None and claim.within < evidence.merge_within:
        return Verdict("undecided", words.finer_than_measured(claim.within, evidence.merge_within))
    census = take_census(evidence, claim.within)
    if claim.quantity == "overlap":
        return _judge_overlap(claim, evidence, census)
    return _judge_gears(claim, evidence, census)


def _judge_gears(claim: Claim, evidence: Evidence, census: Census) -> Verdict:
    """Set the number of distinct ratios against the limits of the claim."""
    rests_on = tuple(evidence.ratios)
    if census.strange and not misplaced(evidence):
        return Verdict("fails", words.off_the_ladder(census.strange), census.number, rests_on)
    if doubtful := doubt(claim, evidence):
        return Verdict("undecided", doubtful, census.number)
    low, high = claim.limits
    if census.least > high:
        reason = f"{count(census.least)} ridden, more than claimed"
        return Verdict("fails", reason, census.number, rests_on)
    if census.most < low and not census.doubtful:
        reason = words.too_few(census.most, census.alike, census.unridden)
        return Verdict("fails", reason, census.number, rests_on)
    if census.doubtful:
        return Verdict("undecided", words.maybe_off_the_ladder(census.doubtful), census.number)
    surely = census.most <= high or claim.within is None
    if census.least >= low and surely:
        reason = f"{count(census.least)} ridden, as claimed"
        return Verdict("holds", reason, census.number, rests_on)
    return _open(census)


def _judge_overlap(claim: Claim, evidence: Evidence, census: Census) -> Verdict:
    """Set the combinations beyond one for each distinct ratio against the limits of the claim."""
    total, rests_on = evidence.combinations, tuple(evidence.ratios)
    number = Interval(total - census.likely, max(total - census.most, 0), total - census.least)
    if doubtful := doubt(claim, evidence):
        return Verdict("undecided", doubtful, number)
    if census.strange or census.doubtful:
        strange = (*census.strange, *census.doubtful)
        return Verdict("undecided", words.maybe_off_the_ladder(strange), number)
    if census.unridden or census.unclear:
        return _open(census, number)
    low, high = claim.limits
    word = "holds" if low <= number.value <= high else "fails"
    return Verdict(word, words.repeated(total, census.likely), number, rests_on)  # type: ignore[arg-type]


def _open(census: Census, number: Interval | None = None) -> Verdict:
    """Say what leaves a count open."""
    number = number or census.number
    if census.unridden:
        return Verdict("undecided", not_ridden(census.unridden), number)
    return Verdict("undecided", words.too_close(census.unclear), number)
