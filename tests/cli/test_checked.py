"""``new`` and ``check``: what can be said before any ride."""

from __future__ import annotations

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
    """Two vehicles with one drivetrain, one drivetrain that nobody has, one file like a ride."""
    (tmp_path / "one.fit").write_bytes(b"never read")
    path = tmp_path / "campaign.toml"
    path.write_text(CAMPAIGN, encoding="utf-8")
    return path


def test_starter_campaign_is_right(ridelab: Ridelab) -> None:
    """What ``new`` writes, ``check`` accepts."""
    made = ridelab("new", "fleet")
    assert made.code == 0
    assert made.out.startswith("fleet/campaign.toml written")
    assert ridelab("check", "fleet/campaign.toml").code == 0


def test_starter_never_overwrites(ridelab: Ridelab, campaign: Path) -> None:
    """A campaign that is there stays as it is."""
    done = ridelab("new", ".")
    assert (done.code, done.out) == (2, "")
    assert campaign.read_text(encoding="utf-8") == CAMPAIGN


@pytest.mark.usefixtures("campaign")
def test_check_says_what_was_understood(ridelab: Ridelab) -> None:
    """Vehicles, drivetrains, files; within 80 columns; warnings beside the result."""
    done = ridelab("check")
    assert done.code == 0
    assert done.out.startswith("Mill lane, invented: 1 ride file\n")
    for word in ("heron", "egret", "nine", "gearbox", "400"):
        assert word in done.out
    assert max(map(len, done.out.splitlines())) <= 80
    assert done.err.startswith("warning: rides/*.fit: ")


def test_check_says_what_cannot_be_true_on_paper(ridelab: Ridelab, campaign: Path) -> None:
    """Contradictions are told, but no error; --json has each as a row."""
    claims = "".join(
        f"[[claims]]\ndrivetrain = 'nine'\nquantity = '{quantity}'\nvalue = '{value}'\n"
        for quantity, value in (("range", "500 %"), ("weight", "9 kg"))
    )
    campaign.write_text(CAMPAIGN + claims, encoding="utf-8")
    done = ridelab("check")
    assert done.code == 0
    assert "What cannot be true on paper\n- c1 (range: 500 %) stands for 499.5" in done.out
    assert "What no ride can test\n- c2 (weight: 9 kg): a ride shows rider, load" in done.out
    assert max(map(len, done.out.splitlines())) <= 80
    rows = json.loads(ridelab("check", "--json").out)
    (paper,) = [row for row in rows if row["section"] == "on paper"]
    assert (paper["claim"], paper["claimed_low"], paper["agrees"]) == ("c1", 4.995, False)
    (told,) = [row for row in rows if row["section"] == "contradictions"]
    assert (told["claims"], told["beside"]) == (["c1"], ["ladder"])


def test_check_of_a_file_that_two_vehicles_claim(ridelab: Ridelab, tmp_path: Path) -> None:
    """A campaign that gives one file to two vehicles is wrong: exit 2."""
    vehicle = "[vehicles.{}]\nkind = 'trike'\nrides = ['*.fit']\n"
    (tmp_path / "one.fit").write_bytes(b"never read")
    path = tmp_path / "campaign.toml"
    path.write_text(vehicle.format("heron") + vehicle.format("egret"), encoding="utf-8")
    done = ridelab("check")
    assert done.code == 2
    assert "egret" in done.out
    assert done.err.startswith("error: ")
    assert "claimed by the globs of 'heron' and 'egret'" in done.err


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[campaign]\nname = \n", "line 2"),
        ("[vehicle.heron]\n", "did you mean 'vehicles'?"),
        ('[vehicles.heron]\nkind = "trike"\nrides = ["*"]\ntire = "47-622"\n', "'tyre'"),
        ('[vehicles.heron]\nkind = "trike"\nrides = ["*"]\ndrivetrain = "x"\n', "drivetrain"),
        ("[drivetrains.x]\nstages = [{ driver = [-3], driven = [2] }]\n", "-3"),
    ],
    ids=["malformed", "unknown table", "unknown key", "unknown drivetrain", "negative teeth"],
)
def test_wrong_campaign_is_one_line_on_stderr(
    ridelab: Ridelab, tmp_path: Path, text: str, words: str
) -> None:
    """Exit 2; file, key, found and accepted in one message, wherever a campaign is read."""
    (tmp_path / "campaign.toml").write_text(text, encoding="utf-8")
    for command in (["check"], ["run", "fleet"], ["show", "rides"], ["paper", "x"]):
        done = ridelab(*command)
        assert (done.code, done.out) == (2, "")
        assert done.err.count("\n") == 1
        assert done.err.startswith("ridelab: campaign.toml: ")
        assert words in done.err


@pytest.mark.parametrize("command", [["check"], ["run", "usage"], ["query", "select 1"]])
def test_missing_campaign(ridelab: Ridelab, command: list[str]) -> None:
    """Says which file is not there."""
    done = ridelab(*command)
    assert (done.code, done.out) == (2, "")
    assert "campaign.toml" in done.err
    assert done.err.count("\n") == 1
