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


LOADED = """
[vehicles.heron]
kind = "trike"
tyre = "50-406"
other_tyres = ["40-349"]
drivetrain = "six-by-three"
rides = ["*.fit"]
rider_kg = 90
motor = { torque_nm = 40, drives = "wheel" }

[drivetrains.six-by-three]
stages = [
  { name = "gearbox", ratios = [0.5, 0.7, 1, 1.4, 2, 2.8] },
  { name = "chain", driver = [30], driven = [30] },
  { name = "hub", ratios = [0.75, 1, 1.333] },
]
max_input_torque_nm = { hub = 200 }
"""


@pytest.fixture
def loaded(tmp_path: Path) -> Path:
    """A trike whose hub is driven through a reduction, invented."""
    path = tmp_path / "campaign.toml"
    path.write_text(LOADED, encoding="utf-8")
    (tmp_path / "one.fit").write_bytes(b"never read")
    return path


@pytest.mark.usefixtures("loaded")
def test_check_cautions_where_a_reduction_overloads_a_hub(ridelab: Ridelab) -> None:
    """By hand: 90 kg × 9.80665 × 0.17 m = 150.0 N·m, doubled by gearbox 1; nothing is safe."""
    done = ridelab("check")
    assert done.code == 0
    assert max(map(len, done.out.splitlines())) <= 80
    row = next(line for line in done.out.splitlines() if line.startswith("heron    hub"))
    assert row.split() == ["heron", "hub", "gearbox", "1", "0.500", "300", "200", "2"]
    told = " ".join(done.out.split())
    assert "heron: 90 kg on one level crank of 170 mm (crank assumed)" in told
    assert "below the stated limit by this estimate; dynamic loads, the maker's manual" in told
    assert "a motor's 40 N·m at the wheel, which passes through no stage" in told
    assert "Local law decides" in told
    assert "safe" not in told
    hub = "heron: hub: 300 N·m at its input with gearbox 1 in front, stated limit 200 N·m"
    assert hub in done.err
    assert "beyond in 2 of 6 settings in front: gearbox 1, gearbox 2 (6 of 18 comb" in done.err
    assert "records developments 17.9 % too long" in done.err


@pytest.mark.usefixtures("loaded")
def test_paper_prints_the_torque_of_each_stage(ridelab: Ridelab) -> None:
    """Every setting in front, the highest torque first, within 80 columns; no doubt left unsaid."""
    done = ridelab("paper", "six-by-three", "--torque")
    assert (done.code, done.err) == (0, "")
    assert max(map(len, done.out.splitlines())) <= 80
    hub = [line.split() for line in done.out.splitlines() if line.startswith("hub ")]
    assert [row[2] for row in hub] == ["1", "2", "3", "4", "5", "6"]
    assert [row[-1] for row in hub] == ["beyond", "beyond", *["below"] * 4]
    assert "caution: hub: 300 N·m" in done.out
    assert "qualified mechanic" in done.out


@pytest.mark.usefixtures("loaded")
def test_torque_as_json_and_csv_is_newton_metres(ridelab: Ridelab) -> None:
    """One object or line a stage and setting in front of it."""
    rows = json.loads(ridelab("paper", "six-by-three", "--torque", "--json").out)
    assert len(rows) == 1 + 6 + 6
    assert rows[-1]["input_torque_nm"] == pytest.approx(150.04 / 2.8, abs=0.01)
    assert rows[0]["beyond"] is None
    header, *lines = ridelab("paper", "six-by-three", "--torque", "--csv").out.splitlines()
    assert header.startswith("vehicle,stage,in_front,primary_ratio,input_torque_nm,")
    assert [line.split(",")[0] for line in lines] == ["heron"] * 13


@pytest.mark.usefixtures("loaded")
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["six-by-three", "--torque", "--part", "gears"], "--torque goes with"),
        (["six-by-tree", "--torque"], "did you mean 'six-by-three'?"),
        (["six-by-three", "--torque", "--vehicle", "hern"], "did you mean 'heron'?"),
    ],
)
def test_torque_of_nothing_known(ridelab: Ridelab, arguments: list[str], words: str) -> None:
    """Options that say nothing of torque are refused, names are suggested."""
    done = ridelab("paper", *arguments)
    assert (done.code, done.out) == (2, "")
    assert words in done.err


def test_efficiency_is_no_longer_untestable_where_two_meters_ride_along(
    ridelab: Ridelab, campaign: Path
) -> None:
    """A named field is enough to wait for the rides; noise stays what no ride tests."""
    claims = "".join(
        f'[[claims]]\nid = "{quantity}"\ndrivetrain = "nine"\nquantity = "{quantity}"\n'
        'value = "96 %"\n'
        for quantity in ("efficiency", "noise")
    )
    campaign.write_text(CAMPAIGN + claims, encoding="utf-8")
    alone = ridelab("check").out
    assert "at the driven wheel side by side would" in " ".join(alone.split())
    field = 'rollout_m = 1.5\nwheel_power_field = "hub"'
    campaign.write_text(CAMPAIGN.replace("rollout_m = 1.5", field) + claims, encoding="utf-8")
    untestable = ridelab("check").out.partition("What no ride can test")[2]
    assert "noise" in untestable
    assert "efficiency (" not in untestable
    assert "side by side" not in " ".join(untestable.split())
