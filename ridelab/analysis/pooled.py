"""Claims over all vehicles with one drivetrain: is it the drivetrain, or this vehicle?

What several vehicles measured alone is pooled (``random_effects``) where it is one number whose
error averages out: a range, a ratio, a development, a speed, one step or their mean, a cadence
change, a rollout, an efficiency. The largest of several steps errs upwards on every vehicle alike,
a count errs by whole gears, and metres depend on the wheel: such claims, and metres on different
wheels, are compared vehicle by vehicle.

The verdict for the drivetrain goes neither against nor beyond its vehicles:

- Where one vehicle bears a claim out and another refutes it, it is undecided, and both are named.
- Where all that could be judged agree, that is the verdict (an intersection-union test; R. L.
  Berger, Technometrics 24 (1982) 295-300: its risk is that of a single vehicle's).
- Else the mean over the vehicles is judged by the same rule as one vehicle is (``verdicts``), but
  never where a vehicle departs from the others or refutes the outcome. The claims on one drivetrain
  that are left to the mean are judged together (``together``).

One vehicle alone does not tell whether it is the drivetrain or this vehicle; the row says so.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import expm1, inf
from typing import TYPE_CHECKING

import polars as pl

from ridelab.analysis import pooled_words as words
from ridelab.analysis.pooled_pieces import back, piece_of
from ridelab.analysis.random_effects import odd_one, pool
from ridelab.analysis.together import sure_enough
from ridelab.campaign.model import COUNTS
from ridelab.drivetrain.wheel import accepted_rollout_m
from ridelab.gears.result import Interval

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ridelab.analysis.evidence import Evidence
    from ridelab.analysis.random_effects import Mean, Odd, Piece
    from ridelab.analysis.verdict import Word
    from ridelab.campaign import Claim

#: One row a claim: the columns of the relation ``pooled_claims``.
POOLED_SCHEMA = pl.Schema(
    {
        "claim": pl.String(),
        "drivetrain": pl.String(),
        "vehicles": pl.Int32(),
        "left_out": pl.Int32(),
        "measured": pl.Float64(),
        "measured_low": pl.Float64(),
        "measured_high": pl.Float64(),
        "spread": pl.Float64(),
        "q": pl.Float64(),
        "q_p": pl.Float64(),
        "odd_vehicle": pl.String(),
        "odd_by": pl.Float64(),
        "verdict": pl.String(),
        "reason": pl.String(),
    }
)
_OF_A_WHEEL = frozenset({"development", "speed", "rollout"})
_EXTREMES = frozenset({"largest", "smallest", "every"})


@dataclass
class _Case:
    """One claim over its vehicles: their own verdicts, what each measured, and their mean."""

    claim: Claim
    own: Mapping[str, Mapping[str, object]]
    pieces: Sequence[Piece]
    apart: str | None
    mean: Mean | None = field(init=False, default=None)
    odd: Odd | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        if len(self.pieces) > 1 and self.apart is None:
            self.mean, self.odd = pool(self.pieces), odd_one(self.pieces)

    def said(self, word: Word) -> list[str]:
        """Return the vehicles with this verdict."""
        return [name for name, row in self.own.items() if row["verdict"] == word]

    @property
    def judged(self) -> list[str]:
        """The vehicles that a verdict can rest on: decided, or measured in full."""
        known = {piece.vehicle for piece in self.pieces}
        return [
            name
            for name, row in self.own.items()
            if name in known or row["verdict"] in {"holds", "fails"}
        ]

    def interval(self, share: float = 1.0) -> Interval | None:
        """Return the mean with its interval in the unit of the claim."""
        if self.mean is None:
            return None
        shown = (back(self.claim, one) for one in (self.mean.at, *self.mean.ends(share)))
        return Interval(*shown)

    def by_mean(self, share: float) -> Word:
        """Return the verdict of the mean where only ``share`` of the usual risk is taken."""
        found = self.interval(share)
        if found is None or self.odd is not None:
            return "undecided"
        low, high = self.claim.limits
        if low <= found.low and found.high <= high:
            return "undecided" if self.said("fails") else "holds"
        if found.low > high or found.high < low:
            return "undecided" if self.said("holds") else "fails"
        return "undecided"


def pool_claims(
    claims: Iterable[Claim], verdicts: pl.DataFrame, evidence: Sequence[Evidence]
) -> pl.DataFrame:
    """Say of each claim what all vehicles with its drivetrain come to.

    Args:
        claims: in the order of the rows.
        verdicts: the relation, as judged from the same evidence.
        evidence: what is measured of each vehicle.

    Returns:
        ``POOLED_SCHEMA``.
    """
    by_vehicle = {one.vehicle: one for one in evidence}
    cases = [_case(claim, verdicts, by_vehicle) for claim in claims]
    means = _by_mean(cases)
    rows = [_row(case, means.get(case.claim.id)) for case in cases]
    return pl.DataFrame(rows, schema=POOLED_SCHEMA)


def _case(claim: Claim, verdicts: pl.DataFrame, evidence: Mapping[str, Evidence]) -> _Case:
    rows = verdicts.filter(pl.col("claim") == claim.id).to_dicts()
    own = {row["vehicle"]: row for row in rows}
    ridden = [evidence[name] for name in own if name in evidence]
    found = [piece for one in ridden if (piece := piece_of(claim, one)) is not None]
    measured = [evidence[piece.vehicle] for piece in found]
    return _Case(claim, own, found, _apart(claim, measured))


def _apart(claim: Claim, evidence: Sequence[Evidence]) -> str | None:
    """Return why vehicles are to be compared one by one, None if they can be pooled."""
    if claim.quantity in COUNTS:
        return words.COUNTED
    if claim.which in _EXTREMES or claim.quantity == "evenness":
        return words.EXTREME
    if claim.quantity in _OF_A_WHEEL and not _one_wheel(evidence):
        return words.WHEELS
    return None


def _one_wheel(evidence: Sequence[Evidence]) -> bool:
    """Whether all vehicles may roll on wheels of one size."""
    spans = [
        accepted_rollout_m(one.wheel.stated_m, one.wheel.is_measured)
        for one in evidence
        if one.wheel is not None
    ]
    return max((low for low, _ in spans), default=0.0) <= min(
        (high for _, high in spans), default=inf
    )


def _by_mean(cases: Sequence[_Case]) -> dict[str, Word]:
    """Judge the claims that are left to the mean, those on one drivetrain together."""
    left: dict[str, list[_Case]] = {}
    for case in cases:
        if case.mean is not None and _unanimous(case) is None:
            left.setdefault(case.claim.drivetrain, []).append(case)
    given: dict[str, Word] = {}
    for group in left.values():
        usual = [case.by_mean(1.0) for case in group]

        def passes(
            place: int, share: float, group: Sequence[_Case] = group, usual: Sequence[Word] = usual
        ) -> bool:
            word = usual[place]
            return word != "undecided" and group[place].by_mean(share) == word

        for case, word, sure in zip(group, usual, sure_enough(len(group), passes), strict=True):
            given[case.claim.id] = word if sure else "undecided"
    return given


def _unanimous(case: _Case) -> Word | None:
    """Return the verdict that all vehicles come to of which one can be given."""
    found = {case.own[name]["verdict"] for name in case.judged}
    if found == {"holds"}:
        return "holds"
    return "fails" if found == {"fails"} else None


def _row(case: _Case, by_mean: Word | None) -> dict[str, object]:
    claim, judged = case.claim, case.judged
    word, reason = _verdict(case, by_mean)
    found = case.interval()
    same = {case.own[name]["measured"] for name in judged}
    # what is the same on each, as counts often are, needs no mean
    alone = case.own[judged[0]] if len(same) == 1 else {}
    return {
        "claim": claim.id,
        "drivetrain": claim.drivetrain,
        "vehicles": len(judged),
        "left_out": sum(name is not None for name in case.own) - len(judged),
        "measured": found.value if found else alone.get("measured"),
        "measured_low": found.low if found else alone.get("measured_low"),
        "measured_high": found.high if found else alone.get("measured_high"),
        "spread": case.mean and case.mean.spread,
        "q": case.mean and case.mean.q,
        "q_p": case.mean and case.mean.p,
        "odd_vehicle": case.odd and case.odd.vehicle,
        "odd_by": case.odd and expm1(case.odd.off),
        "verdict": word,
        "reason": reason,
    }


def _verdict(case: _Case, by_mean: Word | None) -> tuple[Word, str]:
    """Return the verdict for the drivetrain, and why."""
    judged, own = case.judged, case.own
    if not judged or len(own) == 1:
        return _of_few(case)
    odd = words.odd(case.odd.vehicle, expm1(case.odd.off), len(judged) - 1) if case.odd else ""
    others = words.not_judged([name for name in own if name not in judged])
    holds, fails = case.said("holds"), case.said("fails")
    if holds and fails:
        return "undecided", words.contradiction(holds, fails) + odd + others
    unanimous = _unanimous(case)
    if unanimous is not None:
        return unanimous, words.each(unanimous, judged, case.apart) + odd + others
    found = case.interval()
    if found is not None and by_mean in {"holds", "fails"}:
        above = found.value > case.claim.value
        return by_mean, words.on_average(case.claim, by_mean, len(judged), above) + others
    if len(judged) == 1:
        return "undecided", str(own[judged[0]]["reason"]) + others
    some = words.on_some(holds, fails)
    pooled = case.apart or words.mean_open(case.claim, len(judged))
    return "undecided", f"{some}; {pooled}{odd}{others}"


def _of_few(case: _Case) -> tuple[Word, str]:
    """Return the verdict where nothing can be compared: one vehicle, or none that tells."""
    rows = list(case.own.values())
    first = next((row for row in rows if row["verdict"] == "undecided"), rows[0])
    word: Word = first["verdict"]  # type: ignore[assignment]
    reason = str(first["reason"])
    if len(rows) > 1:
        return word, reason if word == "untestable" else words.none_tells(len(rows), reason)
    if word in {"holds", "fails"} and case.claim.vehicle is None:
        return word, words.one_vehicle(str(first["vehicle"]), reason)
    return word, reason
