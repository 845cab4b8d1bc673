"""Use of gears: sums over a few seconds that a person can add up."""

from __future__ import annotations

from datetime import UTC, date, datetime

import polars as pl
import pytest

from tests.analysis.used import a_store, add_ride, computed

UP = {"grade": 0.05, "climb_m": 0.25}
FLAT = {"grade": 0.0, "climb_m": 0.0}


def test_time_way_climbing_and_work_are_summed_by_gear_and_unused_gears_are_zero() -> None:
    """Four seconds in gear 2, two of them coasting; one in gear 3; 1, 4 and 5 never."""
    store = a_store()
    ridden = [{"gear": 2, "power_w": 200.0} | UP] * 2 + [{"gear": 2, "coupled": False} | UP] * 2
    add_ride(store, "a", [*ridden, {"gear": 3, "power_w": 100.0} | FLAT])
    used = computed(store).frame("use_by_gear")
    columns = ["gear", "seconds", "metres", "climb_m", "work_j", "rides"]
    assert used.select(columns).rows() == [
        (1, 0.0, 0.0, 0.0, 0.0, 0),
        (2, 2.0, 10.0, 0.5, 400.0, 1),
        (3, 1.0, 5.0, 0.0, 100.0, 1),
        (4, 0.0, 0.0, 0.0, 0.0, 0),
        (5, 0.0, 0.0, 0.0, 0.0, 0),
    ]
    assert used["share"].to_list() == pytest.approx([0, 2 / 3, 1 / 3, 0, 0])
    assert used["share_of_work"].to_list() == pytest.approx([0, 0.8, 0.2, 0, 0])


def test_what_was_not_recorded_is_unknown_and_not_zero() -> None:
    """Without power no work, without altitudes no climbing, in used and unused gears alike."""
    store = a_store()
    add_ride(store, "a", [{"gear": 2}] * 3)
    used = computed(store).frame("use_by_gear")
    assert used.select("climb_m", "work_j", "share_of_climb", "share_of_work").null_count().row(
        0
    ) == (5, 5, 5, 5)


def test_work_is_that_of_the_seconds_with_power() -> None:
    """A power meter that fails for a second leaves its work out, and says for how long it spoke."""
    store = a_store()
    add_ride(store, "a", [{"gear": 2, "power_w": 150.0}, {"gear": 2}, {"gear": 2, "power_w": 50.0}])
    used = computed(store).frame("use_by_gear").filter(pl.col("gear") == 2)
    assert used.select("work_j", "powered_s", "seconds").row(0) == (200.0, 2.0, 3.0)


def test_vehicle_without_any_named_gear_has_no_unused_ones() -> None:
    """Nobody knows which gears were used: none is said to be unused."""
    store = a_store()
    add_ride(store, "a", [{"coupled": None}] * 3)
    assert computed(store).frame("use_by_gear").is_empty()


def test_stepless_drivetrains_are_told_by_bands_of_development() -> None:
    """Half a metre wide; 3.2 and 3.4 m are one band, 3.5 m the next."""
    store = a_store(stepless=True)
    add_ride(store, "a", [{"development_m": metres} for metres in (3.2, 3.4, 3.5)])
    used = computed(store).frame("use_by_gear")
    assert used.select("gear", "development_from_m", "seconds").rows() == [
        (None, 3.0, 2.0),
        (None, 3.5, 1.0),
    ]


def test_stray_seconds_in_no_gear_are_no_gear() -> None:
    """A vehicle that has gears is not told by development as well."""
    store = a_store()
    add_ride(store, "a", [{"gear": 2}, {"development_m": 3.2}])
    assert computed(store).frame("use_by_gear")["gear"].null_count() == 0


def test_rides_of_nobody_count_for_nobody() -> None:
    """A recording that another stands for has no vehicle."""
    store = a_store()
    add_ride(store, "a", [{"gear": 2}] * 3)
    add_ride(store, "b", [{"gear": 2}] * 3, of=None)
    assert computed(store).frame("use_by_gear")["seconds"].sum() == 3.0


def test_grade_bands_are_two_percent_wide_and_open_at_the_ends() -> None:
    """-1 to +1 % is level; everything steeper than 11 % is one band."""
    store = a_store()
    grades = (-0.0099, 0.0099, 0.0101, 0.121, 0.3, -0.2)
    add_ride(store, "a", [{"gear": 2, "grade": grade} for grade in grades])
    told = computed(store).frame("use_by_grade")
    assert told.select("grade_from", "grade_to", "seconds").rows() == [
        (-0.13, pytest.approx(-0.11), 1.0),
        (-0.01, pytest.approx(0.01), 2.0),
        (0.01, pytest.approx(0.03), 1.0),
        (0.11, pytest.approx(0.13), 2.0),
    ]


def test_shares_by_speed_are_of_their_band() -> None:
    """At 5 to 6 m/s gear 2 drove a third of the time, at 7 m/s gear 3 alone."""
    store = a_store()
    speeds = ((2, 5.0), (3, 5.2), (3, 5.9), (3, 7.0))
    add_ride(store, "a", [{"gear": gear, "speed_mps": speed} for gear, speed in speeds])
    told = computed(store).frame("use_by_speed")
    assert told.select("speed_from_mps", "gear", "share").rows() == [
        (5.0, 2, pytest.approx(1 / 3)),
        (5.0, 3, pytest.approx(2 / 3)),
        (7.0, 3, 1.0),
    ]


def test_hours_count_from_the_start_of_the_ride() -> None:
    """The 3,600th second is the first of the second hour."""
    store = a_store()
    add_ride(store, "a", [{"gear": 2}] * 3602)
    told = computed(store).frame("use_by_hour")
    assert told.select("hour", "seconds").rows() == [(1, 3600.0), (2, 2.0)]


def test_months_are_those_in_which_rides_began() -> None:
    """Two rides in April, one in May."""
    store = a_store()
    for day, month, seconds in ((2, 4, 3), (30, 4, 2), (1, 5, 4)):
        begun = datetime(2031, month, day, 8, tzinfo=UTC)
        add_ride(store, f"{month}-{day}", [{"gear": 2}] * seconds, begun)
    told = computed(store).frame("use_by_month")
    assert told.select("month", "seconds").rows() == [
        (date(2031, 4, 1), 5.0),
        (date(2031, 5, 1), 4.0),
    ]
    assert told["share"].to_list() == [1.0, 1.0]


def test_every_breakdown_adds_up_to_the_use_by_gear() -> None:
    """Nothing is lost or counted twice where grade and speed are known."""
    store = a_store()
    ridden = [
        {"gear": 1 + n % 4, "grade": (n % 30 - 15) / 100, "speed_mps": 2.0 + n % 7, "climb_m": 0.1}
        for n in range(4000)
    ]
    add_ride(store, "a", ridden)
    computed(store)
    whole = store.frame("use_by_gear").filter(pl.col("seconds") > 0)
    for by in ("grade", "speed", "hour", "month"):
        parts = (
            store.frame(f"use_by_{by}")
            .group_by("gear")
            .agg(pl.sum("seconds", "metres", "climb_m"))
            .sort("gear")
        )
        for name in ("seconds", "metres", "climb_m"):
            assert parts[name].to_list() == pytest.approx(whole[name].to_list())
