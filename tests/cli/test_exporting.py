"""``ridelab export`` and ``show verdicts --markdown`` as a person types them."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import load
from ridelab.store import Store

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Ridelab

CAMPAIGN = """
[campaign]
name = "Harbour (invented)"
[vehicles.heron]
kind = "trike"
tyre = "50-406"
rides = ["rides/*.fit"]
"""


@pytest.fixture
def campaign(tmp_path: Path) -> Path:
    """A campaign with a store in which nothing was ridden."""
    file = tmp_path / "campaign.toml"
    file.write_text(CAMPAIGN, encoding="utf-8")
    with Store.open(tmp_path / "ridelab.duckdb") as store:
        store.put_campaign(load(file))
    return file


@pytest.mark.usefixtures("campaign")
def test_export_says_what_it_wrote(ridelab: Ridelab, tmp_path: Path) -> None:
    """How much and where; and again in its place."""
    for _ in range(2):
        done = ridelab("export", "out")
        assert done.code == 0
        assert done.out.startswith("out: ")
    assert (tmp_path / "out/stated_vehicles.parquet").exists()
    assert (tmp_path / "out/report/index.html").exists()


@pytest.mark.usefixtures("campaign")
def test_export_as_json_lists_what_was_written(ridelab: Ridelab, tmp_path: Path) -> None:
    """One object a relation, document or chart, with its files in the folder."""
    written = json.loads(ridelab("export", "out", "--json").out)
    rows = {(one["part"], one["name"]): one for one in written}
    assert rows["relations", "stated_vehicles"] == {
        "part": "relations",
        "name": "stated_vehicles",
        "rows": 1,
        "files": ["stated_vehicles.parquet", "stated_vehicles.csv"],
    }
    assert rows["claims", "claims"]["rows"] is None
    assert all((tmp_path / "out" / file).exists() for one in written for file in one["files"])


@pytest.mark.usefixtures("campaign")
def test_pictures_can_be_left_out_or_had_alone(ridelab: Ridelab, tmp_path: Path) -> None:
    """And a part by its name; what is said names what is there."""
    done = ridelab("export", "out", "--no-charts")
    assert "charts" not in done.out
    assert (tmp_path / "out/vehicles.csv").exists()
    assert not (tmp_path / "out/charts").exists()
    done = ridelab("export", "out", "--part", "charts", "--theme", "dark", "--width-px", "400")
    assert done.out.splitlines() == [
        "out: no chart",
        "  charts/index.html shows the charts: each as .svg, .png and .csv",
    ]
    assert sorted(one.name for one in (tmp_path / "out").iterdir()) == ["charts", "export.json"]


@pytest.mark.usefixtures("campaign")
@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--part", "chart"), "--part: found 'chart'; accepted: relations, claims, report, charts"),
        (("--part", "charts", "--no-charts"), "--part charts and --no-charts together"),
        (("--theme", "paper"), "--theme: found 'paper'; accepted: light, dark"),
        (("--width-px", "3"), "320"),
    ],
)
def test_what_no_export_has_is_refused(
    ridelab: Ridelab, tmp_path: Path, asked: tuple[str, ...], said: str
) -> None:
    """With what would be accepted, and without a folder."""
    done = ridelab("export", "out", *asked)
    assert done.code == 2
    assert said in done.err
    assert not (tmp_path / "out").exists()


def test_export_without_a_store_says_how_to_make_one(ridelab: Ridelab, tmp_path: Path) -> None:
    """And makes no folder."""
    (tmp_path / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    done = ridelab("export", "out")
    assert done.code == 1
    assert "`ridelab run` makes it" in done.err
    assert not (tmp_path / "out").exists()


@pytest.mark.usefixtures("campaign")
def test_export_into_a_folder_of_something_else_is_refused(ridelab: Ridelab) -> None:
    """The campaign's own folder, say."""
    done = ridelab("export", ".")
    assert done.code == 2
    assert "no export; accepted: a folder that is empty" in done.err


@pytest.mark.usefixtures("campaign")
def test_claims_to_publish_are_printed(ridelab: Ridelab) -> None:
    """The document of the export."""
    done = ridelab("show", "verdicts", "--markdown")
    assert (done.code, done.out) == (
        0,
        "# Harbour (invented): claims and what rides say of them\n\nNo claim was judged.\n",
    )


@pytest.mark.usefixtures("campaign")
@pytest.mark.parametrize("asked", [("rides",), ("verdicts", "--json")])
def test_markdown_is_for_verdicts_alone(ridelab: Ridelab, asked: tuple[str, ...]) -> None:
    """Said so, with the exit code of wrong usage."""
    done = ridelab("show", *asked, "--markdown")
    assert done.code == 2
    assert "--markdown goes with `show verdicts`" in done.err


def test_rider_without_a_campaign_exports_as_well(ridelab: Ridelab, tmp_path: Path) -> None:
    """The store that `run --rides` keeps here is meant."""
    with Store.open(tmp_path / "my-rides.duckdb"):
        pass
    assert ridelab("export", "out").code == 0
    assert "my rides" in (tmp_path / "out/claims.md").read_text(encoding="utf-8")


def test_runs_and_their_plans_come_as_json(ridelab: Ridelab, tmp_path: Path) -> None:
    """One object a stage of what would be done, and one of what was."""
    (tmp_path / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    (tmp_path / "rides").mkdir()
    (tmp_path / "rides" / "none.fit").write_bytes(b"no ride")
    planned = json.loads(ridelab("run", "claims", "--dry-run", "--json").out)
    assert planned[0]["stage"] == "read"
    done = ridelab("run", "claims", "--json")
    (outcome,) = json.loads(done.out)
    assert (outcome["set_aside"], outcome["exit_code"], done.code) == (1, 3, 3)
    assert outcome["report"].endswith("index.html")
