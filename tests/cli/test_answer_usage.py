"""What a rider is told first, on one screen: gears, comfort, shifts."""

from __future__ import annotations

from typing import Any

import pytest

from ridelab.cli.answer_usage import print_usage
from tests.analysis.used import a_store, add_ride, computed


def at(cadence: float, gear: int, seconds: int, **more: Any) -> list[dict[str, Any]]:  # noqa: ANN401 - columns of samples
    """Seconds in one gear."""
    return [{"cadence_rpm": cadence, "gear": gear, **more}] * seconds


@pytest.fixture(autouse=True)
def eighty_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    """The width of a terminal that nobody made wider."""
    monkeypatch.setenv("COLUMNS", "80")


def printed(store: Any, capsys: pytest.CaptureFixture[str], units: Any = "metric") -> str:  # noqa: ANN401 - a store made up
    """The answer, no line wider than the screen."""
    print_usage(computed(store), units)
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= 80
    return text


def test_the_answer_comes_in_words_before_the_table(capsys: pytest.CaptureFixture[str]) -> None:
    """Gears that carry half of the time, those never used, comfort and why not, shifts."""
    store = a_store()
    store.run("update stated_vehicles set comfortable_low_rpm = 60, comfortable_high_rpm = 90")
    ridden = [*at(80, 2, 100), *at(80, 3, 500), *at(100, 5, 100), *at(50, 3, 300)]
    add_ride(store, "a", ridden)
    lines = printed(store, capsys).splitlines()
    assert lines[0] == "heron (bicycle, five)"
    assert lines[1] == "80 % of 17 min with drive in gear 3; never in gears 1 and 4"
    words = " ".join(line.strip() for line in lines[2:8])
    assert "comfortable as stated at 60 to 90 rpm" in words
    assert "faster 10 % (no gear was left)" in words
    assert "slower 30 % (another gear would have been within)" in words
    assert "0.6 shifts a km, 0.2 a minute: 2 up, 1 down, 67 % over several gears" in words
    table = [line.split() for line in lines if line.strip()[:1].isdigit() and ":" in line]
    assert [row[:3] for row in table[-3:]] == [
        ["2", "0:01:40", "10"],
        ["3", "0:13:20", "80"],
        ["5", "0:01:40", "10"],
    ]


def test_only_what_was_recorded_has_a_column(capsys: pytest.CaptureFixture[str]) -> None:
    """No altitudes, no climb; power for half of the time, and that is said."""
    store = a_store()
    add_ride(store, "a", [*at(80, 3, 50, power_w=100.0), *at(80, 3, 50)])
    text = printed(store, capsys)
    assert "climb" not in text
    assert "kJ" in text
    assert "power was recorded for 50 % of the time" in text


def test_rider_who_never_shifts_and_hardly_rode(capsys: pytest.CaptureFixture[str]) -> None:
    """Said in words, not as a row of zeros."""
    store = a_store()
    add_ride(store, "a", at(80, 3, 50))
    text = printed(store, capsys)
    assert "not one shift" in text
    assert "too little was ridden to say which cadence is comfortable" in text


def test_distances_are_shown_in_the_units_of_the_campaign(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """One shift in 1,609.344 m is 1.0 a mile."""
    store = a_store()
    way = [{"gear": 2 + (n >= 50), "speed_mps": 16.09344} for n in range(100)]
    add_ride(store, "a", way)
    assert "1.0 shifts a mi" in printed(store, capsys, "imperial")


def test_vehicle_of_which_nothing_is_known_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    """It is not left out."""
    store = a_store()
    add_ride(store, "a", [{"coupled": None}] * 50)
    assert "nothing can be told of the use of its gears" in printed(store, capsys)


def test_stepless_drivetrain_is_told_by_developments(capsys: pytest.CaptureFixture[str]) -> None:
    """Bands instead of gears."""
    store = a_store(stepless=True)
    add_ride(store, "a", [{"development_m": 4.2}] * 80 + [{"development_m": 5.2}] * 20)
    assert "80 % of 2 min with drive at developments of 4.0 to 4.5 m" in printed(store, capsys)


def test_detours_are_told_with_the_way_that_would_have_done(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Up two, down one."""
    store = a_store()
    add_ride(store, "a", [*at(80, 2, 20), *at(80, 4, 4), *at(80, 3, 20)])
    text = " ".join(printed(store, capsys).split())
    assert "1 detour in quick succession, such as 2-4-3 for 2-3" in text


def test_levers_of_a_compound_drivetrain_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    """Which stage was moved, a passage by its combinations, and what shared gears leave open."""
    store = a_store()
    for combination, gear in (("30/30", 1), ("45/30", 2), ("30/20", 2), ("45/25", 3), ("30/15", 4)):
        front = combination.split("/")[0]
        row = {"drivetrain": "five", "combination": combination, "front": front, "gear": gear}
        store.add("published_combinations", row | {"ratio": 1.0})
    gears = (1, 4, 3, 4, 2)
    add_ride(store, "a", [second for gear in gears for second in at(80, gear, 20)])
    assert (
        "shifted: the rear alone 25 %, both 50 %; 25 % cannot be told, as combinations share gears"
    ) in " ".join(printed(store, capsys).split())


def test_stepless_rider_is_told_whether_the_range_ended(capsys: pytest.CaptureFixture[str]) -> None:
    """At 6 m, the end, 100 rpm; at 4 m 50 rpm, where 3 m would have asked 67."""
    store = a_store(stepless=True)
    store.run("update stated_vehicles set comfortable_low_rpm = 60, comfortable_high_rpm = 90")
    store.run("update stated_vehicles set stated_rollout_m = 2")
    store.run("update inferred_vehicles set effective_rollout_m = null")
    span = {"drivetrain": "five", "lowest_ratio": 1.5, "highest_ratio": 3.0}
    store.add("published_spans", span)
    ways = ((100.0, 6.0, 10), (50.0, 4.0, 20), (75.0, 4.0, 70))
    add_ride(
        store,
        "a",
        [
            {"cadence_rpm": cadence, "development_m": metres}
            for cadence, metres, seconds in ways
            for _ in range(seconds)
        ],
    )
    text = " ".join(printed(store, capsys).split())
    assert "faster 10 % (the range ended)" in text
    assert "slower 20 % (another ratio would have been within)" in text
