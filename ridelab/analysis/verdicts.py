"""Claims -> verdicts: does what was ridden bear out what was published?

A claim allows its value up to its tolerance to either side, or on one side only where it says "at
least" or "at most" (``Claim.limits``). The measured quantity comes with a 95 % interval. A claim
*holds* if the whole interval lies inside the limits, *fails* if the whole interval lies outside,
and is *undecided* otherwise. That is a pair of one-sided tests, each at 2.5 % (TOST; D. J.
Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657-680): a drivetrain whose true value lies just
outside the limits is said to hold at most once in forty times, one whose true value lies just
inside is said to fail as rarely, and further from the limits both are rarer still. Where several
claims on one vehicle are judged, a verdict must be the surer (``analysis.together``).

What was ridden in part bounds the whole: a range can only be wider than the part of it that was
ridden. So a claim may fail before all gears concerned were ridden, but it never holds before.

On a stepless drivetrain nobody sees the ends, and soft pedalling passes for a higher ratio. There
a claimed range holds once it was ridden, and never fails.

A claimed number of gears holds once that many distinct ratios were measured. It fails if gears turn
out as one, or if a ratio was ridden that the published ladder does not have (``counted``).

Ratios, developments and speeds carry what the wheel leaves open (``analysis.wheel``), and gears
that several combinations share which of them was ridden. Where it is in doubt which gears were
ridden, or whether they are this drivetrain's, claims that depend on it are undecided
(``analysis.doubts``).
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import log, nan
from typing import TYPE_CHECKING, Literal, cast

import polars as pl

from ridelab.analysis import words
from ridelab.analysis.counted import judge_count
from ridelab.analysis.doubts import doubt
from ridelab.analysis.estimates import Estimate, Missing, Silent, estimate
from ridelab.analysis.evidence import gather_all
from ridelab.analysis.pace import least_speed_mps
from ridelab.analysis.plan import PLAN_SCHEMA, Ride, plan_ride, plan_rows
from ridelab.analysis.together import sure_enough
from ridelab.analysis.verdict import Verdict
from ridelab.analysis.words import allowed, how_to_ride, not_ridden
from ridelab.campaign import COUNTS, UNTESTABLE, Claim
from ridelab.drivetrain.ladder import MERGE_WITHIN

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridelab.analysis.evidence import Evidence
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


def judge(
    claims: pl.DataFrame,
    measured_gears: pl.DataFrame,
    measured_range: pl.DataFrame,
    measured_steps: pl.DataFrame,
    published_gears: pl.DataFrame,
    vehicles: pl.DataFrame,
    *,
    merge_within: float = MERGE_WITHIN,
    measured_covariance: pl.DataFrame | None = None,
    measured_precision: pl.DataFrame | None = None,
    rides: pl.DataFrame | None = None,
    gear_losses: pl.DataFrame | None = None,
) -> pl.DataFrame:
    """Judge every claim on every vehicle that has its drivetrain; see ``judge_and_plan``.

    Returns:
        ``VERDICT_SCHEMA``: one row a claim and vehicle, in the order given; a claim on a drivetrain
        that no vehicle has gets one row without a vehicle.
    """
    return judge_and_plan(
        claims,
        measured_gears,
        measured_range,
        measured_steps,
        published_gears,
        vehicles,
        merge_within=merge_within,
        measured_covariance=measured_covariance,
        measured_precision=measured_precision,
        rides=rides,
        gear_losses=gear_losses,
        planned=False,
    )[0]


def judge_and_plan(
    claims: pl.DataFrame,
    measured_gears: pl.DataFrame,
    measured_range: pl.DataFrame,
    measured_steps: pl.DataFrame,
    published_gears: pl.DataFrame,
    vehicles: pl.DataFrame,
    *,
    merge_within: float = MERGE_WITHIN,
    measured_covariance: pl.DataFrame | None = None,
    measured_precision: pl.DataFrame | None = None,
    rides: pl.DataFrame | None = None,
    gear_losses: pl.DataFrame | None = None,
    planned: bool = True,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Judge every claim on every vehicle that has its drivetrain, and plan what is left to ride.

    Args:
        claims: the relation, with its columns gear, which, at_cadence_rpm and printed.
        measured_gears: the relation.
        measured_range: the relation.
        measured_steps: the relation.
        published_gears: the relation.
        vehicles: the relation.
        merge_within: ratios closer than this are one gear, relative; the campaign's own.
        measured_covariance: the relation; without it gears are taken as measured apart.
        measured_precision: the relation; without it intervals are taken as normal, and nothing is
            planned.
        rides: the relation; without it no rollout can be judged.
        gear_losses: the relation; without it no efficiency can be judged.
        planned: whether to plan rides.

    Returns:
        ``VERDICT_SCHEMA``, as ``judge``, and ``PLAN_SCHEMA``.
    """
    found = gather_all(
        vehicles,
        measured_gears,
        measured_range,
        measured_steps,
        published_gears,
        merge_within=merge_within,
        measured_covariance=measured_covariance,
        measured_precision=measured_precision,
        rides=rides,
        gear_losses=gear_losses,
    )
    return judge_evidence(list(read_claims(claims)), found, planned=planned)


