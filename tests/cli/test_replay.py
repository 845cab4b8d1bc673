"""``ridelab replay``: the answer for people, rows for programs, and what cannot be asked."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from ridelab.simulate import simulate_ride
from tests.simulate.rides import hub_ride

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Ridelab

CAMPAIGN = """
[vehicles.heron]
kind = "bicycle"
rollout_m = 2.1
drivetrain = "fourteen"
rides = ["*.fit"]
comfortable_rpm = [65, 95]

[vehicles.mole]
kind = "cargo"
rides = ["nothing/*.fit"]
tyre = "50-406"
comfortable_rpm = [65, 95]

[vehicles.vole]
kind = "cargo"
rides = ["nothing/*.fit"]
comfortable_rpm = [65, 95]

[drivetrains.fourteen]
stages = [
  { name = "chain", driver = [38], driven = [15] },
  { name = "hub", speeds = 14, range = 5.26, lowest = 0.279 },
]
[drivetrains.three]
stages = [
  { name = "chain", driver = [38], driven = [18] },
  { name = "hub", epicyclic = { sun = 20, ring = 60 } },
]
[drivetrains.smooth]
stages = [{ name = "hub", continuous = [0.8, 3.2] }]
"""
PIPELINE = """
[[stages]]
run = "read"
[[stages]]
run = "measure"
[[stages]]
query = "shifts"
"""


@pytest.fixture
def ridden(tmp_path: Path, ridelab: Ridelab) -> Ridelab:
    """The command line beside a store of two rides of ten minutes."""
    for day in range(2):
        started = datetime(2031, 5, 4, 8, tzinfo=UTC) + timedelta(days=day)
        simulate_ride(hub_ride(duration_s=600), day).to_fit(tmp_path / f"{day}.fit", started)
    (tmp_path / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    (tmp_path / "quick.toml").write_text(PIPELINE, encoding="utf-8")
    assert ridelab("run", "quick.toml").code == 3  # two vehicles have no file
    return ridelab


def test_answer_is_in_words_first_and_fits_the_width(ridden: Ridelab) -> None:
    """What would change, how near the method comes, one table, what is assumed; 80 columns."""
    done = ridden("replay", "--vehicle", "heron", "--onto", "three", "--onto", "smooth")
    assert done.code == 0
    assert max(map(len, done.out.splitlines())) <= 80
    words = " ".join(done.out.split())
    assert words.startswith("heron: 2 rides")
    assert words.index("three, shifted by this rider's habits") < words.index("drivetrain shifted")
    assert "How near the habits come: on fourteen itself" in words
    assert "Speed is taken as ridden" in words
    assert "make no drivetrain more efficient" in words


def test_constant_effort_says_its_physics(ridden: Ridelab) -> None:
    """Riding time is told, and how power is taken to follow from cadence."""
    done = ridden("replay", "--vehicle", "heron", "--onto", "three", "--constant-effort")
    words = " ".join(done.out.split())
    assert done.code == 0
    assert "riding time: " in words
    assert "Effort is taken as ridden" in words


@pytest.mark.parametrize(("part", "column"), [("replays", "outside"), ("gears", "share"),
                                              ("differences", "difference")])  # fmt: skip
def test_programs_get_rows(ridden: Ridelab, part: str, column: str) -> None:
    """A JSON array of each part, in SI."""
    done = ridden("replay", "--vehicle", "heron", "--onto", "three", "--part", part, "--json")
    rows = json.loads(done.out)
    assert rows
    assert all(isinstance(row[column], float) for row in rows)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--vehicle", "herron", "--onto", "three"), "no vehicle 'herron'; did you mean 'heron'"),
        (("--vehicle", "heron", "--onto", "tree"), "no drivetrain 'tree'; did you mean 'three'"),
        (("--vehicle", "heron", "--onto", "fourteen"), "'heron' was ridden with"),
        (("--vehicle", "heron", "--onto", "three", "--onto", "three"), "asked for twice"),
        (("--vehicle", "mole", "--onto", "three"), "no ride of it is stored"),
        (("--vehicle", "vole", "--onto", "three"), "has no rollout"),
        (("--vehicle", "heron", "--onto", "three", "--low-rpm", "120"), "comfortable cadence"),
        (("--vehicle", "heron", "--onto", "three", "--tyre", "x"), "--tyre: found 'x'"),
        (("--vehicle", "heron", "--onto", "three", "--part", "x"), "--part: found 'x'; accepted"),
    ],
)
def test_what_cannot_be_replayed_is_told_plainly(
    ridden: Ridelab, arguments: tuple[str, ...], told: str
) -> None:
    """One line, exit code 2, nothing printed as a result."""
    done = ridden("replay", *arguments)
    assert (done.code, done.out) == (2, "")
    assert told in done.err
    assert done.err.count("\n") == 1


def test_another_wheel_changes_what_gears_ask_for(ridden: Ridelab) -> None:
    """On a wheel half as large each development of the candidate is half as long."""
    asked = ("replay", "--vehicle", "heron", "--onto", "three", "--part", "gears", "--json")
    own, small = (json.loads(ridden(*asked, *more).out) for more in ((), ("--tyre", "37-288")))
    longest = [
        max(row["development_m"] for row in rows if row["drivetrain"] == "three")
        for rows in (own, small)
    ]
    assert longest[1] / longest[0] == pytest.approx(3.14159 * 0.362 * 0.98 / 2.1, rel=0.01)


def test_run_says_the_same_from_what_is_stored(
    ridden: Ridelab, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sentence by sentence what `replay` says; a second run says it without replaying anything."""
    file = tmp_path / "campaign.toml"
    asking = CAMPAIGN.replace('rides = ["*.fit"]', 'rides = ["*.fit"]\nreplay_onto = ["three"]')
    file.write_text(asking, encoding="utf-8")
    stages = (
        PIPELINE
        + """[[stages]]
query = "ridden_gears"
[[stages]]
query = "ridden_cadences"
[[stages]]
run = "replay"
"""
    )
    (tmp_path / "quick.toml").write_text(stages, encoding="utf-8")
    words = " ".join(ridden("replay", "--vehicle", "heron", "--onto", "three").out.split())
    said = words.partition(" below above ")[0]
    assert said in " ".join(ridden("run", "quick.toml").out.split())

    def refuse(*_arguments: object, **_settings: object) -> None:
        raise AssertionError

    monkeypatch.setattr("ridelab.analysis.replay.vehicle.replay_vehicle", refuse)
    assert said in " ".join(ridden("run", "quick.toml").out.split())


def test_run_says_why_it_ended_as_it_did_and_nothing_of_other_runs(
    ridden: Ridelab, tmp_path: Path
) -> None:
    """A vehicle that cannot be replayed is told; a query that failed in another pipeline is not."""
    file = tmp_path / "campaign.toml"
    asking = 'comfortable_rpm = [65, 95]\nreplay_onto = ["three"]\n\n[drivetrains.fourteen]'
    text = CAMPAIGN.replace("comfortable_rpm = [65, 95]\n\n[drivetrains.fourteen]", asking)
    file.write_text(text, encoding="utf-8")
    (tmp_path / "wrong.sql").write_text("select nothing from rides", encoding="utf-8")
    (tmp_path / "wrong.toml").write_text('[[stages]]\nquery = "wrong.sql"\n', encoding="utf-8")
    failed = ridden("run", "wrong.toml")
    assert failed.code == 3
    assert 'failed: wrong.sql: Referenced column "nothing" not found' in failed.err
    (tmp_path / "again.toml").write_text('[[stages]]\nrun = "replay"\n', encoding="utf-8")
    done = ridden("run", "again.toml")
    assert done.code == 3
    assert "failed: vole: vehicle 'vole' has no rollout" in done.err
    assert "wrong.sql" not in done.err
