"""Columns of a user's own relation: what the pipeline file says of them is shown and exported."""

from __future__ import annotations

import csv
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
units = "imperial"
[vehicles.heron]
kind = "trike"
tyre = "50-406"
rides = ["rides/*.fit"]
"""
SQL = """
select vehicle, 2.5::double as effort, 10::double as speed_mps, 7 as pieces, 1.5::double as plain
from vehicles
"""
PIPELINE = """
[[stages]]
query = "efforts.sql"
[stages.columns]
vehicle = "whose it is [name]"
effort = "energy of a climb, invented [kJ]"
speed_mps = "speed on it [m/s]"
pieces = "how many [count]"
"""


@pytest.fixture
def described(tmp_path: Path, ridelab: Ridelab) -> Ridelab:
    """The command line beside a store with a relation of the user's own, of one row."""
    (tmp_path / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    (tmp_path / "efforts.sql").write_text(SQL, encoding="utf-8")
    (tmp_path / "mine.toml").write_text(PIPELINE, encoding="utf-8")
    with Store.open(tmp_path / "ridelab.duckdb") as store:
        store.put_campaign(load(tmp_path / "campaign.toml"))
    assert ridelab("run", "mine.toml").code == 0
    return ridelab


def test_units_stand_in_the_header(described: Ridelab) -> None:
    """As stated; a name that says the same unit is converted, a count and what is silent bare."""
    done = described("show", "efforts")
    assert done.code == 0
    *header, _, row = done.out.splitlines()
    assert header == ["vehicle  effort  speed  pieces  plain", "             kJ    mph"]
    assert row.split() == ["heron", "2.5", "22.4", "7", "1.5"]


def test_columns_are_explained_on_demand(described: Ridelab) -> None:
    """Of one's own relations, of those that come along, as a table and as JSON."""
    rows = {
        row["column"]: (row["unit"], row["meaning"])
        for row in json.loads(described("show", "efforts", "--columns", "--json").out)
    }
    assert rows["effort"] == ("kJ", "energy of a climb, invented")
    assert rows["plain"] == ("", "as the query efforts makes it; its unit is what its name says")
    assert "energy of a climb, invented" in described("show", "efforts", "--columns").out
    assert "crank turns per minute" in described("show", "samples", "--columns").out


def test_export_carries_what_was_said(described: Ridelab, tmp_path: Path) -> None:
    """A row of columns.csv."""
    assert described("export", "out").code == 0
    with (tmp_path / "out/columns.csv").open(encoding="utf-8", newline="") as file:
        rows = {(row["relation"], row["column"]): row for row in csv.DictReader(file)}
    effort = rows["efforts", "effort"]
    assert (effort["unit"], effort["meaning"]) == ("kJ", "energy of a climb, invented")


def test_column_that_does_not_exist_is_a_problem(described: Ridelab, tmp_path: Path) -> None:
    """Named with what there is; the rows are there, and the run ends with 3."""
    text = PIPELINE.replace("pieces =", "peices =")
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    done = described("run", "mine.toml")
    assert done.code == 3
    assert (
        "describes a column 'peices' that efforts has not; did you mean 'pieces'? known: effort, "
        "pieces, plain, speed_mps, vehicle"
    ) in done.err
    assert len(json.loads(described("show", "efforts", "--json").out)) == 1


def test_other_words_need_no_other_rows(described: Ridelab, tmp_path: Path) -> None:
    """The query does not run again: what a hand put there stays, under the new words."""
    with Store.open(tmp_path / "ridelab.duckdb") as store:
        store.replace("efforts", store.frame("efforts").with_columns(effort=9.5))
    text = PIPELINE.replace("[kJ]", "[kcal]").replace('pieces = "how many [count]"', "")
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    assert described("run", "mine.toml").code == 0
    [row] = json.loads(described("show", "efforts", "--json").out)
    assert row["effort"] == 9.5
    units = {
        row["column"]: row["unit"]
        for row in json.loads(described("show", "efforts", "--columns", "--json").out)
    }
    assert (units["effort"], units["pieces"]) == ("kcal", "")
