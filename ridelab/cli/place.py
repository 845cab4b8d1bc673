"""Where a command works: the campaign, its store, and the folder of its report."""

from __future__ import annotations

import shlex
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.errors import NotAccepted, UsageError
from ridelab.objects import checked

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridelab.campaign import Campaign
    from ridelab.units import UnitSystem

_CAMPAIGN, _STORE, _REPORT = Path("campaign.toml"), "ridelab.duckdb", "report"
#: Of a rider without a campaign file: the campaign that may lie in the same folder keeps its own.
_RIDER_STORE, _RIDER_REPORT = Path("my-rides.duckdb"), Path("my-rides-report")


@dataclass(frozen=True)
class Place:
    """``again``: the options that lead another command to the same store, with a space before."""

    campaign: Campaign
    store: Path
    report: Path
    again: str


@contextmanager
def told_of(option: str) -> Iterator[None]:
    """Name the option in the refusal of its value."""
    try:
        yield
    except NotAccepted as refusal:
        raise NotAccepted(refusal.found, refusal.accepted, option) from refusal


def of_campaign(file: Path | None, store: Path | None = None, out: Path | None = None) -> Place:
    """Read the campaign file; store and report lie beside it unless told otherwise."""
    from ridelab.campaign import load

    campaign = load(file or _CAMPAIGN)
    again = _options(**{"-c": file if file != _CAMPAIGN else None, "--store": store})
    root = campaign.root
    return Place(campaign, store or root / _STORE, out or root / _REPORT, again)


def of_rides(globs: Sequence[str], tyre: str | None, store: Path | None, out: Path | None) -> Place:
    """A rider without a campaign file: everything lies in the current folder, under own names."""
    from ridelab.campaign import single_vehicle

    with told_of("--rides"):
        for pattern in globs:
            checked(pattern)
    with told_of("--tyre"):
        campaign = single_vehicle(globs, tyre, Path.cwd())
    store = store or _RIDER_STORE
    return Place(campaign, store, out or _RIDER_REPORT, _options(**{"--store": store}))


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


def of_store(file: Path | None, store: Path | None) -> tuple[Path, UnitSystem]:
    """Find a store to read, and the units to show it in.

    A rider without a campaign file has none to name: then a store in the current folder is meant.
    """
    if file is None and not _CAMPAIGN.exists():
        here = (one for one in (_RIDER_STORE, Path(_STORE)) if one.exists())
        found = store or next(here, None)
        if found is not None:
            return found, "metric"
    place = of_campaign(file, store)
    return place.store, place.campaign.units


def of_kept(file: Path | None, store: Path | None) -> Place:
    """Find a store as ``of_store`` does, with the name of what was ridden."""
    if file is None and not _CAMPAIGN.exists():
        path, _ = of_store(file, store)
        return of_rides(["*"], None, path, None)  # reads no ride: any glob will do
    return of_campaign(file, store)


def _options(**given: Path | None) -> str:
    return "".join(f" {name} {shlex.quote(str(path))}" for name, path in given.items() if path)
