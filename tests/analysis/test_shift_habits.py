"""Shift habits, pairs and sequences: given the gears second by second, counted by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.analysis.used import a_store, add_ride, computed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tests.report.fabricated import FabricatedStore


def ridden(*gears: Sequence[int]) -> FabricatedStore:
    """A store with a ride in each of these gears, one a second, at 5 m/s."""
    store = a_store()
    for number, own in enumerate(gears):
        add_ride(store, f"ride-{number}", [{"gear": gear} for gear in own])
    return computed(store)


def habits(store: FabricatedStore) -> dict[str, Any]:
    """The row of the only vehicle."""
    return store.frame("shift_habits").row(0, named=True)


def test_shifts_are_counted_over_way_and_time() -> None:
    """Three shifts in 120 s at 5 m/s: 5 a kilometre, 1.5 a minute."""
    told = habits(ridden([*[2] * 30, *[3] * 30, *[5] * 30, *[4] * 30]))
    assert (told["shifts"], told["up"], told["down"], told["several_gears"]) == (3, 2, 1, 1)
    assert (told["shifts_per_km"], told["shifts_per_minute"]) == (5.0, 1.5)
    assert (told["under_load"], told["while_coasting"], told["hunting"]) == (3, 0, 0)


def test_standing_takes_no_time_and_no_way() -> None:
    """A minute at a red light makes nobody shift less often."""
    store = a_store()
    halt = [{"gear": 2, "speed_mps": 0.0, "coupled": None}] * 60
    add_ride(store, "a", [*[{"gear": 2}] * 30, *halt, *[{"gear": 2}] * 30])
    told = habits(computed(store))
    assert (told["minutes"], told["km"], told["shifts"]) == (1.0, 0.3, 0)


def test_shift_while_coasting_is_told_apart() -> None:
    """Ten seconds without drive, and another gear after them."""
    store = a_store()
    coast = [{"gear": 2, "coupled": False}] * 10
    add_ride(store, "a", [*[{"gear": 2}] * 20, *coast, *[{"gear": 4}] * 20])
    told = habits(computed(store))
    assert (told["under_load"], told["while_coasting"]) == (0, 1)


@pytest.mark.parametrize(("between", "hunting"), [(6, 1), (10, 1), (11, 0)])
def test_there_and_back_within_ten_seconds_is_hunting(between: int, hunting: int) -> None:
    """The shift that undoes is counted, once."""
    told = habits(ridden([*[2] * 30, *[3] * between, *[2] * 30]))
    assert (told["shifts"], told["hunting"]) == (2, hunting)


def test_vehicle_without_gears_has_no_habits() -> None:
    """Nobody shifts a stepless hub, and where no gear can be named no shift can be seen."""
    store = a_store(stepless=True)
    add_ride(store, "a", [{"development_m": 4.0}] * 60)
    assert computed(store).frame("shift_habits").is_empty()
    store = a_store()
    add_ride(store, "a", [{"gear": 2}] * 60)
    store.run("update inferred_rides set gear_source = 'none'")
    assert computed(store).frame("shift_habits").is_empty()


def test_pairs_come_most_frequent_first() -> None:
    """Twice from 2 to 3, once back."""
    told = ridden([*[2] * 20, *[3] * 20, *[2] * 20, *[3] * 20]).frame("shift_pairs")
    assert told.select("from_gear", "to_gear", "shifts").rows() == [(2, 3, 2), (3, 2, 1)]
    assert told["share"].sum() == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("gears", "told"),
    [
        pytest.param(
            [*[2] * 9, *[4] * 4, *[3] * 9], [("2 4 3", 2, 3, 2, 1)], id="two up, one down"
        ),
        pytest.param([*[2] * 9, *[3] * 4, *[2] * 9], [("2 3 2", 2, 2, 2, 1)], id="there and back"),
        pytest.param([*[2] * 9, *[3] * 4, *[4] * 9], [], id="one after the other"),
        pytest.param([*[2] * 9, *[4] * 8, *[3] * 9], [], id="eight seconds later"),
        pytest.param([*[2] * 9, *[4] * 9], [], id="two at once"),
    ],
)
def test_sequences_that_could_be_simpler(
    gears: list[int], told: list[tuple[str, int, int, int, int]]
) -> None:
    """Each shift within five seconds of the one before, and gears passed to and fro."""
    found = ridden(gears).frame("shift_sequences")
    columns = ["gears", "from_gear", "to_gear", "gears_too_many", "times"]
    assert found.select(columns).rows() == told


def test_sequences_are_counted_over_rides_with_an_example() -> None:
    """Twice the same, in two rides; the first of them is the example."""
    once = [*[2] * 9, *[4] * 4, *[3] * 9]
    found = ridden(once, once).frame("shift_sequences")
    assert found.select("gears", "times", "example_ride").rows() == [("2 4 3", 2, "ride-0")]
