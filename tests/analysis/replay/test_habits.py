"""A rider's habits: learned by hand, followed by hand, and against simulated riders."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from ridelab.analysis.replay.gearing import Gearing
from ridelab.analysis.replay.habits import Habits, Sweeps, by_habit, learn
from ridelab.analysis.replay.road import batch
from tests.analysis.replay.habitual import near
from tests.analysis.replay.roads import road
from tests.simulate.rides import DOUBLE, FOURTEEN, chain_ride, hub_ride

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridelab.drivetrain.stages import Drivetrain
    from ridelab.simulate import Scenario

TWO = Gearing("two", (1, 2), ("1", "2"), (3.0, 4.0))
HABITS = Habits(float(np.log(80.0)), up=float(np.log(1.25)), down=float(np.log(1.25)))


def test_habits_are_the_middle_of_what_was_ridden() -> None:
    """80 rpm as a rule, shifts up at 100 and down at 64: a quarter more, a fifth less."""
    cadence = np.full(400, 80.0)
    cadence[10:200:10], cadence[205:400:10] = 100.0, 64.0
    ride = replace(road([5.0] * 400), cadence_rpm=cadence, gear=np.ones(400, dtype=np.int64))
    t_s = np.concatenate([np.arange(10.0, 200.0, 10.0), np.arange(205.0, 400.0, 10.0)]) + 0.5
    sweeps = Sweeps(t_s, np.ones(len(t_s), dtype=np.int64), t_s < 203.0)
    found = learn([ride], [sweeps])
    assert found is not None
    assert np.exp(found.log_usual) == pytest.approx(80.0)
    assert np.exp([found.up, found.down]) == pytest.approx([1.25, 1.25])


def test_few_shifts_tell_no_habit() -> None:
    """Three shifts are none to learn from."""
    three = Sweeps(np.arange(3.0), np.ones(3, dtype=np.int64), np.ones(3, dtype=np.bool_))
    assert learn([road([5.0] * 9)], [three]) is None


def test_shifts_once_the_cadence_has_strayed_and_not_before() -> None:
    """In 3 m, 99 rpm is borne and 101 is not; in 4 m, 65 rpm is borne and 63 is not."""
    speeds = [rpm * 3.0 / 60.0 for rpm in (80, 99, 101)] + [rpm * 4.0 / 60.0 for rpm in (65, 63)]
    ride = road([one for speed in speeds for one in [speed] * 20])
    places, shifts = by_habit(batch([ride]), TWO, HABITS, np.array([3.0]))
    assert places[10::20, 0].tolist() == [0, 0, 1, 1, 0]
    assert shifts.tolist() == [2.0]


def test_chain_is_not_shifted_while_the_crank_stands() -> None:
    """Rolled to a slow pace without pedalling: a hub is in its low gear at once, a chain is not."""
    driven = [True] * 20 + [False] * 20
    ride = road([6.0] * 20 + [1.5] * 20, driven=driven)
    chain = replace(TWO, shifts_standing=False)
    gears = [
        by_habit(batch([ride]), one, HABITS, np.array([4.0]))[0][-1, 0] for one in (TWO, chain)
    ]
    assert gears == [0, 1]


@pytest.mark.parametrize(
    ("make", "drivetrain", "rollout_m"), [(hub_ride, FOURTEEN, 2.1), (chain_ride, DOUBLE, 2.15)]
)
def test_habits_repeat_on_the_ridden_ladder_what_was_ridden(
    make: Callable[..., Scenario], drivetrain: Drivetrain, rollout_m: float
) -> None:
    """Simulated riders who shift now early, now late, over two gears, and look a second ahead."""
    found = near(make, drivetrain, rollout_m, 1800, 3)
    assert found.shifts == pytest.approx(1.0, abs=0.05)
    assert found.spread == pytest.approx(1.0, abs=0.25)
    assert found.alike > 0.7
