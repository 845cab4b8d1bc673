"""Claims -> verdicts: does what was ridden bear out what was published?

A claim allows ``value * (1 - tolerance)`` to ``value * (1 + tolerance)``. The measured quantity
comes with a 95 % interval. It *holds* if the whole interval lies inside those limits, *fails* if
the whole interval lies outside, and is *undecided* otherwise. That is a pair of one-sided tests,
each at 2.5 % (TOST; D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657-680): a drivetrain
whose true value lies just outside the limits is said to hold at most once in forty times, and one
whose true value lies just inside is said to fail as rarely.

What was ridden in part bounds the whole: a range can only be wider than the part of it that was
ridden. So a claim may fail before all gears concerned were ridden, but it never holds before.

On a stepless drivetrain nobody sees the ends, and soft pedalling passes for a higher ratio. There
a claimed range holds once it was ridden, and never fails.

A claimed number of gears holds once that many distinct ratios were measured. It fails if gears turn
out as one, or if a ratio was ridden that the published ladder does not have.

Ratios, developments and speeds carry what the wheel leaves open (``analysis.wheel``). Where it is
in doubt which gears were ridden, or whether they are this drivetrain's, claims that depend on it
are undecided (``analysis.doubts``).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import TYPE_CHECKING, Literal, cast

import polars as pl

from ridelab.analysis import words
from ridelab.analysis.census import take_census
from ridelab.analysis.doubts import doubt, misplaced
from ridelab.analysis.estimates import Estimate, Missing, Silent, estimate
from ridelab.analysis.evidence import gather
from ridelab.analysis.words import allowed, count, how_to_ride, not_ridden
from ridelab.campaign import Claim
from ridelab.drivetrain.ladder import MERGE_WITHIN

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelab.analysis.evidence import Evidence
    from ridelab.gears.result import Interval

Word = Literal["holds", "fails", "undecided", "untestable"]

#: One row a claim and vehicle: the columns of the relation ``verdicts``.
VERDICT_SCHEMA = pl.Schema(
    {
        "claim": pl.String(),
        "vehicle": pl.String(),  # null where no vehicle has the claim's drivetrain
        "verdict": pl.String(),
        "measured": pl.Float64(),  # in the unit of the claim's value: SI, a range as a factor
        "measured_low": pl.Float64(),
        "measured_high": pl.Float64(),
        "reason": pl.String(),  # one sentence for people
    }
)


@dataclass(frozen=True)
class Verdict:
    """One of the four words, what was measured (if anything), and why in one plain sentence."""

    word: Word
    reason: str
    measured: Interval | None = None


def judge(
    claims: pl.DataFrame,
    measured_gears: pl.DataFrame,
    measured_range: pl.DataFrame,
    measured_steps: pl.DataFrame,
    published_gears: pl.DataFrame,
    vehicles: pl.DataFrame,
    *,
    merge_within: float = MERGE_WITHIN,
) -> pl.DataFrame:
    """Judge every claim on every vehicle that has its drivetrain.

    Args:
        claims: the relation, with its columns gear, which, at_cadence_rpm and printed.
        measured_gears: the relation.
        measured_range: the relation.
        measured_steps: the relation.
        published_gears: the relation.
        vehicles: the relation.
        merge_within: ratios closer than this are one gear, relative; the campaign's own.

    Returns:
        ``VERDICT_SCHEMA``: one row a claim and vehicle, in the order given; a claim on a drivetrain
        that no vehicle has gets one row without a vehicle.
    """
    found = [
        gather(
            vehicle, measured_gears, measured_range, measured_steps, published_gears, merge_within
        )
        for vehicle in vehicles.iter_rows(named=True)
    ]
    rows: list[dict[str, object]] = []
    for claim, only in zip(_claims(claims), claims["vehicle"], strict=True):
        concerned = [
            evidence
            for evidence in found
            if evidence.drivetrain == claim.drivetrain and only in {None, evidence.vehicle}
        ]
        rows += [
            _row(claim, evidence.vehicle, judge_one(claim, evidence)) for evidence in concerned
        ]
        if not concerned:
            nobody = Verdict("undecided", "no vehicle with this drivetrain was ridden")
            rows.append(_row(claim, only, nobody))
    return pl.DataFrame(rows, schema=VERDICT_SCHEMA)


def judge_one(claim: Claim, evidence: Evidence) -> Verdict:
    """Judge one claim by what the rides of one vehicle say."""
    if claim.quantity == "gears":
        return _judge_gears(claim, evidence)
    answer = estimate(claim, evidence)
    if isinstance(answer, Silent) and answer.for_ever:
        return Verdict("untestable", answer.reason)
    measured = answer.measured if isinstance(answer, Estimate) else None
    doubtful = doubt(claim, evidence)
    if doubtful:
        return Verdict("undecided", doubtful, measured)
    if isinstance(answer, Silent):
        return Verdict("undecided", answer.reason)
    if isinstance(answer, Missing):
        return Verdict("undecided", not_ridden(answer.to_ride))
    return _compare(claim, answer)


def _compare(claim: Claim, answer: Estimate) -> Verdict:
    """Set the interval against the limits of the claim, as the head of this module says."""
    low, high = _limits(claim)
    measured, within = answer.measured, allowed(claim)
    if measured.low > high and answer.shows in {"all", "at least"}:
        return Verdict("fails", f"above the claim by more than {within}", measured)
    if measured.high < low and answer.shows in {"all", "at most"}:
        return Verdict("fails", f"below the claim by more than {within}", measured)
    if answer.to_ride:
        return Verdict("undecided", not_ridden(answer.to_ride), measured)
    if measured.low >= low and measured.high <= high:
        return Verdict("holds", f"within {within} of the claim, uncertainty included", measured)
    return Verdict("undecided", _why_undecided(claim, answer), measured)


def _why_undecided(claim: Claim, answer: Estimate) -> str:
    """Say what leaves a claim open though all that it depends on was ridden, and what helps."""
    (low, high), measured, limit = _limits(claim), answer.measured, allowed(claim)
    if answer.shows == "as ridden" and measured.value < low:
        return "not all of it was ridden: ride 60 s at its lowest and 60 s at its highest ratio"
    if answer.shows == "as ridden" and measured.value > high:
        return (
            "more than claimed, but soft pedalling passes for a higher ratio on a stepless "
            "drivetrain: ride 60 s of firm pedalling at its highest ratio"
        )
    if answer.wheel and 2 * answer.wheel.open_log > log(measured.high / measured.low):
        return words.open_wheel(answer.wheel.open_share, answer.wheel.is_measured, limit)
    longer = how_to_ride(answer.gears) if answer.gears else "at its ends"
    return f"the uncertainty reaches across the limit of {limit}: ride longer {longer}"


def _judge_gears(claim: Claim, evidence: Evidence) -> Verdict:
    """Set the number of distinct ratios against the limits of the claim."""
    if evidence.stepless:
        return Verdict("untestable", "a stepless drivetrain has no gears to count")
    census = take_census(evidence)
    if census.strange and not misplaced(evidence):
        return Verdict("fails", words.off_the_ladder(census.strange), census.number)
    doubtful = doubt(claim, evidence)
    if doubtful:
        return Verdict("undecided", doubtful, census.number)
    low, high = _limits(claim)
    if census.least > high:
        return Verdict("fails", f"{count(census.least)} ridden, more than claimed", census.number)
    if census.most < low and not census.doubtful:
        reason = words.too_few(census.most, census.alike, census.unridden)
        return Verdict("fails", reason, census.number)
    if census.doubtful:
        return Verdict("undecided", words.maybe_off_the_ladder(census.doubtful), census.number)
    if census.least >= low:
        return Verdict("holds", f"{count(census.least)} ridden, as claimed", census.number)
    if census.unridden:
        return Verdict("undecided", not_ridden(census.unridden), census.number)
    return Verdict("undecided", words.too_close(census.unclear), census.number)


def _limits(claim: Claim) -> tuple[float, float]:
    return claim.value * (1 - claim.tolerance), claim.value * (1 + claim.tolerance)


def _claims(claims: pl.DataFrame) -> Iterator[Claim]:
    for row in claims.iter_rows(named=True):
        yield Claim(
            id=row["claim"],
            drivetrain=row["drivetrain"],
            quantity=row["quantity"],
            value=row["value"],
            tolerance=row["tolerance"],
            printed=row["printed"],
            source=row["source"] or "",
            gear=_gear(row["gear"]),
            which=row["which"],
            at_cadence_rpm=row["at_cadence_rpm"],
        )


def _gear(stored: str | int | None) -> int | Literal["lowest", "highest"] | None:
    """The store keeps all three kinds of gear in one column of text."""
    if stored is None or stored in {"lowest", "highest"}:
        return cast("Literal['lowest', 'highest'] | None", stored)
    return int(stored)


def _row(claim: Claim, vehicle: str | None, verdict: Verdict) -> dict[str, object]:
    measured = verdict.measured
    return {
        "claim": claim.id,
        "vehicle": vehicle,
        "verdict": verdict.word,
        "measured": measured and measured.value,
        "measured_low": measured and measured.low,
        "measured_high": measured and measured.high,
        "reason": verdict.reason,
    }
