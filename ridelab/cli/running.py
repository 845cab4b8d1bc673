"""``ridelab run`` and ``ridelab demo``: runs a pipeline and prints what it found."""

from __future__ import annotations

import os
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.cli import events, place
from ridelab.cli.exits import DONE, SET_ASIDE
from ridelab.cli.output import print_objects, say, say_prose, tell, tell_problem
from ridelab.cli.progress import meter
from ridelab.cli.summary import files_line, time_line
from ridelab.cli.text import counted, printable
from ridelab.errors import UsageError
from ridelab.interruption import heed

if TYPE_CHECKING:
    from ridelab.cli.place import Place
    from ridelab.cli.progress import Meter
    from ridelab.pipeline import Outcome, Pipeline, PlannedStage, Progress
    from ridelab.store import Store

_REASONS_SHOWN = 5
_ABOUT_FILES = ("read", "campaign")  # stages whose errors cost a file


@dataclass(frozen=True)
class Work:
    """Who does the work of a run: processes here, one a core if silent, or a cluster."""

    workers: int | None = None
    scheduler: str | None = None
    lake: str | None = None


def work(workers: int | None, scheduler: str | None, lake: str | None) -> Work:
    """Choose between the two.

    Raises:
        UsageError: both at once.
    """
    if workers and scheduler:
        raise UsageError("--workers and --scheduler together; a cluster has workers of its own")
    return Work(workers, scheduler, lake)


def run_and_answer(pipeline: str, here: Place, how: Work = Work(), *, as_json: bool = False) -> int:
    """Run a pipeline, print its answer and return the exit code.

    ``as_json``: print what the run came to, as one object, instead of the answer.

    Raises:
        CampaignError: no vehicle, or no ride file for any; the store is not touched.
        UsageError: the report cannot be where it shall be; the store is not touched.
    """
    chosen = _ready(pipeline, here)
    if any(step.name == "report" for step in chosen.steps):
        _must_take_files(here.report)
    with meter() as shown:
        outcome = _run(chosen, here, shown, how)
    if as_json:
        _print_outcome(outcome, here, outcome.exit_code)
    else:
        _print(outcome, here)
    return outcome.exit_code


def run_demo(folder: Path, *, as_json: bool = False) -> int:
    """Write the demo campaign and run ``fleet`` over it.

    It holds files that no ride can be made of; that they are set aside is part of the show, and
    no reason to end with another exit code than 0. ``as_json``: as of ``run_and_answer``.
    """
    from ridelab.pipeline import load
    from ridelab.simulate.demo import write_demo

    with meter() as shown:
        shown.show("ride the demo's rides", 0, None)
        here = place.of_campaign(write_demo(folder))
        outcome = _run(load("fleet"), here, shown)
    code = SET_ASIDE if outcome.failed else DONE
    if as_json:
        _print_outcome(outcome, here, code)
        return code
    say(printable(here.campaign.name))
    say("The vehicles, their rides and the claims are invented.")
    say()
    _print(outcome, here)
    say()
    say("the same rides, for a reviewer and for a rider:")
    for pipeline in ("claims", "usage"):
        say(f"  ridelab run {pipeline}{here.again}")
    return code


def print_plan(pipeline: str, here: Place, *, as_json: bool = False) -> int:
    """Print what a run would do; no ride is read and nothing written.

    ``as_json``: one object a stage.

    Raises:
        CampaignError: as of ``run_and_answer``.
    """
    from ridelab.cli.stored import open_to_read
    from ridelab.pipeline import plan

    chosen = _ready(pipeline, here)
    if here.store.exists():
        with open_to_read(here.store) as store:
            planned = plan(chosen, here.campaign, store, here.report)
    else:
        planned = plan(chosen, here.campaign, None, here.report)
    if as_json:
        print_objects([asdict(stage) for stage in planned.stages])
        return DONE
    say(f"{planned.pipeline}: {chosen.description}".rstrip(": "))
    for number, stage in enumerate(planned.stages, 1):
        _print_planned(number, stage)
    if any(stage.todo for stage in planned.stages if stage.stage == "read"):
        say_prose("What these files hold is known once they are read: it may add to later stages.")
    return DONE


