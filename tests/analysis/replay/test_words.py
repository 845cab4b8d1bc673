"""What replays say in words: no more than the rides show."""

from __future__ import annotations

import numpy as np
import pytest

from ridelab.analysis.replay.ahead import Price
from ridelab.analysis.replay.comfort import Band
from ridelab.analysis.replay.gearing import Gearing
from ridelab.analysis.replay.relations import difference_rows, replay_rows
from ridelab.analysis.replay.tally import SUMS, Policy, Tally
from ridelab.analysis.replay.vehicle import Replays
from ridelab.analysis.replay.words import FAR, NOTHING_SHOWN, Told, in_short, said

OWN = Gearing("two", (1, 2), ("1", "2"), (4.0, 5.0))
STEPLESS = Gearing("smooth", (), (), (), span_m=(3.0, 6.0))
OTHER = Gearing("three", (1, 2, 3), ("1", "2", "3"), (3.0, 4.5, 6.0))


def tally(gearing: Gearing, policy: Policy, shares: list[float], **more: list[float]) -> Tally:
    """A tally of hours ridden with these shares below the band; all driving in the first gear."""
    count = len(shares)
    known: dict[str, list[float]] = {
        "seconds": [3600.0] * count,
        "metres": [2e4] * count,
        "below_s": [3600.0 * one for one in shares],
        "log_squared": [3600.0 * 0.01] * count,
        "moving_s": [3600.0] * count,
    }
    known |= more
    sums = np.stack([np.array(known.get(name, [0.0] * count)) for name in SUMS], axis=1)
    spent = np.zeros((count, len(gearing.numbers)))
    spent[:, :1] = 3600.0
    return Tally(gearing, policy, "speed as ridden", sums, spent)


def words(*tallies: Tally) -> str:
    """All that is said of these tallies."""
    return " ".join(said(told(*tallies)))


def told(*tallies: Tally) -> Told:
    """The rows of these tallies."""
    found = [Replays("heron", Band(60.0, 90.0), Price(), None, tallies)]
    return Told.of(replay_rows(found).to_dicts(), difference_rows(found).to_dicts())


@pytest.mark.parametrize(
    ("shares", "answer"),
    [
        ([0.08, 0.179, 0.281], "three would."),
        ([0.12, 0.221, 0.319], "three would have kept less."),
        ([0.12, 0.18, 0.3], "of three these rides cannot tell."),
        ([0.08], "of three one ride cannot tell."),
    ],
)
def test_the_short_answer_claims_no_more_than_the_interval_shows(
    shares: list[float], answer: str
) -> None:
    """2 points less or more in each ride tell, more in one and less in the next do not."""
    ridden = [0.1, 0.2, 0.3][: len(shares)]
    text = in_short(
        told(
            tally(OWN, "as ridden", ridden),
            tally(OWN, "looking ahead", ridden),
            tally(OTHER, "looking ahead", shares),
        )
    )
    assert text.startswith("Would another drivetrain have kept more of the driving within 60 to 90")
    assert text.endswith(f"Shifted as well as can be, {answer}")


def test_shifts_are_told_over_the_way_of_the_campaign() -> None:
    """20 shifts in 20 km are 1 a km, and 1.6 a mile (1609.344 m, NIST SP 811)."""
    ways: tuple[Policy, ...] = ("as ridden", "looking ahead", "by habit")
    rides = told(
        *(tally(OWN, policy, [0.1, 0.1], shifts=[20.0, 20.0]) for policy in ways),
        tally(OTHER, "looking ahead", [0.1, 0.1]),
        tally(OTHER, "by habit", [0.1, 0.1]),
    )
    assert "they make 1.0 shifts a km where 1.0 were" in " ".join(said(rides))
    assert "they make 1.6 shifts a mi where 1.6 were" in " ".join(said(rides, "imperial"))


def test_interval_around_zero_is_told_as_no_difference() -> None:
    """More in one ride and less in the next: nothing is shown, and no points are claimed."""
    text = words(
        tally(OWN, "as ridden", [0.1, 0.1]),
        tally(OWN, "looking ahead", [0.10, 0.10]),
        tally(OTHER, "looking ahead", [0.12, 0.09]),
    )
    assert NOTHING_SHOWN in text
    assert "points" not in text


