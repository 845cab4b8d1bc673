"""Cadence habits, what is comfortable, and why a rider was outside of it: counted by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.analysis.used import FIVE, a_store, add_ride, computed

if TYPE_CHECKING:
    from tests.report.fabricated import FabricatedStore


def at(cadence: float, gear: int, seconds: int) -> list[dict[str, float | int]]:
    """Seconds at one cadence in one gear."""
    return [{"cadence_rpm": cadence, "gear": gear}] * seconds


def test_habits_are_quartiles_of_the_time_that_the_crank_drove() -> None:
    """100 s at 60, 200 s at 70, 100 s at 90; coasting counts for nothing."""
    store = a_store()
    coasting = [{"cadence_rpm": 30.0, "gear": 3, "coupled": False}] * 500
    add_ride(store, "a", [*at(60, 3, 100), *at(70, 3, 200), *at(90, 3, 100), *coasting])
    habits = computed(store).frame("cadence_habits").row(0, named=True)
    assert habits["seconds"] == 400.0
    assert habits["mean_rpm"] == pytest.approx(72.5)
    quartiles = ("lower_quartile_rpm", "median_rpm", "upper_quartile_rpm")
    assert [habits[name] for name in quartiles] == [60, 70, 70]
    bands = store.frame("cadence_bands")
    assert bands.select("from_rpm", "to_rpm", "share").rows() == [
        (60, 70, 0.25),
        (70, 80, 0.5),
        (90, 100, 0.25),
    ]


def test_stated_comfort_stands() -> None:
    """Whatever was ridden."""
    store = a_store()
    store.run("update stated_vehicles set comfortable_low_rpm = 55, comfortable_high_rpm = 95")
    add_ride(store, "a", at(40, 3, 1000))
    assert computed(store).frame("comfortable_cadence").rows() == [("heron", 55.0, 95.0, True)]


def test_comfort_is_the_central_four_fifths_in_gears_that_were_chosen() -> None:
    """A tenth at 50, a tenth at 100 left out; crawling in the lowest gear is no choice."""
    store = a_store()
    chosen = [*at(50, 2, 99), *at(65, 3, 401), *at(85, 4, 401), *at(100, 3, 99)]
    add_ride(store, "a", [*chosen, *at(35, 1, 5000), *at(120, 5, 5000)])
    assert computed(store).frame("comfortable_cadence").rows() == [("heron", 65.0, 85.0, False)]


def test_less_than_ten_minutes_tell_no_habit() -> None:
    """The row is there, and says that nothing is known; nor is anything outside of it."""
    store = a_store()
    add_ride(store, "a", at(70, 3, 599))
    assert computed(store).frame("comfortable_cadence").rows() == [("heron", None, None, False)]
    assert store.frame("outside_comfort").is_empty()


def test_stepless_riders_choose_everywhere() -> None:
    """No end of a ladder is left out where there is no ladder."""
    store = a_store(stepless=True)
    add_ride(store, "a", [{"cadence_rpm": 70.0, "development_m": 4.0}] * 600)
    assert computed(store).frame("comfortable_cadence").rows() == [("heron", 70.0, 70.0, False)]


@pytest.mark.parametrize(
    ("cadence", "gear", "side", "why"),
    [
        # steps of 25 %: 100 rpm in gear 3 are 80 in gear 4; 50 rpm in gear 3 are 62.5 in gear 2
        pytest.param(100, 3, "above", "none chosen", id="another gear would do"),
        pytest.param(100, 5, "above", "no gear left", id="spun out"),
        pytest.param(120, 4, "above", "no gear left", id="the last gear would not do either"),
        pytest.param(50, 3, "below", "none chosen", id="too high a gear"),
        pytest.param(40, 1, "below", "no gear left", id="over-geared"),
        pytest.param(45, 2, "below", "no gear left", id="nor would the lowest gear do"),
    ],
)
def test_why_a_cadence_is_outside(cadence: int, gear: int, side: str, why: str) -> None:
    """Comfort is 60 to 90 rpm, the ladder has five gears a quarter apart."""
    store = a_store()
    store.run("update stated_vehicles set comfortable_low_rpm = 60, comfortable_high_rpm = 90")
    add_ride(store, "a", [*at(cadence, gear, 30), *at(75, 3, 70)])
    told = computed(store).frame("outside_comfort")
    assert len(told) == 6
    shares = {(row["side"], row["why"]): row["share"] for row in told.to_dicts()}
    assert shares.pop((side, why)) == pytest.approx(0.3)
    assert set(shares.values()) == {0.0}


def test_a_step_across_comfort_is_too_wide() -> None:
    """Gears 80 % apart: 95 rpm become 52.8, and comfort from 60 to 90 lies in between."""
    store = a_store((1.0, 1.8, 3.24))
    store.run("update stated_vehicles set comfortable_low_rpm = 60, comfortable_high_rpm = 90")
    add_ride(store, "a", at(95, 2, 10))
    told = {(row["side"], row["why"]): row["share"] for row in _told(store)}
    assert told["above", "step too wide"] == 1.0


def test_measured_ratios_decide_before_published_ones() -> None:
    """Gear 4 was measured 12 % higher than published: 100 rpm in gear 3 would be 71, not 80."""
    store = a_store(measures=(3, 4))
    store.run("update measured_gears set ratio = ratio * 1.12 where gear = 4")
    store.run("update stated_vehicles set comfortable_low_rpm = 75, comfortable_high_rpm = 90")
    add_ride(store, "a", at(100, 3, 10))
    told = {(row["side"], row["why"]): row["share"] for row in _told(store)}
    assert told["above", "step too wide"] == 1.0
    assert FIVE[3] / FIVE[2] == 1.25


@pytest.mark.parametrize(
    ("cadence", "development_m", "side", "why"),
    [
        # pace = cadence × development; 3.0 to 6.0 m can be had, comfort is 60 to 90 rpm
        pytest.param(100, 4.0, "above", "none chosen", id="6 m would ask 67 rpm"),
        pytest.param(100, 5.9, "above", "no gear left", id="6 m would ask 98 rpm"),
        pytest.param(50, 4.0, "below", "none chosen", id="3 m would ask 67 rpm"),
        pytest.param(50, 3.1, "below", "no gear left", id="3 m would ask 52 rpm"),
    ],
)
def test_why_a_stepless_rider_is_outside(
    cadence: int, development_m: float, side: str, why: str
) -> None:
    """By the published ends: ratios of 1.5 to 3 on a wheel of 2 m."""
    store = stepless((1.5, 3.0))
    add_ride(store, "a", [*steplessly(cadence, development_m, 30), *steplessly(75, 4.0, 70)])
    rows = _told(store)
    assert {row["stepless"] for row in rows} == {True}
    shares = {(row["side"], row["why"]): row["share"] for row in rows}
    assert shares.pop((side, why)) == pytest.approx(0.3)
    assert set(shares.values()) == {0.0}


def test_hole_between_stepless_spans_is_too_wide_a_step() -> None:
    """2 to 3 m and 5 to 8 m: at 95 rpm and 3 m, pace 285, comfort would be 3.2 to 4.75 m."""
    store = stepless((1.0, 1.5), (2.5, 4.0))
    add_ride(store, "a", [*steplessly(95, 3.0, 10), *steplessly(75, 5.5, 10)])
    told = {(row["side"], row["why"]): row["share"] for row in _told(store)}
    assert told["above", "step too wide"] == 0.5


def test_without_papers_the_range_is_as_ridden() -> None:
    """From 3 m to 6 m, a stray sample beyond left out: at 6 m and 100 rpm none longer is known."""
    store = stepless()
    road = [*steplessly(75, 3.0, 500), *steplessly(100, 6.0, 500), *steplessly(75, 9.0, 1)]
    add_ride(store, "a", road)
    told = {(row["side"], row["why"]): row["share"] for row in _told(store)}
    assert told["above", "no gear left"] == pytest.approx(500 / 1001)
    [span] = store.frame("all_spans").to_dicts()
    assert span == {
        "vehicle": "heron", "low": pytest.approx(3.0), "high": pytest.approx(6.0),
        "known_by": "ridden",
    }  # fmt: skip


def stepless(*spans: tuple[float, float]) -> FabricatedStore:
    """A vehicle ridden stepless on a wheel of 2 m, its spans of ratios published, if any."""
    store = a_store(stepless=True)
    store.run(
        "update stated_vehicles set comfortable_low_rpm = 60, comfortable_high_rpm = 90, "
        "stated_rollout_m = 2; update inferred_vehicles set effective_rollout_m = null"
    )
    for low, high in spans:
        row = {"drivetrain": "five", "lowest_ratio": low, "highest_ratio": high}
        store.add("published_spans", row)
    return store


def steplessly(cadence: float, development_m: float, seconds: int) -> list[dict[str, float]]:
    """Seconds at one cadence and development."""
    return [{"cadence_rpm": cadence, "development_m": development_m}] * seconds


def _told(store: object) -> list[dict[str, object]]:
    return computed(store).frame("outside_comfort").to_dicts()  # type: ignore[arg-type]
