"""``ridelab export``: everything a store holds, as files in one folder."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from ridelab.cli.output import emit, say, tell
from ridelab.cli.text import counted, printable
from ridelab.errors import StoreError

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.cli.place import Place
    from ridelab.store import Store


def print_export(here: Place, folder: Path, *, as_json: bool) -> None:
    """Export the store of a campaign and say what was written.

    Raises:
        UsageError: what stands in the folder is not an export; nothing was written.
        StoreError: there is no store, or it cannot be read.
    """
    import polars as pl

    from ridelab.report.export import Exported, export
    from ridelab.store import Store

    if not here.store.exists():
        raise StoreError(f"{here.store}: no such store yet; `ridelab run` makes it")

    def opened(into: Path, /) -> Store:
        return Store.open(here.store, read_only=True, writes_into=into)

    tell(f"exporting {here.store} to {folder}")
    done: list[Exported] = export(opened, folder, here.campaign.name, here.campaign.units)
    if as_json:
        emit(pl.DataFrame([asdict(one) for one in done]), "json")
        return
    rows = sum(one.rows for one in done)
    say(printable(f"{folder}: {counted(len(done), 'relation')}, {counted(rows, 'row')} in all"))
    say("  each as .parquet, and as .csv for spreadsheets; SI units, see columns.csv")
    say("  claims.md is the table of claims to publish; report/index.html is the report")