@pytest.mark.parametrize(("ridden", "shown"), [(0.21, True), (0.05, False)])
def test_what_habits_are_off_by_is_no_difference_of_drivetrains(ridden: float, shown: bool) -> None:
    """Ten points less by habit, where habits make 20 % of what was 21, or 5, on the own one."""
    made = told(
        tally(OWN, "as ridden", [ridden - 0.01, ridden, ridden + 0.01]),
        tally(OWN, "looking ahead", [0.01] * 3),
        tally(OTHER, "looking ahead", [0.01] * 3),
        tally(OWN, "by habit", [0.19, 0.20, 0.21]),
        tally(OTHER, "by habit", [0.09, 0.10, 0.11]),
    )
    assert (NOTHING_SHOWN not in next(iter(said(made)))) == shown


def test_difference_that_all_rides_share_is_told_in_points() -> None:
    """2, 2.1 and 1.9 points less in three rides: Student's interval of that, by hand 1.8 to 2.2."""
    text = words(
        tally(OWN, "as ridden", [0.1, 0.2, 0.3]),
        tally(OWN, "looking ahead", [0.1, 0.2, 0.3]),
        tally(OTHER, "looking ahead", [0.08, 0.179, 0.281]),
    )
    assert "2.0 points less (1.8 to 2.2)" in text


def test_one_ride_claims_no_uncertainty() -> None:
    """It is said that nobody can say, and no interval is printed."""
    text = words(
        tally(OWN, "as ridden", [0.1]),
        tally(OWN, "looking ahead", [0.1]),
        tally(OTHER, "looking ahead", [0.05]),
    )
    assert "One ride: how much other rides would differ nobody can say." in text
    assert "5.0 points less" in text
    assert " to 5." not in text


def test_use_beyond_the_ridden_range_is_told_in_time() -> None:
    """A minute above and none below, over two rides; gears 2 and 3 of the other stand idle."""
    text = words(
        tally(OWN, "as ridden", [0.1, 0.1]),
        tally(OWN, "looking ahead", [0.1, 0.1]),
        tally(OTHER, "looking ahead", [0.1, 0.1], higher_s=[30.0, 30.0]),
    )
    assert (
        "It would have been used for 0:01:00 (0:01:00 to 0:01:00) above the range of two." in text
    )
    assert "Never needed of its 3 gears: 2 and 3." in text


@pytest.mark.parametrize(("times", "far"), [(1.1, False), (4.0, True)])
def test_habits_that_do_not_come_near_are_said_to_be_so(times: float, far: bool) -> None:
    """A tenth more variance is near, twice the spread is not."""
    text = words(
        tally(OWN, "as ridden", [0.1, 0.1]),
        tally(OWN, "looking ahead", [0.1, 0.1]),
        tally(OWN, "by habit", [0.1, 0.1], log_squared=[36.0 * times] * 2),
        tally(OTHER, "looking ahead", [0.1, 0.1]),
        tally(OTHER, "by habit", [0.1, 0.1]),
    )
    assert (FAR in text) == far


@pytest.mark.parametrize(("made", "far"), [(0.18, False), (0.02, True)])
def test_habits_that_miss_what_was_outside_the_band_are_said_to_be_so(
    made: float, far: bool
) -> None:
    """A fifth of the driving was outside: two points off are near, eighteen are not."""
    text = words(
        tally(OWN, "as ridden", [0.2, 0.2]),
        tally(OWN, "looking ahead", [0.1, 0.1]),
        tally(OWN, "by habit", [made, made]),
        tally(OTHER, "looking ahead", [0.1, 0.1]),
        tally(OTHER, "by habit", [0.1, 0.1]),
    )
    assert f"{100 * made:.0f} % outside the band where 20 % were" in text
    assert (FAR in text) == far


@pytest.mark.parametrize(
    ("own", "why"),
    [(STEPLESS, "ridden stepless, where nobody shifts"), (OWN, "10 shifts up and 10 down")],
)
def test_why_there_are_no_habits_is_said(own: Gearing, why: str) -> None:
    """On a stepless drivetrain nobody shifts; elsewhere too few shifts were made."""
    text = words(
        tally(own, "as ridden", [0.1, 0.1]),
        tally(own, "looking ahead", [0.1, 0.1]),
        tally(OTHER, "looking ahead", [0.1, 0.1]),
    )
    assert "No habits can be learned here (" in text
    assert why in text


def test_unknown_ladder_has_no_habits_either() -> None:
    """There is nothing to compare with, and that is said as well."""
    text = words(tally(OTHER, "looking ahead", [0.1, 0.1]))
    assert "which gears it was ridden in is not known" in text
    assert "What the ridden range is, nothing tells." in text
