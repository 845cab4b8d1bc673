"""``paper``: a published ladder, before any ride."""

from __future__ import annotations

import csv
import io
import json
import re
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Ridelab

CAMPAIGN = """
[campaign]
name = "Mill lane, invented"

[vehicles.heron]
kind = "trike"
rollout_m = 1.5
drivetrain = "nine"
rides = ["*.fit"]

[vehicles.egret]
kind = "bicycle"
tyre = "47-622"
drivetrain = "nine"
rides = ["rides/*.fit"]

[drivetrains.nine]
stages = [{ name = "gearbox", ratios = [0.5, 1.0, 2.0] }]

[drivetrains.free]
stages = [{ name = "hub", continuous = [0.5, 1.9] }]

[drivetrains.holed]
stages = [
  { name = "chain", driver = [20, 80], driven = [20] },
  { name = "hub", continuous = [0.5, 1.9] },
]

[drivetrains.double]
stages = [{ name = "chain", driver = [34, 38], driven = [18, 16] }]

[drivetrains.twice]
stages = [{ name = "crank", ratios = [1.0, 2.0] }, { name = "hub", ratios = [1.0, 2.0, 4.1] }]

[drivetrains.planets]
stages = [{ name = "hub", epicyclic = { sun = 20, ring = 62, planets = 3 } }]
"""


@pytest.fixture
def campaign(tmp_path: Path) -> Path:
    """Two vehicles with one drivetrain, one drivetrain that nobody has."""
    path = tmp_path / "campaign.toml"
    path.write_text(CAMPAIGN, encoding="utf-8")
    return path


@pytest.mark.usefixtures("campaign")
def test_paper_prints_a_ladder_for_each_vehicle(ridelab: Ridelab) -> None:
    """Gear 3 at 80 rpm: 2 × 1.5 m × 80 × 60 / 1000 = 14.4 km/h, by hand."""
    done = ridelab("paper", "nine")
    assert (done.code, done.err) == (0, "")
    heron, egret = done.out.split("\n\n")[1:]
    assert heron.startswith("heron, rollout 1.500 m")
    assert heron.splitlines()[-1].split() == [
        "3", "2.000", "3.00", "100.0", "10.8", "14.4", "18.0", "80",
    ]  # fmt: skip
    assert egret.startswith("egret, rollout 2.249 m")


@pytest.mark.usefixtures("campaign")
def test_paper_as_json_is_si(ridelab: Ridelab) -> None:
    """One object a row, speeds in metres a second; the vehicle leads."""
    rows = json.loads(ridelab("paper", "nine", "--vehicle", "heron", "--json").out)
    assert [row["gear"] for row in rows] == [1, 2, 3]
    assert rows[2]["vehicle"] == "heron"
    assert rows[2]["speed_80rpm_mps"] == pytest.approx(4.0)
    assert rows[0]["step"] is None


@pytest.mark.usefixtures("campaign")
def test_paper_as_csv(ridelab: Ridelab) -> None:
    """A header, then a line a gear, for both vehicles."""
    rows = list(csv.DictReader(io.StringIO(ridelab("paper", "nine", "--csv").out)))
    assert [row["vehicle"] for row in rows] == ["heron"] * 3 + ["egret"] * 3


@pytest.mark.usefixtures("campaign")
def test_paper_on_another_wheel(ridelab: Ridelab) -> None:
    """A tyre on the command line beats those of the vehicles: (406 + 2 × 50) mm × π."""
    (low, *_) = json.loads(ridelab("paper", "nine", "--tyre", "50-406", "--json").out)
    assert low["development_m"] == pytest.approx(0.5 * 3.14159265 * 0.506)


@pytest.mark.usefixtures("campaign")
def test_paper_without_a_wheel_has_ratios_only(ridelab: Ridelab) -> None:
    """Nobody has the stepless hub: its two ends, and no speeds."""
    done = ridelab("paper", "free")
    assert done.out.startswith("free: stepless, range 380 %")
    assert "km/h" not in done.out


@pytest.mark.usefixtures("campaign")
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["nine", "--tyre", "622"], "--tyre: found '622'; accepted: the ISO"),
        (["nin"], "did you mean 'nine'?"),
        (["nine", "--vehicle", "hern"], "did you mean 'heron'?"),
    ],
)
def test_paper_of_nothing_known(ridelab: Ridelab, arguments: list[str], words: str) -> None:
    """The nearest name is suggested."""
    done = ridelab("paper", *arguments)
    assert (done.code, done.out) == (2, "")
    assert words in done.err


@pytest.mark.usefixtures("campaign")
def test_paper_says_how_many_combinations_are_different(ridelab: Ridelab) -> None:
    """1, 2, 4, 4.1, 8.2: 2 is made twice, 4 and 4.1 are 2.5 % apart and one to a rider."""
    done = ridelab("paper", "twice")
    lines = done.out.splitlines()
    assert lines[:3] == [
        "twice: 5 gears, range 820 %",
        "6 combinations; 1 of them repeats the gear of another, within 1.5 %",
        "to a rider, who hardly feels less than 5 %, they are 4 gears",
    ]
    assert "steps from 2.5 % to 100.0 %, on average 69.2 %: a shift at 80 rpm" in lines[3]
    assert ["crank", "2", "1.000", "2.000", "200", "5", "3"] in [line.split() for line in lines]
    assert ["hub", "3", "1.000", "4.100", "410", "5", "2"] in [line.split() for line in lines]


@pytest.mark.usefixtures("campaign")
def test_even_steps_are_called_even(ridelab: Ridelab) -> None:
    """One sentence where there is one step; no word of efficiency without its denial."""
    out = ridelab("paper", "nine").out
    assert "even steps of 100.0 %: a shift at 80 rpm changes the cadence by 80 rpm\n" in out
    assert "says nothing of a drivetrain's efficiency" in out


