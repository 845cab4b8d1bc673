"""Where a command works: the campaign, its store, and the folder of its report."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.campaign import Campaign

_CAMPAIGN, _STORE, _REPORT = Path("campaign.toml"), "ridelab.duckdb", "report"


@dataclass(frozen=True)
class Place:
    """``source`` is what a person calls the campaign: its file, or the rides they named."""

    campaign: Campaign
    source: str
    store: Path
    report: Path


def of_campaign(file: Path | None, store: Path | None = None, out: Path | None = None) -> Place:
    """Read the campaign file; store and report lie beside it unless told otherwise."""
    from ridelab.campaign import load

    campaign = load(file or _CAMPAIGN)
    return _place(campaign, str(file or _CAMPAIGN), store, out)


def of_rides(globs: Sequence[str], tyre: str | None, store: Path | None, out: Path | None) -> Place:
    """A rider without a campaign file: everything lies in the current folder."""
    from ridelab.campaign import single_vehicle

    return _place(single_vehicle(globs, tyre, Path.cwd()), " ".join(globs), store, out)


def for_run(
    file: Path | None,
    globs: Sequence[str],
    tyre: str | None,
    store: Path | None,
    out: Path | None,
) -> Place:
    """Choose between the two ways to say what was ridden.

    Raises:
        UsageError: both at once, or half of one.
    """
    if not globs:
        if tyre:
            raise UsageError("--tyre goes with --rides; in a campaign the tyre stands in the file")
        return of_campaign(file, store, out)
    if file:
        raise UsageError("--campaign and --rides together; accepted: one of them")
    return of_rides(globs, tyre, store, out)


def _place(campaign: Campaign, source: str, store: Path | None, out: Path | None) -> Place:
    return Place(campaign, source, store or campaign.root / _STORE, out or campaign.root / _REPORT)
