"""What is drawn of replays: where marks stand, what is a difference, and what is left out."""

from __future__ import annotations

from typing import Any

import pytest

from ridelab.analysis.replay.words import Told
from ridelab.report.digits import Printer
from ridelab.report.replay_rows import ALONE, AS_RIDDEN, BASE, OPEN, SHOWN, Group, groups
from tests.report.replays import differences, replay, rows

METRIC = Printer("metric")


def drawn(told: Told, units: Printer = METRIC) -> dict[str, Group]:
    """Return the groups by their headings."""
    return {group.heading.replace("\u00a0", " "): group for group in groups(told, units)}


def marks(group: Group) -> dict[tuple[str, str], dict[str, Any]]:
    """Return the marks of a group by their lines and kinds."""
    return {(mark["line"], mark["kind"]): mark for mark in group.marks}


def test_a_clear_difference_and_none_are_told_apart() -> None:
    """By habit four lies 5 to 3 points below nine's 12 %, twelve from 3 below to 2 above.

    Habits make 12 % of the 10 % that were ridden on nine: 2 points are added at either end. The
    scale goes to 16 %, the largest end, which is twelve's.
    """
    found = drawn(Told.of(rows(), differences()))
    habit = marks(found["outside 70 to 90 rpm, by habit"])
    assert set(habit) == {
        ("nine", BASE), ("nine", AS_RIDDEN), ("four", SHOWN), ("twelve", OPEN),
    }  # fmt: skip
    four = habit["four", SHOWN]
    assert four["low"] == pytest.approx(0.05 / 0.16, abs=1e-3)
    assert four["high"] == pytest.approx(0.11 / 0.16, abs=1e-3)
    assert four["base"] == pytest.approx(0.12 / 0.16, abs=1e-3)
    assert habit["twelve", OPEN]["words"] == "twelve: 11 %, 12 % on nine: cannot tell"


def test_both_ways_to_shift_share_one_scale() -> None:
    """What was ridden stands at the same place in both."""
    found = drawn(Told.of(rows(), differences()))
    places = {
        marks(group)["nine", AS_RIDDEN]["at"]
        for heading, group in found.items()
        if heading.startswith("outside")
    }
    assert places == {round(0.10 / 0.16, 4)}


def test_one_ride_has_no_interval_and_shows_no_difference() -> None:
    """A difference of one ride may be that ride's alone."""
    alone = [
        row | {name: None for name in row if name.endswith(("_low", "_high"))} | {"rides": 1}
        for row in rows()
    ]
    found = drawn(Told.of(alone, differences(one_ride=True)))
    habit = marks(found["outside 70 to 90 rpm, by habit"])
    assert habit["four", OPEN]["low"] is None
    assert not any(kind == SHOWN for _, kind in habit)


def test_an_unknown_ridden_ladder_leaves_candidates_alone() -> None:
    """There is nothing to hold them against."""
    found = drawn(Told.of([replay("four", "looking ahead", 0.02)], []))
    assert set(marks(found["outside 70 to 90 rpm, looking ahead"])) == {("four", ALONE)}
    assert "beyond the ridden range" not in found


def test_time_beyond_the_ridden_range_is_told_by_side() -> None:
    """Ten minutes below and one above of an hour; what is below ten seconds is no use."""
    far = {"lower_s": 600.0, "higher_s": 60.0}
    found = [row | (far if row["drivetrain"] == "four" else {}) for row in rows()]
    beyond = marks(drawn(Told.of(found, differences()))["beyond the ridden range"])
    four = beyond["four", ALONE]
    assert four["value"].replace("\u00a0", " ") == "10 min below, 60 s above"
    assert four["at"] == pytest.approx(660 / 3600)
    assert beyond["twelve", ALONE]["value"] == "never"


def test_shifts_are_counted_over_the_campaigns_own_way() -> None:
    """4 a kilometre are 6.4 a mile (1609.344 m, NIST SP 811)."""
    found = drawn(Told.of(rows(), differences()), Printer("imperial"))
    assert marks(found["shifts a mi"])["nine", BASE]["value"] == "6.4"


def test_a_stepless_candidate_has_no_shifts_and_no_idle_gears() -> None:
    """Its lines stand only where it has a figure."""
    found = [row for row in rows() if (row["drivetrain"], row["policy"]) != ("four", "by habit")]
    smooth = [
        row | ({"gears": None, "unneeded": None} if row["drivetrain"] == "four" else {})
        for row in found
    ]
    groups_ = drawn(Told.of(smooth, differences()))
    lines = {heading: {line for line, _ in marks(group)} for heading, group in groups_.items()}
    assert "four" in lines["spread of cadence"]
    assert "four" not in lines["shifts a km"]
    assert "four" not in lines["gears never needed"]
