"""Every command answers programs, too: ``--json`` is one array of objects, and all of stdout."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest
import typer

from ridelab.cli.app import app
from ridelab.cli.output import print_objects
from ridelab.simulate import simulate_ride
from tests.cli.test_replay import CAMPAIGN, PIPELINE
from tests.simulate.rides import hub_ride

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Ridelab

CLAIM = """
[[claims]]
drivetrain = "fourteen"
quantity = "range"
value = "526 %"
"""
#: Ways to ask each command; a command that is missing here fails a test.
ASKED = {
    "demo": [["demo", "shop"]],
    "new": [["new", "mine"]],
    "check": [["check"]],
    "run": [["run", "quick.toml"], ["run", "quick.toml", "--dry-run"]],
    "pipeline": [["pipeline"], ["pipeline", "usage"]],
    "show": [["show", "rides"], ["show", "plan"], ["show", "verdicts"]],
    "paper": [
        ["paper", "fourteen"],
        ["paper", "fourteen", "--beside", "three"],
        ["paper", "fourteen", "--torque"],
        *(["paper", "fourteen", "--part", part] for part in ("gears", "stages", "combinations")),
    ],
    "replay": [["replay", "--vehicle", "heron", "--onto", "three"]],
    "query": [["query", "select ride, 'x'::blob, 0/0::double from rides"]],
    "export": [["export", "out"]],
    "forget": [["forget", "1.fit", "--dry-run"]],
}


def commands() -> dict[str, typer.core.TyperCommand]:
    """All commands, by name."""
    return dict(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a campaign, a store of one ride, and a pipeline."""
    from ridelab.campaign import load
    from ridelab.pipeline import load as load_pipeline
    from ridelab.pipeline import run

    folder = tmp_path_factory.mktemp("json")
    started = datetime(2031, 5, 4, 8, tzinfo=UTC)
    simulate_ride(hub_ride(duration_s=600), 1).to_fit(folder / "1.fit", started)
    (folder / "campaign.toml").write_text(CAMPAIGN + CLAIM, encoding="utf-8")
    stages = PIPELINE + '[[stages]]\nrun = "verdicts"\n'
    (folder / "quick.toml").write_text(stages, encoding="utf-8")
    campaign, pipeline = load(folder / "campaign.toml"), load_pipeline(folder / "quick.toml")
    run(pipeline, campaign, folder / "ridelab.duckdb", folder / "report")
    return folder


def test_every_command_is_asked_here() -> None:
    """A new command needs a case."""
    assert list(ASKED) == list(commands())


@pytest.mark.parametrize("name", ASKED)
def test_every_command_has_the_option(name: str) -> None:
    """One spelling everywhere."""
    assert "--json" in {opt for one in commands()[name].params for opt in one.opts}


@pytest.mark.parametrize(
    "asked",
    [asked for name, ways in ASKED.items() if name != "demo" for asked in ways],
    ids=" ".join,
)
def test_stdout_is_one_array_of_objects(
    stored: Path, ridelab: Ridelab, monkeypatch: pytest.MonkeyPatch, asked: list[str]
) -> None:
    """It parses as strict JSON, has rows, and every row is an object, one a line."""
    monkeypatch.chdir(stored)
    done = ridelab(*asked, "--json")
    assert done.code in (0, 3), done.err
    found = json.loads(done.out, parse_constant=pytest.fail)
    assert isinstance(found, list)
    assert bool(found) == (asked != ["show", "plan"])  # the one claim is decided
    assert all(isinstance(row, dict) for row in found)
    assert len(done.out.splitlines()) == (len(found) + 2 if found else 1)


def test_demo_says_what_it_wrote_and_what_the_run_came_to(
    ridelab: Ridelab, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Campaign, store and report, the counts of the run, the exit code; here a smaller demo."""

    def small(folder: Path) -> Path:
        folder.mkdir()
        started = datetime(2031, 5, 4, 8, tzinfo=UTC)
        simulate_ride(hub_ride(duration_s=600), 1).to_fit(folder / "1.fit", started)
        (folder / "none.fit").write_bytes(b"no ride")
        (folder / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
        return folder / "campaign.toml"

    monkeypatch.setattr("ridelab.simulate.demo.write_demo", small)
    done = ridelab("demo", "shop", "--json")
    [row] = json.loads(done.out, parse_constant=pytest.fail)
    assert done.code == row["exit_code"] == 0
    assert (row["read"], row["set_aside"], row["measured"]) == (1, 1, ["heron"])
    assert row["report"].endswith("index.html")
    assert row["campaign"].endswith("shop/campaign.toml")
    assert (tmp_path / "shop" / "ridelab.duckdb").samefile(row["store"])


def test_new_names_the_file_that_it_wrote(ridelab: Ridelab, tmp_path: Path) -> None:
    """And nothing else stands on stdout."""
    [row] = json.loads(ridelab("new", "mine", "--json").out)
    assert (tmp_path / row["campaign"]).is_file()


def test_pipelines_tell_their_stages(ridelab: Ridelab) -> None:
    """Of all a list of names, of one its stages with their settings."""
    every = {
        row["pipeline"]: row["stages"] for row in json.loads(ridelab("pipeline", "--json").out)
    }
    usage = json.loads(ridelab("pipeline", "usage", "--json").out)
    assert [row["stage"] for row in usage] == every["usage"]
    shifts: dict[str, Any] = next(row for row in usage if row["stage"] == "shifts")
    assert (shifts["does"], shifts["settings"]) == ("query", {"per_ride": True})


def test_error_leaves_stdout_empty(ridelab: Ridelab) -> None:
    """What parses stdout finds nothing rather than half an answer."""
    done = ridelab("pipeline", "flet", "--json")
    assert (done.code, done.out) == (2, "")


def test_what_is_no_number_is_null(capsys: pytest.CaptureFixture[str]) -> None:
    """JSON knows neither NaN nor infinity."""
    print_objects([{"a": float("nan"), "b": [1.5, float("inf")], "c": {"d": float("-inf")}}])
    [row] = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
    assert row == {"a": None, "b": [1.5, None], "c": {"d": None}}
