"""Arguments and options that several commands share, defined once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

CampaignFile = Annotated[
    Path | None,
    typer.Option(
        "--campaign", "-c", help="The campaign file. [default: campaign.toml here]", metavar="FILE"
    ),
]
StoreFile = Annotated[
    Path | None,
    typer.Option(
        "--store", help="The store. [default: ridelab.duckdb beside the campaign]", metavar="FILE"
    ),
]
ReportFolder = Annotated[
    Path | None,
    typer.Option(
        "--out", help="Folder for the report. [default: report beside the campaign]", metavar="DIR"
    ),
]
Globs = Annotated[
    list[str] | None,
    typer.Option(
        "--rides", help="Ride files, without a campaign: one glob, or several.", metavar="GLOB"
    ),
]
TyreDesignation = Annotated[
    str | None,
    typer.Option("--tyre", help="Tyre of the driven wheel, such as 47-622.", metavar="ISO5775"),
]
VehicleName = Annotated[
    str | None, typer.Option("--vehicle", help="This vehicle only.", metavar="VEHICLE")
]
Workers = Annotated[
    int | None,
    typer.Option(
        "--workers", min=1, help="Processes to work in. [default: one a core]", metavar="N"
    ),
]
Scheduler = Annotated[
    str | None,
    typer.Option(
        "--scheduler",
        help="Work on a Dask cluster instead, such as tcp://host:8786.",
        metavar="ADDRESS",
    ),
]
Lake = Annotated[
    str | None,
    typer.Option(
        "--lake", help="Where a cluster leaves rides as Parquet: a folder, or s3://…", metavar="URL"
    ),
]
LogJson = Annotated[
    bool, typer.Option("--log-json", help="Tell on stderr what happens, a JSON object a line.")
]
AsJson = Annotated[
    bool, typer.Option("--json", help="A JSON array, one object a row, in SI units.")
]
AsCsv = Annotated[bool, typer.Option("--csv", help="CSV with a header row, in SI units.")]
Limit = Annotated[
    int, typer.Option("--limit", min=0, help="Rows of a table for people; 0 for all.")
]
DEFAULT_LIMIT = 100
