"""What a cadence costs, and what a ladder on a wheel asks for, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from ridelab.analysis.replay.comfort import Band, asked, discomfort
from ridelab.analysis.replay.gearing import as_ridden, on_wheel
from ridelab.drivetrain.ladder import published_ladder
from ridelab.drivetrain.stages import Drivetrain, from_ratios, from_teeth, stepless
from ridelab.errors import NotAccepted


def test_discomfort_is_one_at_the_edges_and_four_twice_as_far_out() -> None:
    """64 to 100 rpm has its middle at 80; 1.25 times beyond 100 is twice as far out."""
    cadence = np.log(np.array([[64.0, 80.0, 100.0, 125.0]]))
    cost = discomfort(cadence, np.array([2.0]), Band(64.0, 100.0))
    assert cost[0] == pytest.approx([2.0, 0.0, 2.0, 8.0])


def test_cadence_asked_is_speed_over_development() -> None:
    """36 km/h is 600 m a minute: 100 rpm with 6 m, 75 rpm with 8 m."""
    found = np.exp(asked(np.log(np.array([600.0])), np.log(np.array([6.0, 8.0]))))
    assert found[0] == pytest.approx([100.0, 75.0])


@pytest.mark.parametrize(("low", "high"), [(90.0, 60.0), (70.0, 70.0), (5.0, 90.0), (60.0, 500.0)])
def test_band_that_no_legs_have_is_refused(low: float, high: float) -> None:
    """The refusal says what was found and what would be accepted."""
    with pytest.raises(NotAccepted, match="rpm; accepted: two cadences from 20 to 200 rpm"):
        Band(low, high)


def test_ridden_ladder_has_measured_gears_and_published_ones_between() -> None:
    """Gear 2 was measured at 4.1 m; gears 1 and 3 are ratio × rollout."""
    ladder = published_ladder(Drivetrain("three", (from_ratios("hub", (1.0, 2.0, 3.0)),)))
    own = as_ridden(on_wheel(ladder, 2.0), {2: 4.1}, {2: "2"})
    assert own.numbers == (1, 2, 3)
    assert own.development_m == pytest.approx((2.0, 4.1, 6.0))


def test_gear_beyond_another_ladder_is_felt_to_be() -> None:
    """Of 1.8, 1.95, 3 and 4.3 m beside 2 to 4 m only the outer ones are 5 % and more beyond."""
    one, other = (
        on_wheel(published_ladder(Drivetrain("x", (from_ratios("hub", ratios),))), 1.0)
        for ratios in ((1.8, 1.95, 3.0, 4.3), (2.0, 4.0))
    )
    lower, higher = one.beyond(other)
    assert lower.tolist() == [True, False, False, False]
    assert higher.tolist() == [False, False, False, True]


def test_stepless_drivetrain_keeps_out_of_its_holes() -> None:
    """Two sprockets behind 1 to 1.2: what lies between 1.2 and 2 goes to the nearer of the two."""
    stages = from_ratios("gears", (1.0, 2.0)), stepless("hub", 1.0, 1.2)
    gearing = on_wheel(published_ladder(Drivetrain("x", stages)), 1.0)
    wanted = np.array([0.5, 1.1, 1.4, 1.7, 2.1, 9.0])
    assert gearing.nearest_m(wanted).tolist() == pytest.approx([1.0, 1.1, 1.2, 2.0, 2.1, 2.4])


def test_a_chain_cannot_be_shifted_standing() -> None:
    """By its stages: two sprockets need a running chain."""
    chain = Drivetrain("two", (from_teeth("chain", (38,), (20, 16)),))
    ladder = published_ladder(chain)
    assert not on_wheel(ladder, 2.0, shifts_standing=chain.shifts_standing).shifts_standing
