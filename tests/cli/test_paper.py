"""``paper``: a published ladder, before any ride."""

from __future__ import annotations

import csv
import io
import json
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
