"""The claims of one data sheet beside the published ladder and the wheel of one vehicle.

Contradictions are looked for among the claims themselves, then together with the published ladder,
then with the wheel, so that each is told with as little as it takes.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite
from typing import TYPE_CHECKING

import numpy as np

from ridelab.analysis import paper_words
from ridelab.analysis.bounds import TOUCHING, contradiction, of_sources, span
from ridelab.analysis.paper_rows import (
    COUNT,
    LADDER,
    WHEEL,
    Numbers,
    bounding,
    by_claim,
    claim_rows,
    ladder_rows,
    order_rows,
    readings,
    wheel_rows,
)
from ridelab.campaign import COUNTS, Claim
from ridelab.drivetrain.grouping import group_starts

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridelab.analysis.bounds import Row
    from ridelab.analysis.paper_rows import Reading
    from ridelab.campaign import Campaign, Vehicle
    from ridelab.campaign.model import ClaimQuantity
    from ridelab.drivetrain.ladder import Ladder

_OF_WHEEL = {"speed", "development", "rollout"}
#: Of several claims that contradict each other, the one that follows from the others is the first.
_DERIVED = ("range", "evenness", "step", "cadence change", "ratio", "rollout", "development")
Span = tuple[float, float]


@dataclass(frozen=True)
class Contradiction:
    """Claims of which at least one must be false, with what else that takes.

    Attributes:
        drivetrain: what they speak of.
        vehicle: the one whose wheel, or own claim, comes in; None for any.
        claims: their ids, in file order.
        sources: ``LADDER``, ``COUNT`` and ``WHEEL``, as far as these come in.
        message: which, and by how much they miss each other, in a sentence.
    """

    drivetrain: str
    vehicle: str | None
    claims: tuple[str, ...]
    sources: frozenset[str]
    message: str


class Sheet:
    """The claims on one drivetrain, beside its published ladder and the wheel of one vehicle."""

    def __init__(
        self,
        campaign: Campaign,
        ladder: Ladder,
        vehicle: Vehicle | None,
        claims: Sequence[Claim],
    ) -> None:
        self._campaign, self._ladder, self._vehicle = campaign, ladder, vehicle
        self._all = claims
        self._claims = bounding(claims)
        self._published = Numbers(2 if ladder.stepless else len(ladder.gears))
        self._numbers = self._claimed_numbers()
        self._by_source = {by_claim(one): one for one in claims}
        drivetrain = campaign.drivetrains[ladder.drivetrain]
        self._ladder_rows = [
            *order_rows(self._claims, self._published),
            *ladder_rows(drivetrain, ladder, self._claims),
        ]
        self._wheel_rows = wheel_rows(vehicle)

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield what cannot be true together, each with as little as it takes."""
        yield from self._miscounted()
        yield from self._among_claims()
        yield from self._with(self._ladder_rows, LADDER)
        if self._wheel_rows:
            yield from self._with([*self._ladder_rows, *self._wheel_rows], WHEEL)

    def rows(self, false: set[str]) -> Iterator[dict[str, object]]:
        """Yield a row for each claim, ``false`` or not, and for what they imply beside.

        The columns are those of ``on_paper.ON_PAPER_SCHEMA``.
        """
        paper = [*self._ladder_rows, *self._wheel_rows]
        for claim in self._all:
            agrees = claim.id not in false
            if claim.quantity in COUNTS:
                counted = float(self._counted(claim))
                yield self._filled(claim, None, (counted, counted), agrees)
            elif claim in self._claims:
                others = self._consistent([one for one in self._claims if one is not claim])
                yield self._filled(
                    claim,
                    _values(others, readings(claim, self._numbers)),
                    _values(paper, readings(claim, self._published)),
                    agrees,
                )
        yield from self._implied(paper)

    def _implied(self, paper: list[Row]) -> Iterator[dict[str, object]]:
        """Yield the range and the rollout where claims imply them and none states them."""
        said = self._consistent(self._claims)
        quantities: tuple[ClaimQuantity, ...] = ("range", "rollout")
        for quantity in quantities:
            nobody = Claim("", self._ladder.drivetrain, quantity, 1.0, 0.0, "")
            implied = _values(said, readings(nobody, self._numbers))
            if implied and all(claim.quantity != quantity for claim in self._claims):
                made = _values(paper, readings(nobody, self._published))
                yield self._filled(nobody, implied, made, agrees=None)

    def _consistent(self, claims: Sequence[Claim]) -> list[Row]:
        """Return what claims say, without those that contradict each other."""
        order = order_rows(self._claims, self._numbers)
        left = list(claims)
        while culprits := contradiction([*order, *claim_rows(left, self._numbers)]):
            left = [one for one in left if by_claim(one) not in culprits]
        return [*order, *claim_rows(left, self._numbers)]

    def _filled(
        self, claim: Claim, others: Span | None, paper: Span | None, agrees: bool | None
    ) -> dict[str, object]:
        vehicle = self._vehicle and self._vehicle.name
        claimed = claim.limits if claim.id else None
        return {
            "drivetrain": claim.drivetrain,
            "vehicle": vehicle if claim.quantity in _OF_WHEEL else claim.vehicle,
            "claim": claim.id or None,
            "about": paper_words.about(claim),
            "claimed": claim.printed or None,
            **_ends("claimed", claimed),
            **_ends("others", others),
            **_ends("paper", paper),
            "others": others and paper_words.made(claim, others, self._campaign.units),
            "paper": paper and paper_words.made(claim, paper, self._campaign.units),
            "agrees": agrees,
        }

    def _among_claims(self) -> Iterator[Contradiction]:
        """Yield what claims alone contradict: sets that share no claim, until the rest agrees."""
        left = list(self._claims)
        order = order_rows(self._claims, self._numbers)
        while culprits := contradiction(rows := [*order, *claim_rows(left, self._numbers)]):
            yield self._contradiction(culprits, rows)
            left = [one for one in left if by_claim(one) not in culprits]

    def _with(self, paper: list[Row], newest: str) -> Iterator[Contradiction]:
        """Yield what claims contradict in the ladder, or in the ladder and the wheel.

        One claim after the other first: what remains is asked whether it can be true together. Sets
        without the newest of these sources were told before.
        """
        rows = [*paper, *claim_rows(self._claims, self._published)]
        if not contradiction(rows):
            return
        left = []
        for claim in self._claims:
            alone = [*paper, *claim_rows([claim], self._published)]
            culprits = contradiction(alone)
            if newest in culprits:
                yield self._contradiction(culprits, alone)
            if not culprits:
                left.append(claim)
        while culprits := contradiction(rows := [*paper, *claim_rows(left, self._published)]):
            if newest in culprits:
                yield self._contradiction(culprits, rows)
            left = [one for one in left if by_claim(one) not in culprits]

    def _contradiction(self, culprits: frozenset[str], rows: list[Row]) -> Contradiction:
        claims = [one for source, one in self._by_source.items() if source in culprits]
        sources = culprits & {LADDER, COUNT, WHEEL}
        numbers = self._published if sources & {LADDER, WHEEL} else self._numbers
        message = self._missed(claims, sources, numbers, of_sources(rows, culprits))
        return self._told(claims, sources, message)

    def _told(
        self, claims: Iterable[Claim], sources: frozenset[str], message: str
    ) -> Contradiction:
        own = WHEEL in sources or any(claim.vehicle for claim in claims)
        return Contradiction(
            self._ladder.drivetrain,
            self._vehicle.name if own and self._vehicle else None,
            tuple(claim.id for claim in claims),
            sources,
            message,
        )

    def _missed(
        self,
        claims: Sequence[Claim],
        sources: frozenset[str],
        numbers: Numbers,
        rows: Sequence[Row],
    ) -> str:
        """Say what the others make of the claim that follows from them, and how far it misses."""
        beside = paper_words.beside(sources, self._ladder, self._vehicle)
        for claim in sorted(bounding(claims), key=_derived):
            others = [row for row in rows if by_claim(claim) not in row.sources]
            said_by = [paper_words.named(one) for one in claims if one is not claim] + beside
            for one in readings(claim, numbers):
                low, high = span(others, one.terms)
                if low > one.high or high < one.low:
                    implied = one.value(low), one.value(high)
                    return paper_words.missed(claim, implied, said_by, self._campaign.units)
        return paper_words.impossible([*map(paper_words.named, claims), *beside])

    def _claimed_numbers(self) -> Numbers:
        """Return how many gears are claimed, if one number is; else how many are published."""
        published = Numbers(self._published.count, frozenset({COUNT}))
        for claim in self._all:
            exact = claim.bound == "about" and claim.tolerance * claim.value < 1
            if claim.quantity == "gears" and claim.within is None and exact:
                if claim.value == published.count:
                    return Numbers(published.count, frozenset({by_claim(claim)}))
                named = [one.gear for one in self._claims if isinstance(one.gear, int)]
                if claim.value >= max(named, default=1):
                    return Numbers(int(claim.value), frozenset({by_claim(claim)}))
        return published

    def _miscounted(self) -> Iterator[Contradiction]:
        """Yield the counts that are not those of the published ladder."""
        for claim in self._all:
            if claim.quantity in COUNTS:
                low, high = claim.limits
                counted = self._counted(claim)
                if not low <= counted <= high:
                    message = paper_words.miscounted(
                        claim, counted, self._ladder, self._within(claim)
                    )
                    yield self._told([claim], frozenset({LADDER}), message)

    def _counted(self, claim: Claim) -> int:
        """Return how many distinct gears, or how many that repeat one, the ladder has."""
        members = [ratio for gear in self._ladder.gears for ratio in gear.members]
        distinct = len(self._ladder.gears)
        if claim.within is not None:
            distinct = len(group_starts(np.array(members), claim.within))
        return distinct if claim.quantity == "gears" else len(members) - distinct

    def _within(self, claim: Claim) -> float:
        return self._campaign.merge_within if claim.within is None else claim.within


def _values(rows: Sequence[Row], claimed: Sequence[Reading]) -> Span | None:
    """Return between what rows leave a claimed quantity; None where they say nothing of it.

    Where all steps are claimed: from the least of the smallest to the most of the largest.
    """
    if not claimed or contradiction(rows):
        return None
    spans = [span(rows, one.terms) for one in claimed]
    low, high = min(low for low, _ in spans), max(high for _, high in spans)
    # that gears rise says nothing that anybody would claim
    if high == inf and low < TOUCHING:
        return None
    return claimed[0].value(low), claimed[0].value(high)


def _derived(claim: Claim) -> int:
    known = claim.quantity in _DERIVED
    return _DERIVED.index(claim.quantity) if known else len(_DERIVED)


def _ends(name: str, ends: Span | None) -> dict[str, object]:
    low, high = ends or (None, None)
    return {f"{name}_low": _finite(low), f"{name}_high": _finite(high)}


def _finite(value: float | None) -> float | None:
    return value if value is not None and isfinite(value) else None
