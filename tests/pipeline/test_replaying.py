"""The stage ``replay``: rows for vehicles that ask for it, problems where it cannot be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.pipeline.conftest import Bench

STAGES = """
[[stages]]
run = "read"
[[stages]]
run = "moments"
[[stages]]
run = "measure"
[[stages]]
query = "shifts"
[[stages]]
run = "replay"
constant_effort = true
"""
ONTO = 'replay_onto = ["three", "smooth"]\ncomfortable_rpm = [65, 95]\n'
DRIVETRAINS = """
[drivetrains.three]
stages = [
  { name = "chain", driver = [38], driven = [18] },
  { name = "hub", epicyclic = { sun = 20, ring = 60 } },
]
[drivetrains.smooth]
stages = [
  { name = "chain", driver = [38], driven = [18] },
  { name = "hub", continuous = [0.5, 1.9] },
]
"""


@pytest.fixture
def asking(bench: Bench) -> Bench:
    """Heron, of two rides on 14 gears, is to be replayed on three gears and on a stepless hub."""
    bench.edit('drivetrain = "fourteen"\nrides', f'drivetrain = "fourteen"\n{ONTO}rides')
    bench.edit("[[claims]]", f"{DRIVETRAINS}\n[[claims]]")
    return bench


def test_every_drivetrain_has_its_replays(asking: Bench) -> None:
    """The ridden one as ridden and replayed, three gears both ways, a stepless hub ahead."""
    asking.run(STAGES)
    rows = asking.frame("replays").select("drivetrain", "policy", "assumption").rows()
    speed, effort = "speed as ridden", "effort as ridden"
    replayed = [
        (drivetrain, policy)
        for drivetrain in ("fourteen", "three", "smooth")
        for policy in ("looking ahead", "by habit")
        if (drivetrain, policy) != ("smooth", "by habit")
    ]
    assert rows == [
        ("fourteen", "as ridden", speed),
        *((*one, speed) for one in replayed),
        *((*one, effort) for one in replayed),
    ]


def test_three_gears_leave_more_outside_and_the_ridden_ladder_repeats_what_was(
    asking: Bench,
) -> None:
    """Truths of arithmetic: shares add up, time is the same at the same speed, three are fewer."""
    asking.run(STAGES)
    found = asking.frame("replays").to_dicts()
    rows_by = {(row["drivetrain"], row["policy"], row["assumption"]): row for row in found}
    ridden = rows_by["fourteen", "as ridden", "speed as ridden"]
    for row in rows_by.values():
        assert row["outside"] == pytest.approx(row["below"] + row["above"])
        if row["assumption"] == "speed as ridden":
            assert row["seconds"] == pytest.approx(ridden["seconds"])
    three = rows_by["three", "looking ahead", "speed as ridden"]
    assert three["outside"] > rows_by["fourteen", "looking ahead", "speed as ridden"]["outside"]
    habit = rows_by["fourteen", "by habit", "speed as ridden"]
    assert habit["shifts_per_km"] == pytest.approx(ridden["shifts_per_km"], rel=0.1)
    assert habit["spread"] == pytest.approx(ridden["spread"], rel=0.25)
    assert habit["alike"] > 0.75


def test_gear_use_adds_up_and_differences_are_those_of_the_replays(asking: Bench) -> None:
    """Every second that was driven in a gear is in one; each difference is that of its two rows."""
    asking.run(STAGES)
    off = asking.frame(
        "select max(abs(used - seconds)) from (select vehicle, drivetrain, policy, assumption, "
        "sum(seconds) as used from replayed_gear_use where policy <> 'as ridden' group by all) "
        "join replays using (vehicle, drivetrain, policy, assumption)"
    ).item()
    assert off == pytest.approx(0.0, abs=1e-6)
    off = asking.frame(
        "select max(abs(one.outside - other.outside - difference)) from replay_differences as d "
        "join replays as one using (vehicle, drivetrain, policy, assumption) join replays as other "
        "on other.drivetrain = d.versus and other.policy = d.policy "
        "and other.assumption = d.assumption where quantity = 'outside'"
    ).item()
    assert off == pytest.approx(0.0, abs=1e-9)


def test_vehicle_without_a_wheel_is_a_problem_and_the_others_are_replayed(asking: Bench) -> None:
    """Otter loses its tyre: the message says what is missing, heron has its rows."""
    asking.edit('tyre = "47-622"', 'replay_onto = ["three"]\ncomfortable_rpm = [65, 95]')
    outcome = asking.run(STAGES)
    assert set(asking.frame("replays")["vehicle"]) == {"heron"}
    ((path, severity, message),) = asking.told("replay")
    assert (path, severity) == ("otter", "warning")
    assert "has no rollout" in message
    assert "accepted: its tyre or rollout_m" in message
    assert "otter" in outcome.failed


def test_nothing_is_replayed_where_nobody_asks(bench: Bench) -> None:
    """No row, no problem."""
    bench.run(STAGES)
    assert bench.frame("replays").is_empty()
    assert bench.told("replay") == []