@pytest.mark.usefixtures("campaign")
def test_paper_merged_otherwise(ridelab: Ridelab) -> None:
    """5 % for once makes 4 and 4.1 one gear; the campaign's own stays 1.5 %."""
    rows = json.loads(ridelab("paper", "twice", "--merge-within", "5 %", "--json").out)
    assert [row["label"].count("=") for row in rows] == [0, 1, 1, 0]


@pytest.mark.usefixtures("campaign")
def test_paper_at_another_cadence(ridelab: Ridelab) -> None:
    """Speeds and shifts at 90 rpm only: 2 × 1.5 m × 90 / 60 = 4.5 m/s, by hand."""
    arguments = ("paper", "nine", "--vehicle", "heron", "--cadence", "90")
    top = json.loads(ridelab(*arguments, "--json").out)[-1]
    assert top["speed_90rpm_mps"] == pytest.approx(4.5)
    assert top["cadence_change_rpm"] == pytest.approx(90)
    assert "speed_80rpm_mps" not in top
    out = ridelab(*arguments).out
    assert "a shift at 90 rpm changes the cadence by 90 rpm" in out
    assert "80 rpm" not in out


@pytest.mark.usefixtures("campaign")
def test_paper_of_stages_and_combinations(ridelab: Ridelab) -> None:
    """Each part alone, as a table and as JSON."""
    stages = json.loads(ridelab("paper", "double", "--part", "stages", "--json").out)
    assert [row["shifts"] for row in stages] == [None, "driver", "driven"]
    rows = json.loads(ridelab("paper", "double", "--part", "combinations", "--json").out)
    assert [row["same_gear_as"] for row in rows] == [None, "34/16", "38/18", None]
    for part, first in (
        ("stages", "chain 4 1.889 2.375 126 3 1"),
        ("combinations", "1 34/18 1.889 0.00 –"),
        ("gears", "1 34/18 1.889 – –"),
    ):
        done = ridelab("paper", "double", "--part", part)
        assert "combinations;" not in done.out
        assert first in [" ".join(line.split()) for line in done.out.splitlines()]


@pytest.mark.usefixtures("campaign")
def test_paper_tells_holes_and_notes(ridelab: Ridelab) -> None:
    """What cannot be ridden between two ends, and what a maker would look at twice."""
    assert "no ratio from 1.900 to 2.000" in ridelab("paper", "holed").out
    note = "note: hub: 3 planets, evenly spaced, cannot be assembled"
    assert note in ridelab("paper", "planets").out


@pytest.mark.usefixtures("campaign")
def test_two_drivetrains_side_by_side(ridelab: Ridelab) -> None:
    """Every range on a line, every figure in a row; on each wheel that has the first."""
    done = ridelab("paper", "nine", "--beside", "twice")
    assert (done.code, done.err) == (0, "")
    assert max(map(len, done.out.splitlines())) <= 80
    scale, nine, twice = done.out.splitlines()[:3]
    assert scale.split() == ["0.500", "8.200"]
    # 4 and 4.1 fall into one place
    assert (nine.count("|"), twice.count("|")) == (3, 4)
    rows = {tuple(line.split()) for line in done.out.splitlines()}
    assert ("gears", "below", "all", "of", "the", "other's", "1", "0") in rows
    assert (
        "heron,",
        "1.500",
        "m:",
        "lowest",
        "at",
        "60",
        "rpm",
        "2.7",
        "km/h",
        "5.4",
        "km/h",
    ) in rows
    said = " ".join(done.out.split())
    assert "nine goes beyond twice down to 0.50 times its lowest gear (1 gear); none of" in said
    assert "twice goes beyond nine up to 4.10 times its highest gear (3 gears)" in said


@pytest.mark.usefixtures("campaign")
def test_side_by_side_as_json_is_si(ridelab: Ridelab) -> None:
    """A row for each drivetrain on each wheel."""
    rows = json.loads(ridelab("paper", "nine", "--beside", "free", "--json").out)
    assert [(row["vehicle"], row["drivetrain"]) for row in rows] == [
        ("heron", "nine"), ("heron", "free"), ("egret", "nine"), ("egret", "free"),
    ]  # fmt: skip
    assert rows[0]["lowest_speed_mps"] == pytest.approx(0.5 * 1.5)
    assert rows[1]["gears"] is None


@pytest.mark.usefixtures("campaign")
def test_a_stepless_hub_is_drawn_with_its_hole(ridelab: Ridelab) -> None:
    """A line of = from end to end, broken where nothing can be ridden."""
    out = ridelab("paper", "nine", "--beside", "holed").out.splitlines()
    assert re.fullmatch(r"holed +=+ =+", out[2])


@pytest.mark.usefixtures("campaign")
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["nine", "--beside", "nine"], "found 'nine' beside itself"),
        (["nine", "--beside", "twic"], "did you mean 'twice'?"),
        (["nine", "--beside", "twice", "--part", "gears"], "found --part gears"),
        (["nine", "--part", "stage"], "did you mean 'stages'?"),
        (["nine", "--merge-within", "50 %"], "--merge-within: found '50 %'"),
        (["nine", "--merge-within", "1 mm"], "--merge-within: found '1 mm'"),
        (["nine", "--cadence", "3"], "--cadence': Input should be"),
    ],
)
def test_options_that_make_no_sense(ridelab: Ridelab, arguments: list[str], words: str) -> None:
    """Found and accepted, in one line."""
    done = ridelab("paper", *arguments)
    assert (done.code, done.out) == (2, "")
    assert words in done.err
