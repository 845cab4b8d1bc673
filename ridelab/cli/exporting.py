"""``ridelab export``: everything a store holds, as files in one folder."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from ridelab.cli.output import print_objects, say, tell
from ridelab.cli.progress import meter
from ridelab.cli.text import counted, printable
from ridelab.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ridelab.cli.place import Place
    from ridelab.report.export import Exported, Part
    from ridelab.report.pictures import Look
    from ridelab.store import Store

_SAID = {
    "relations": "each relation is there as .parquet and .csv, in SI units; see columns.csv",
    "claims": "claims.md is the table of claims to publish",
    "report": "report/index.html is the report",
    "charts": "charts/index.html shows the charts: each as .svg, .png and .csv",
}


def parts_of(named: Sequence[str], *, charts: bool) -> tuple[Part, ...]:
    """Return the parts that are wanted: those named, or all; without charts if so.

    Raises:
        UsageError: there is no such part, or what is named is left out.
    """
    from ridelab.report.export import PARTS

    for one in named:
        if one not in PARTS:
            raise UsageError(f"--part: found {one!r}; accepted: {', '.join(PARTS)}")
    if "charts" in named and not charts:
        raise UsageError("--part charts and --no-charts together; accepted: one of them")
    return tuple(one for one in PARTS if one in (named or PARTS) and (charts or one != "charts"))


def look_of(theme: str, width_px: int) -> Look:
    """Return how charts are drawn.

    Raises:
        UsageError: there is no such theme.
    """
    from ridelab.report.pictures import Look

    if theme not in {"light", "dark"}:
        raise UsageError(f"--theme: found {theme!r}; accepted: light, dark")
    return Look("dark" if theme == "dark" else "light", width_px)


def print_export(
    here: Place, folder: Path, parts: Sequence[Part], look: Look, *, as_json: bool
) -> None:
    """Export the store of a campaign and say what was written.

    Raises:
        UsageError: what stands in the folder is not an export; nothing was written.
        StoreError: there is no store, or it cannot be read.
    """
    from ridelab.cli.stored import open_to_read
    from ridelab.report.export import Wanted, export

    def opened(into: Path, /) -> Store:
        store = open_to_read(here.store, into)
        tell(f"exporting {here.store} to {folder}")
        return store

    wanted = Wanted(here.campaign.name, here.campaign.units, parts, look)
    with meter() as shown:
        done = export(opened, folder, wanted, shown.show)
    if as_json:
        print_objects(asdict(one) for one in done)
    else:
        say(printable(f"{folder}: {_counted(done)}"))
        for part in parts:
            say(f"  {_SAID[part]}")


def _counted(done: Sequence[Exported]) -> str:
    """Return "43 relations, 812345 rows in all; claims; report; 79 charts"."""
    by_part = {one.part: [other for other in done if other.part == one.part] for one in done}
    said = []
    for part, found in by_part.items():
        if part == "relations":
            rows = sum(one.rows or 0 for one in found)
            said.append(f"{counted(len(found), 'relation')}, {counted(rows, 'row')} in all")
        else:
            said.append(counted(len(found), "chart") if part == "charts" else part)
    return "; ".join(said) or "no chart"
