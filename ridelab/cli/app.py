"""The commands, as ``ridelab --help`` lists them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridelab.cli import options
from ridelab.cli.exits import EPILOG

if TYPE_CHECKING:
    from ridelab.cli.session import Session

app = typer.Typer(
    help="Measure the gear ladder of a cycle from its ride files.",
    epilog=EPILOG,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _print_version(wanted: bool) -> None:
    if wanted:
        from ridelab import __version__

        typer.echo(f"ridelab {__version__}")
        raise typer.Exit


@app.callback()
def everywhere(
    context: typer.Context,
    debug: Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")] = False,
    version: Annotated[  # noqa: ARG001 - its callback does the work
        bool,
        typer.Option(
            "--version", callback=_print_version, is_eager=True, help="Show the version and leave."
        ),
    ] = False,
) -> None:
    """Note what holds for every command."""
    session: Session = context.obj
    session.debug = debug


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(metavar="DIR")] = Path("demo"),
    as_json: options.AsJson = False,
) -> int:
    """Write a campaign of invented rides and run it."""
    from ridelab.cli.running import run_demo

    return run_demo(folder, as_json=as_json)


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR")],
    as_json: options.AsJson = False,
) -> None:
    """Write a commented starter campaign."""
    from ridelab.campaign import write_starter
    from ridelab.cli.output import print_objects, say

    path = write_starter(folder)
    if as_json:
        print_objects([{"campaign": path}])
    else:
        say(f"{path} written; edit it, then: ridelab check {path}")


@app.command()
def check(
    campaign: Annotated[Path, typer.Argument(metavar="FILE")] = Path("campaign.toml"),
    as_json: options.AsJson = False,
) -> int:
    """Check a campaign file, and its claims on paper; read no ride."""
    from ridelab.cli import place
    from ridelab.cli.checked import print_check

    return print_check(place.of_campaign(campaign).campaign, as_json=as_json)


@app.command()
def run(
    pipeline: Annotated[
        str, typer.Argument(metavar="PIPELINE", help="fleet, claims, usage, or a path.")
    ],
    more: Annotated[
        list[str] | None,
        typer.Argument(metavar="FILE", help="More ride files, where the shell expands --rides."),
    ] = None,
    campaign: options.CampaignFile = None,
    store: options.StoreFile = None,
    out: options.ReportFolder = None,
    rides: options.Globs = None,
    tyre: options.TyreDesignation = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Print what would be done, and do nothing.")
    ] = False,
    as_json: options.AsJson = False,
    workers: options.Workers = None,
    scheduler: options.Scheduler = None,
    lake: options.Lake = None,
    log_json: options.LogJson = False,
) -> int:
    """Run a pipeline: from ride files to the report."""
    from ridelab.cli import events, place
    from ridelab.cli.running import print_plan, run_and_answer, work
    from ridelab.errors import UsageError

    events.want(wanted=log_json)
    if more and not rides:
        raise UsageError(f"found {more[0]!r} after the pipeline; ride files go with --rides")
    # A shell that expands --rides *.fit hands all files but the first over as arguments.
    here = place.for_run(campaign, [*(rides or []), *(more or [])], tyre, store, out)
    if dry_run:
        return print_plan(pipeline, here, as_json=as_json)
    how = work(workers, scheduler, lake)
    return run_and_answer(pipeline, here, how, as_json=as_json)


@app.command()
def pipeline(
    name: Annotated[
        str | None, typer.Argument(metavar="[NAME]", help="fleet, claims, usage.")
    ] = None,
    as_json: options.AsJson = False,
) -> None:
    """Print a pipeline file to copy and change; without a name, which there are."""
    from ridelab.cli.pipelines import print_pipeline, print_pipelines

    if name is None:
        print_pipelines(as_json=as_json)
    else:
        print_pipeline(name, as_json=as_json)


@app.command()
def show(
    relation: Annotated[str, typer.Argument(metavar="RELATION")],
    campaign: options.CampaignFile = None,
    store: options.StoreFile = None,
    as_json: options.AsJson = False,
    as_csv: options.AsCsv = False,
    as_markdown: Annotated[
        bool, typer.Option("--markdown", help="Of verdicts: the table of claims to publish.")
    ] = False,
    columns: Annotated[
        bool, typer.Option("--columns", help="What its columns mean, instead of its rows.")
    ] = False,
    limit: options.Limit = options.DEFAULT_LIMIT,
) -> None:
    """Print a relation of the store."""
    from ridelab.cli import place
    from ridelab.cli.output import form
    from ridelab.cli.place import of_store
    from ridelab.cli.stored import print_claims_document, print_columns, print_relation
    from ridelab.errors import UsageError

    how = form(as_json=as_json, as_csv=as_csv)
    if as_markdown:
        if relation != "verdicts" or how != "table" or columns:
            raise UsageError("--markdown goes with `show verdicts`, without --json and --csv")
        print_claims_document(place.of_kept(campaign, store))
        return
    where = of_store(campaign, store)
    if columns:
        print_columns(where, relation, how)
    else:
        print_relation(where, relation, how, limit)


@app.command()
def paper(
    drivetrain: Annotated[str, typer.Argument(metavar="DRIVETRAIN")],
    campaign: options.CampaignFile = None,
    beside: Annotated[
        str | None,
        typer.Option(
            "--beside", help="Another drivetrain, to be compared with.", metavar="DRIVETRAIN"
        ),
    ] = None,
    vehicle: options.VehicleName = None,
    tyre: options.TyreDesignation = None,
    cadence: Annotated[
        int | None,
        typer.Option("--cadence", min=10, max=300, help="Speak of this cadence.", metavar="RPM"),
    ] = None,
    merge_within: Annotated[
        str | None,
        typer.Option(
            "--merge-within", help="Combinations this close share a gear.", metavar="PERCENT"
        ),
    ] = None,
    part: Annotated[
        str | None,
        typer.Option("--part", help="gears, stages or combinations alone.", metavar="PART"),
    ] = None,
    torque: Annotated[
        bool, typer.Option("--torque", help="The torque at the input of each stage instead.")
    ] = False,
    as_json: options.AsJson = False,
    as_csv: options.AsCsv = False,
) -> None:
    """Print a published ladder, or two side by side; read no ride."""
    from ridelab.cli import place
    from ridelab.cli.output import form
    from ridelab.cli.paper import asked, print_paper
    from ridelab.cli.paper_beside import print_beside
    from ridelab.cli.torque import print_torque
    from ridelab.errors import UsageError

    if torque and (beside or part or tyre or cadence or merge_within):
        raise UsageError("--torque goes with --campaign, --vehicle, --json and --csv alone")
    wanted = asked(
        vehicle=vehicle, tyre=tyre, cadence_rpm=cadence, part=part, merge_within=merge_within
    )
    how, here = form(as_json=as_json, as_csv=as_csv), place.of_campaign(campaign)
    if torque:
        print_torque(here.campaign, drivetrain, vehicle, how)
    elif beside is None:
        print_paper(here.campaign, drivetrain, wanted, how)
    else:
        print_beside(here.campaign, drivetrain, beside, wanted, how)


@app.command()
def replay(
    vehicle: Annotated[
        str, typer.Option("--vehicle", help="Whose rides are replayed.", metavar="VEHICLE")
    ],
    onto: Annotated[
        list[str],
        typer.Option("--onto", help="A drivetrain; several if repeated.", metavar="DRIVETRAIN"),
    ],
    campaign: options.CampaignFile = None,
    store: options.StoreFile = None,
    low_rpm: Annotated[
        float | None,
        typer.Option("--low-rpm", help="Least comfortable cadence.", metavar="RPM"),
    ] = None,
    high_rpm: Annotated[
        float | None,
        typer.Option("--high-rpm", help="Greatest comfortable cadence.", metavar="RPM"),
    ] = None,
    tyre: Annotated[
        str | None,
        typer.Option("--tyre", help="On another wheel than the vehicle's own.", metavar="ISO5775"),
    ] = None,
    constant_effort: Annotated[
        bool,
        typer.Option("--constant-effort", help="Keep the effort as ridden, not the speed."),
    ] = False,
    part: Annotated[
        str | None,
        typer.Option("--part", help="replays, differences or gears alone.", metavar="PART"),
    ] = None,
    as_json: options.AsJson = False,
    as_csv: options.AsCsv = False,
) -> None:
    """Ride the same road on another drivetrain; needs a store."""
    from ridelab.cli import place
    from ridelab.cli.output import form
    from ridelab.cli.replay import Wanted, print_replay

    wanted = Wanted(vehicle, tuple(onto), low_rpm, high_rpm, tyre, constant_effort, part)
    how = form(as_json=as_json, as_csv=as_csv)
    print_replay(place.of_campaign(campaign, store), wanted, how)


@app.command()
def query(
    sql: Annotated[str, typer.Argument(metavar="SQL")],
    campaign: options.CampaignFile = None,
    store: options.StoreFile = None,
    as_json: options.AsJson = False,
    as_csv: options.AsCsv = False,
    limit: options.Limit = options.DEFAULT_LIMIT,
) -> None:
    """Ask the store in SQL; it cannot write."""
    from ridelab.cli.output import form
    from ridelab.cli.place import of_store
    from ridelab.cli.stored import print_answer

    print_answer(of_store(campaign, store), sql, form(as_json=as_json, as_csv=as_csv), limit)


@app.command()
def export(
    folder: Annotated[Path, typer.Argument(metavar="DIR")],
    campaign: options.CampaignFile = None,
    store: options.StoreFile = None,
    part: Annotated[
        list[str] | None,
        typer.Option(
            "--part",
            help="relations, claims, report or charts alone; several if repeated.",
            metavar="PART",
        ),
    ] = None,
    no_charts: Annotated[
        bool, typer.Option("--no-charts", help="All but the charts, which take longest.")
    ] = False,
    theme: Annotated[
        str, typer.Option("--theme", help="Of the charts: light or dark.", metavar="THEME")
    ] = "light",
    width_px: Annotated[
        int,
        typer.Option("--width-px", min=320, max=4000, help="Of the charts; PNG has twice as many."),
    ] = 680,
    as_json: options.AsJson = False,
) -> None:
    """Write every relation as Parquet and CSV, the claims, the report and its charts."""
    from ridelab.cli import place
    from ridelab.cli.exporting import look_of, parts_of, print_export

    parts, look = parts_of(part or [], charts=not no_charts), look_of(theme, width_px)
    print_export(place.of_kept(campaign, store), folder, parts, look, as_json=as_json)


@app.command()
def forget(
    rides: Annotated[
        list[str] | None,
        typer.Argument(metavar="[RIDE]...", help="Files, globs, folders, archives, or rides."),
    ] = None,
    campaign: options.CampaignFile = None,
    store: options.StoreFile = None,
    vehicle: options.VehicleName = None,
    gone: Annotated[bool, typer.Option("--gone", help="Rides of which no file is left.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Print what would be forgotten, and do nothing.")
    ] = False,
    as_json: options.AsJson = False,
) -> int:
    """Take rides out of the store: their files are left alone."""
    from ridelab.cli import place
    from ridelab.cli.forgetting import forget as forgotten
    from ridelab.pipeline import Wanted

    wanted = Wanted(tuple(rides or ()), vehicle, gone)
    here = place.of_kept(campaign, store)
    return forgotten(here, wanted, yes=yes, dry_run=dry_run, as_json=as_json)