def _print_outcome(outcome: Outcome, here: Place, code: int) -> None:
    """Print what a run came to as one object, with where it was run."""
    where = {"campaign": here.campaign.file, "store": here.store}
    print_objects([where | asdict(outcome) | {"exit_code": code}])


def _ready(pipeline: str, here: Place) -> Pipeline:
    """Load a pipeline; if it reads rides, warn of globs in vain and refuse to run over nothing."""
    from ridelab.campaign import find_rides, require_rides
    from ridelab.pipeline import load

    chosen = load(pipeline)
    _must_be_a_folder(here.report)
    if any(step.name == "read" for step in chosen.steps):
        found = find_rides(here.campaign)
        for problem in found.problems:
            # What is set aside is told with its reason at the end of the run, if there is one.
            if problem.severity != "error" or not found.files:
                tell_problem(problem)
        require_rides(here.campaign, found)
    return chosen


def _must_be_a_folder(report: Path) -> None:
    """Refuse a place for the report where no folder can be, before anything is read."""
    there = next((path for path in (report, *report.parents) if path.exists()), report)
    if there.exists() and not there.is_dir():
        accepted = "a folder, made if need be; --out names another"
        raise UsageError(f"report in {report}: {there} is a file; accepted: {accepted}")


def _must_take_files(report: Path) -> None:
    """Refuse a place for the report that cannot be written, before hours are spent on it."""
    there = next(path for path in (report, *report.absolute().parents) if path.exists())
    if not os.access(there, os.W_OK | os.X_OK):
        found = f"report in {report}: {there} cannot be written"
        raise UsageError(f"{found}; accepted: a folder that can; --out names another")


def _run(pipeline: Pipeline, here: Place, shown: Meter, how: Work = Work()) -> Outcome:
    from ridelab.pipeline import run, usual_workers

    def listen(progress: Progress, /) -> None:
        heed()
        shown.show(progress.stage, progress.done, progress.total)

    return run(
        pipeline,
        here.campaign,
        here.store,
        here.report,
        listen,
        workers=how.workers or usual_workers(),
        scheduler=how.scheduler,
        lake=how.lake,
        log=events.write,
    )


def _print(outcome: Outcome, here: Place) -> None:
    """Print the answer to stdout, and the reasons of files set aside to stderr."""
    from ridelab.cli.answers import print_answers
    from ridelab.cli.stored import open_to_read

    with open_to_read(here.store) as store:
        print_answers(store, here, outcome)
        say(files_line(outcome))
        say_prose(time_line(outcome))
        if outcome.report:
            say(f"report: {_near(outcome.report)}")
        if outcome.exit_code == SET_ASIDE:
            _tell_reasons(store, outcome, here.again)


def _tell_reasons(store: Store, outcome: Outcome, again: str) -> None:
    """Say why files were set aside and what else went wrong in this run, the first few of each."""
    ran = {*outcome.seconds, *(_ABOUT_FILES if "read" in outcome.seconds else ())}
    errors = [
        problem
        for problem in store.frame("problems").to_dicts()
        if problem["stage"].removeprefix("query ") in ran
        and (problem["severity"] == "error" or problem["path"] in outcome.failed)
    ]
    for problem in errors[:_REASONS_SHOWN]:
        what = "set aside" if problem["stage"] in _ABOUT_FILES else "failed"
        tell(f"{what}: {printable(problem['path'])}: {printable(problem['message'])}")
    if len(errors) > _REASONS_SHOWN:
        tell(
            f"… and {counted(len(errors) - _REASONS_SHOWN, 'other')}: ridelab show problems{again}"
        )


def _print_planned(number: int, stage: PlannedStage) -> None:
    work = f"{len(stage.todo)} to do, {stage.kept} unchanged"
    if stage.rests:
        work = "rests, as nothing that it reads has changed"
    say_prose(f"{number}. {stage.stage}: {stage.does} ({work})")
    if stage.todo == (stage.stage,):
        return
    for item in stage.todo[:_REASONS_SHOWN]:
        say(f"   {printable(item)}")
    if len(stage.todo) > _REASONS_SHOWN:
        say(f"   … and {counted(len(stage.todo) - _REASONS_SHOWN, 'other')}")


def _near(path: Path) -> Path:
    """Return a path as a person here would write it."""
    path = path.resolve()
    return path.relative_to(Path.cwd()) if path.is_relative_to(Path.cwd()) else path
