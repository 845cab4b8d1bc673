"""Claims tested on paper, before any ride: against each other, the published ladder, the wheel.

Every number printed is an interval, since it was rounded. Claims that no drivetrain could fulfil
together are found by ``bounds.contradiction``; what the other claims, and the ladder, make of each
claim is told beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from ridelab.analysis.paper_sheet import Sheet
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelab.analysis.paper_sheet import Contradiction
    from ridelab.campaign import Campaign, Vehicle

#: One row a claim and vehicle, and one for each range and rollout that claims merely imply. Values
#: in SI, a range as a factor; null where nothing bounds them.
ON_PAPER_SCHEMA = pl.Schema(
    {
        "drivetrain": pl.String(),
        "vehicle": pl.String(),  # null where its wheel does not matter
        "claim": pl.String(),  # null where nobody claims it
        "about": pl.String(),  # what is claimed, in words
        "claimed": pl.String(),  # as printed
        "claimed_low": pl.Float64(),
        "claimed_high": pl.Float64(),
        "others_low": pl.Float64(),  # what the other claims make of it
        "others_high": pl.Float64(),
        "paper_low": pl.Float64(),  # what the published ladder, and the wheel, make of it
        "paper_high": pl.Float64(),
        "others": pl.String(),  # both as text, in the unit that the claim is printed in
        "paper": pl.String(),
        "agrees": pl.Boolean(),
    }
)


@dataclass(frozen=True)
class OnPaper:
    """What claims say before any ride: ``rows`` as ``ON_PAPER_SCHEMA``."""

    contradictions: tuple[Contradiction, ...]
    rows: pl.DataFrame

    def problems(self, path: str) -> list[Problem]:
        """Return the contradictions as warnings about a campaign file."""
        return [Problem(path, "paper", "warning", one.message) for one in self.contradictions]


def check_on_paper(campaign: Campaign) -> OnPaper:
    """Test the claims of a campaign against each other, the published ladders and the wheels."""
    found: dict[tuple[object, ...], Contradiction] = {}
    rows: dict[tuple[object, ...], dict[str, object]] = {}
    for sheet in _sheets(campaign):
        against = list(sheet.contradictions())
        for one in against:
            found.setdefault((one.drivetrain, one.claims, one.vehicle, one.sources), one)
        false = {claim for one in against for claim in one.claims}
        for row in sheet.rows(false):
            rows.setdefault((row["drivetrain"], row["vehicle"], row["claim"], row["about"]), row)
    return OnPaper(tuple(found.values()), pl.DataFrame(list(rows.values()), schema=ON_PAPER_SCHEMA))


def _sheets(campaign: Campaign) -> Iterator[Sheet]:
    """Yield the claims on each drivetrain, once for every vehicle that has it."""
    for drivetrain in campaign.drivetrains:
        claims = [one for one in campaign.claims if one.drivetrain == drivetrain]
        having: list[Vehicle | None] = [
            one for one in campaign.vehicles.values() if one.drivetrain == drivetrain
        ]
        for vehicle in (having or [None]) if claims else []:
            name = vehicle and vehicle.name
            yield Sheet(
                campaign,
                campaign.ladder(drivetrain),
                vehicle,
                [one for one in claims if one.vehicle in {None, name}],
            )
