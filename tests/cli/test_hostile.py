"""Names that attack whoever shows them, through the commands: what reaches terminal and files."""

from __future__ import annotations

import csv
import json
import unicodedata
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import duckdb
import pytest
from rich.cells import cell_len

from ridelab.simulate import simulate_ride
from tests.report.hostile import HOSTILE
from tests.simulate.rides import hub_ride

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Ridelab

VEHICLE = """
[vehicles.{name}]
kind = "bicycle"
rollout_m = 2.1
drivetrain = {name}
rides = ["{place}/*.fit"]
[drivetrains.{name}]
description = {name}
stages = [
  {{ name = "chain", driver = [38], driven = [15] }},
  {{ name = "hub", speeds = 14, range = 5.26, lowest = 0.279 }},
]
[[claims]]
id = {name}
drivetrain = {name}
quantity = "range"
value = "526 %"
source = {name}
"""
#: Categories of characters that no terminal shows: controls, formats, surrogates, ends of lines.
STEERING = {"Cc", "Cf", "Cs", "Zl", "Zp"}
#: A file may have any name but one with a slash, and no longer than file systems allow.
FILE_NAMES = [name.replace("/", "|")[:60] + ".fit" for name in HOSTILE]


@pytest.fixture
def campaign(tmp_path: Path) -> Path:
    """A campaign in which everything has a hostile name: one ride, and files that are none."""
    parts = [f"[campaign]\nname = {json.dumps(HOSTILE[0])}\n"]
    for place, name in enumerate(HOSTILE):
        parts.append(VEHICLE.format(name=json.dumps(name), place=place))
        (tmp_path / str(place)).mkdir()
        (tmp_path / str(place) / FILE_NAMES[place]).write_bytes(b"no ride")
    ride = simulate_ride(hub_ride(duration_s=600), 1)
    ride.to_fit(tmp_path / "0" / "ride \x1b[31m.fit", datetime(2031, 5, 4, 8, tzinfo=UTC))
    file = tmp_path / "campaign.toml"
    file.write_text("".join(parts), encoding="utf-8")
    return file


@pytest.mark.usefixtures("campaign")
def test_hostile_names_reach_no_terminal_as_they_are(ridelab: Ridelab) -> None:
    """Whatever is asked: no control character, nothing that turns text around, 80 columns."""
    asked = [
        ("check",),
        ("run", "fleet"),
        *(("show", relation) for relation in ("vehicles", "problems", "verdicts", "rides")),
        ("show", "plan"),
        ("paper", HOSTILE[0]),
        ("export", "out", "--part", "claims", "--part", "charts", "--width-px", "320"),
    ]
    wide = {}
    for command in asked:
        done = ridelab(*command)
        assert done.code in (0, 3), done.err
        said = (done.out + done.err).replace("\n", "")
        steering = [char for char in said if unicodedata.category(char) in STEERING]
        assert steering == [], command
        wide[command] = [line[:60] for line in done.out.split("\n") if cell_len(line) > 80][:3]
    assert not {command: lines for command, lines in wide.items() if lines}


def test_hostile_names_stay_in_the_folder_of_an_export(
    ridelab: Ridelab, campaign: Path, tmp_path: Path
) -> None:
    """Every cell of every relation is harmless; nothing is written anywhere else."""
    ridelab("run", "usage")
    before = {one.name for one in campaign.parent.iterdir()}
    assert ridelab("export", "out", "--no-charts").code == 0
    assert {one.name for one in campaign.parent.iterdir()} == before | {"out"}
    for file in (tmp_path / "out").glob("*.csv"):
        with file.open(encoding="utf-8", newline="") as opened:
            cells = [cell for row in csv.reader(opened) for cell in row]
        risky = [cell for cell in cells if cell[:1] in set("=+-@\t\r\n\0") and not number(cell)]
        assert risky == [], file.name


def test_store_of_a_stranger_is_shown_and_exported_harmlessly(
    ridelab: Ridelab, campaign: Path
) -> None:
    """Relations, columns and cells of any name; and a view that would show the machine is refused.

    Nothing of it reaches the terminal as it is, or leaves the folder of the export.
    """
    ridelab("run", "usage")
    store = campaign.parent / "ridelab.duckdb"
    names = [name for name in HOSTILE if "\0" not in name]
    with duckdb.connect(store) as connection:
        for name in names:
            quoted = name.replace('"', '""')
            connection.execute(f'create table "{quoted}" as select $1 as "{quoted}"', [name])
    before = {one.name for one in campaign.parent.iterdir()}
    for command in (
        *(("show", name) for name in names),
        *(("show", name, "--columns") for name in names),
        ("query", "select table_name, column_name from duckdb_columns() where not internal"),
        ("export", "out", "--part", "relations"),
    ):
        done = ridelab(*command)
        assert (done.code, "Traceback" in done.err) == (0, False), done.err
        said = (done.out + done.err).replace("\n", "")
        assert not [char for char in said if unicodedata.category(char) in STEERING], command
    assert {one.name for one in campaign.parent.iterdir()} == before | {"out"}
    with duckdb.connect(store) as connection:
        connection.execute("create view machine as select * from duckdb_settings()")
    for command in (
        ("show", "rides"),
        ("query", "from machine"),
        ("export", "on"),
        ("run", "usage"),
    ):
        done = ridelab(*command)
        assert (done.code, done.out) == (1, "")
        assert "holds the view machine that ridelab does not make" in done.err
    assert not (campaign.parent / "on").exists()


def number(cell: str) -> bool:
    """Whether a spreadsheet takes a cell for a number, which it may begin with a sign."""
    try:
        float(cell)
    except ValueError:
        return cell == ""
    return True