def judge_evidence(
    every: Sequence[Claim], found: Sequence[Evidence], *, planned: bool = True
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Judge claims by what is collected of each vehicle; returns as ``judge_and_plan``."""
    given: dict[tuple[str, str], Verdict] = {}
    plans = [PLAN_SCHEMA.to_frame()]
    for evidence in found:
        judged = list(judge_together([one for one in every if concerns(one, evidence)], evidence))
        ride = plan_ride(judged, evidence) if planned else Ride({}, {})
        for claim, verdict in judged:
            reason = verdict.reason
            if claim.id in ride.shut and evidence.wheel is not None and not verdict.rests_on:
                reason = words.wheel_as_well(reason, measured=evidence.wheel.is_measured)
            if claim.id in ride.hopeless:
                reason = words.hardly_ever(reason, by_satellite=evidence.by_satellite)
            given[claim.id, evidence.vehicle] = replace(verdict, reason=reason)
        plans.append(plan_rows(ride, evidence))
    rows: list[dict[str, object]] = []
    for claim in every:
        concerned = [evidence.vehicle for evidence in found if concerns(claim, evidence)]
        rows += [_row(claim, vehicle, given[claim.id, vehicle]) for vehicle in concerned]
        if not concerned:
            rows.append(_row(claim, claim.vehicle, _without_vehicle(claim)))
    return pl.DataFrame(rows, schema=VERDICT_SCHEMA), pl.concat(plans)


def concerns(claim: Claim, evidence: Evidence) -> bool:
    """Whether a claim speaks of a vehicle."""
    return evidence.drivetrain == claim.drivetrain and claim.vehicle in {None, evidence.vehicle}


def judge_together(claims: Sequence[Claim], evidence: Evidence) -> Iterator[tuple[Claim, Verdict]]:
    """Judge the claims on one vehicle, so that together they rarely err."""

    @cache
    def surer(share: float) -> Evidence:
        return evidence.surer(share)

    alone = [judge_one(claim, surer(1.0)) for claim in claims]
    tested = [place for place, verdict in enumerate(alone) if verdict.rests_on]

    def given(place: int, share: float) -> bool:
        verdict = alone[tested[place]]
        return verdict.decided and (
            judge_one(claims[tested[place]], surer(share)).word == verdict.word
        )

    sure = dict(zip(tested, sure_enough(len(tested), given), strict=True))
    for place, (claim, verdict) in enumerate(zip(claims, alone, strict=True)):
        if verdict.decided and not sure.get(place, True):
            reason = words.not_sure_together(verdict.reason, len(tested), verdict.rests_on)
            yield claim, replace(verdict, word="undecided", reason=reason)
        else:
            yield claim, verdict


def _without_vehicle(claim: Claim) -> Verdict:
    if claim.quantity in UNTESTABLE:
        return Verdict("untestable", UNTESTABLE[claim.quantity])
    return Verdict("undecided", "no vehicle with this drivetrain was ridden")


def judge_one(claim: Claim, evidence: Evidence) -> Verdict:
    """Judge one claim by what the rides of one vehicle say."""
    if claim.quantity in COUNTS:
        return judge_count(claim, evidence)
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
        return Verdict("undecided", _to_ride(answer.to_ride, evidence))
    return _compare(claim, answer, evidence)


def _compare(claim: Claim, answer: Estimate, evidence: Evidence) -> Verdict:
    """Set the interval against the limits of the claim, as the head of this module says."""
    low, high = claim.limits
    measured, gears = answer.measured, answer.gears
    if answer.each:
        above = any(one.low > high for one in answer.each)
        below = any(one.high < low for one in answer.each)
    else:
        above = measured.low > high and answer.shows in {"all", "at least"}
        below = measured.high < low and answer.shows in {"all", "at most"}
    if above or below:
        return Verdict("fails", words.outside(claim, above=above), measured, gears or (0,))
    if answer.to_ride:
        return Verdict("undecided", _to_ride(answer.to_ride, evidence), measured)
    if measured.low >= low and measured.high <= high:
        return Verdict("holds", words.inside(claim), measured, gears or (0,))
    return Verdict("undecided", _why_undecided(claim, answer, evidence), measured, gears or (0,))


def _to_ride(gears: Sequence[int], evidence: Evidence) -> str:
    return not_ridden(gears, least_speed_mps(gears, evidence), evidence.units)


def _why_undecided(claim: Claim, answer: Estimate, evidence: Evidence) -> str:
    """Say what leaves a claim open though all that it depends on was ridden, and what helps."""
    (low, high), measured, limit = claim.limits, answer.measured, allowed(claim)
    if answer.shows == "as ridden" and measured.value < low:
        return "not all of it was ridden: ride 60 s at its lowest and 60 s at its highest ratio"
    if answer.shows == "as ridden" and measured.value > high:
        return (
            "more than claimed, but soft pedalling passes for a higher ratio on a stepless "
            "drivetrain: ride 60 s of firm pedalling at its highest ratio"
        )
    if answer.meters and 4 * answer.meters > log(measured.high / measured.low):
        return words.open_meters(answer.meters, limit)
    if answer.wheel and 2 * answer.wheel.open_log > log(measured.high / measured.low):
        return words.open_wheel(answer.wheel.open_share, answer.wheel.is_measured, limit)
    shared = tuple(gear for gear in answer.gears if gear in evidence.members)
    if shared and claim.quantity in {"ratio", "development", "speed", "step", "cadence change"}:
        return words.shared_gear(shared, limit)
    longer = how_to_ride(answer.gears) if answer.gears else "at its ends"
    return f"the uncertainty reaches across the limit of {limit}: ride longer {longer}"


def read_claims(claims: pl.DataFrame) -> Iterator[Claim]:
    """Yield the claims of the relation."""
    for row in claims.iter_rows(named=True):
        yield Claim(
            id=row["claim"],
            drivetrain=row["drivetrain"],
            quantity=row["quantity"],
            value=nan if row["value"] is None else row["value"],
            tolerance=nan if row["tolerance"] is None else row["tolerance"],
            printed=row["printed"],
            source=row["source"] or "",
            gear=_gear(row["gear"]),
            which=row["which"],
            at_cadence_rpm=row["at_cadence_rpm"],
            bound=row.get("bound") or "about",
            within=row.get("within"),
            vehicle=row["vehicle"],
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
