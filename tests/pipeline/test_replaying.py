"""The stage ``replay``: rows for vehicles that ask for it, problems where it cannot be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.analysis.replay import vehicle as replay
from ridelab.campaign import load
from ridelab.pipeline import plan
from ridelab.store import Store

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridelab.analysis.replay.asking import Asked
    from ridelab.analysis.replay.vehicle import Replays
    from tests.pipeline.conftest import Bench

RELATIONS = ("replays", "replay_differences", "replayed_gear_use")

STAGES = """
[[stages]]
run = "read"
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


@pytest.fixture
def done(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The vehicles that were replayed, in order."""
    names: list[str] = []
    replay_vehicle = replay.replay_vehicle

    def counting(store: Store, asked: Asked, *, constant_effort: bool = False) -> Replays:
        names.append(asked.vehicle)
        return replay_vehicle(store, asked, constant_effort=constant_effort)

    monkeypatch.setattr(replay, "replay_vehicle", counting)
    return names


@pytest.fixture
def both(asking: Bench) -> Bench:
    """Otter, which has no papers, is to be replayed as well."""
    stated = 'replay_onto = ["three"]\ncomfortable_rpm = [65, 95]\ntyre = "47-622"'
    asking.edit('tyre = "47-622"', stated)
    return asking


def planned(bench: Bench, stages: str = STAGES) -> tuple[tuple[str, ...], int]:
    """What the plan says of the stage: vehicles to replay, and how many are kept."""
    with Store.open(bench.store, read_only=True) as store:
        found = plan(bench.pipeline(stages), load(bench.root / "campaign.toml"), store)
    return found.stages[-1].todo, found.stages[-1].kept


def test_second_run_replays_nothing(both: Bench, done: list[str]) -> None:
    """The plan says so beforehand, and every row stays."""
    both.run(STAGES)
    assert done == ["heron", "otter"]
    before = {name: both.frame(name) for name in RELATIONS}
    assert planned(both) == ((), 2)
    both.run(STAGES)
    assert done == ["heron", "otter"]
    for name, rows in before.items():
        assert both.frame(name).equals(rows), name


CHANGES: dict[str, Callable[[Bench], object]] = {
    "a ride more": lambda bench: (bench.root / "rides/otter/c.fit").rename(
        bench.root / "rides/heron/c.fit"
    ),
    "a ride less": lambda bench: bench.edit("rides/heron/*.fit", "rides/heron/a.fit"),
    "another wheel": lambda bench: bench.edit("rollout_m = 2.1", "rollout_m = 2.08"),
    "another band": lambda bench: bench.edit("[65, 95]\nrides", "[60, 90]\nrides"),
    "another candidate": lambda bench: bench.edit('["three", "smooth"]', '["smooth"]'),
    "other teeth": lambda bench: bench.edit("sun = 20, ring = 60", "sun = 20, ring = 70"),
    "a heavier rider": lambda bench: bench.edit(ONTO, ONTO + "rider_kg = 110\n"),
}


@pytest.mark.parametrize("change", CHANGES)
def test_what_changed_is_replayed_as_if_anew(asking: Bench, done: list[str], change: str) -> None:
    """The plan says so beforehand; a new store comes to the same rows."""
    asking.run(STAGES)
    CHANGES[change](asking)
    done.clear()
    asking.run(STAGES)
    assert done == ["heron"]
    kept = {name: asking.frame(name) for name in RELATIONS}
    asking.store.unlink()
    asking.run(STAGES)
    for name, rows in kept.items():
        assert rows.equals(asking.frame(name)), name


def test_only_vehicles_that_changed_are_replayed(both: Bench, done: list[str]) -> None:
    """Heron's band is another; otter's rows, marked by a hand, stay, and in their place."""
    both.run(STAGES)
    with Store.open(both.store) as store:
        rows = store.frame("replays")
        marked = (rows["vehicle"] == "otter").cast(float)
        store.replace("replays", rows.with_columns(shift_price=marked))
    both.edit("[65, 95]\nrides", "[60, 90]\nrides")
    assert planned(both) == (("heron",), 1)
    both.run(STAGES)
    assert done == ["heron", "otter", "heron"]
    assert set(both.frame("from replays where vehicle = 'otter'")["shift_price"]) == {1.0}
    assert both.frame("replays")["vehicle"].unique(maintain_order=True).to_list() == [
        "heron",
        "otter",
    ]


def test_other_shifts_and_another_setting_are_a_change(asking: Bench, done: list[str]) -> None:
    """Habits follow from shifts; the effort is asked for by the pipeline, not the campaign."""
    asking.run(STAGES)
    with Store.open(asking.store) as store:
        store.replace("shifts", store.frame("shifts")[1:])
    assert planned(asking) == (("heron",), 0)
    asking.run(STAGES)
    without = STAGES.replace("constant_effort = true", "")
    assert planned(asking, without) == (("heron",), 0)
    asking.run(without)
    assert len(done) == 3
    assert set(asking.frame("replays")["assumption"]) == {"speed as ridden"}


def test_vehicle_that_asks_no_more_loses_its_replays(both: Bench, done: list[str]) -> None:
    """The other one's stay, and are not made again."""
    both.run(STAGES)
    both.edit('replay_onto = ["three", "smooth"]\n', "")
    both.run(STAGES)
    assert done == ["heron", "otter"]
    for name in (*RELATIONS, "replayed_vehicles"):
        assert set(both.frame(name)["vehicle"]) == {"otter"}, name
