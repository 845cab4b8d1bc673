"""Recorded gear changes: which gears they name, what that tells, and how far they agree."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import pytest

from ridelab.drivetrain.ladder import published_ladder
from ridelab.gears import measure_vehicle
from ridelab.gears.recorded import gears_by_record, strange_teeth
from ridelab.simulate import Sensors, simulate_ride
from ridelab.telemetry.ride import GEAR_CHANGE_SCHEMA
from tests.benchmarks.inference_cases import as_read
from tests.gears.riding import EVEN_14, ride, sweep
from tests.gears.test_ladder import ladder
from tests.simulate.rides import DOUBLE, FOURTEEN, chain_ride, hub_ride

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears import VehicleGears
    from ridelab.telemetry.ride import Ride

CASSETTE = (28, 24, 21, 18, 16, 14)
RATIOS = tuple(40 / teeth for teeth in CASSETTE)
#: Gears 5 to 8 of fourteen even ones fit half a step lower and higher nearly as well.
FEW = [(5, 60), (6, 60), (7, 60), (8, 60)]


def told(
    made: Ride,
    schedule: Sequence[tuple[int, int]],
    teeth: Sequence[int] | None = None,
    chainring: int | None = None,
    off: int = 0,
    early_s: float = 0.0,
) -> Ride:
    """Return the ride with every change recorded: positions, or teeth of sprockets as well."""
    starts = np.cumsum([0, *(seconds for _, seconds in schedule[:-1])])
    rows = [
        (float(at) - early_s, None, chainring, gear + off, teeth[gear - 1] if teeth else None)
        for at, (gear, _) in zip(starts, schedule, strict=True)
    ]
    return replace(made, gear_changes=pl.DataFrame(rows, schema=GEAR_CHANGE_SCHEMA, orient="row"))


def said(found: VehicleGears, severity: str) -> str:
    """All that was said with this severity."""
    return "; ".join(one.message for one in found.problems if one.severity == severity)


def test_teeth_name_gears_of_the_published_ladder() -> None:
    """40 teeth before 28 to 14 are its six gears, whatever the wheel."""
    made = told(ride(sweep(range(1, 7)), RATIOS), sweep(range(1, 7)), CASSETTE, 40)
    named = gears_by_record(made, ladder(RATIOS))
    assert named is not None
    assert named.to_list() == np.repeat([*range(1, 7)] * 2, 40).tolist()


def test_sprockets_alone_are_told_by_their_pattern() -> None:
    """No chainring is recorded: six uneven steps fit in one way; two gears fit in several."""
    every, two = sweep(range(1, 7)), [(2, 60), (3, 60)]
    assert gears_by_record(told(ride(every, RATIOS), every, CASSETTE), ladder(RATIOS)) is not None
    even = ladder(tuple(1.1**n for n in range(8)))
    assert gears_by_record(told(ride(two, RATIOS), two, (24, 22, 20)), even) is None


def test_combinations_that_share_a_gear_name_it_both() -> None:
    """24/15 and 38/24 are 1 % apart, one published gear."""
    whole = published_ladder(DOUBLE)
    shared = next(gear for gear in whole.gears if len(gear.members) > 1)
    named = {
        number
        for front in (24, 38)
        for rear in (36, 30, 26, 22, 19, 17, 15, 13, 11)
        if any(abs(front / rear / member - 1) < 1e-9 for member in shared.members)
        for number in [_named_by(front, rear)]
    }
    assert named == {shared.number}


def _named_by(front: int, rear: int) -> int:
    made = told(ride([(1, 5)], [1.0]), [(1, 5)], (rear,), front)
    named = gears_by_record(made, published_ladder(DOUBLE))
    assert named is not None
    return int(named[0])


def test_a_word_that_makes_no_sense_names_nothing_and_spoils_nothing() -> None:
    """A second of a sprocket that nobody has: no gear then, and all others as before."""
    schedule = [(1, 100), (2, 100), (3, 1), (4, 100)]
    made = told(ride(schedule, RATIOS), schedule, (28, 24, 49, 18), 40)
    named = gears_by_record(made, ladder(RATIOS))
    assert named is not None
    assert named.to_list() == np.repeat([1, 2, None, 4], [100, 100, 1, 100]).tolist()
    assert not strange_teeth(made, ladder(RATIOS))


def test_teeth_of_another_cassette_are_strange() -> None:
    """Sprockets that the published drivetrain does not have, and a warning that says so."""
    other = told(ride(sweep(range(1, 7)), RATIOS), sweep(range(1, 7)), (30, 24, 21, 18, 16, 14), 40)
    assert strange_teeth(other, ladder(RATIOS))
    assert "teeth make ratios that the published ladder does not have" in said(
        measure_vehicle("x", [other], ladder(RATIOS), 2.1), "warning"
    )


def test_recorded_positions_settle_where_an_even_ladder_sits() -> None:
    """Four of fourteen even gears, no rollout stated: the shifting says which."""
    made = ride(FEW, EVEN_14)
    silent = measure_vehicle("x", [made], ladder(EVEN_14), None)
    heard = measure_vehicle("x", [told(made, FEW)], ladder(EVEN_14), None)
    assert "may sit one gear or more" in said(silent, "warning")
    assert heard.gears["gear"].to_list() == [5, 6, 7, 8]
    assert heard.placement_probability == pytest.approx(1.0, abs=0.01)
    assert heard.rollout is not None
    assert heard.rollout.value == pytest.approx(2.1, rel=0.003)


def test_recorded_teeth_stand_against_a_wheel_that_is_set_wrong() -> None:
    """A rollout stated 13 % too low is one even step; teeth name the gears, the wheel is odd."""
    even = tuple(round(42 / 1.13**n) for n in range(8))
    ratios = tuple(40 / teeth for teeth in even)
    few = [(3, 80), (4, 80), (5, 80)]
    made = told(ride(few, ratios), few, even, 40)
    found = measure_vehicle("x", [made], ladder(ratios), 2.1 / 1.13)
    assert found.gears["gear"].to_list() == [3, 4, 5]
    assert "+13.0% from the stated" in said(found, "warning")


def test_positions_that_count_otherwise_are_told_and_not_believed() -> None:
    """The shifting counts from 0 where the ladder counts from 1; the rollout was measured."""
    made = told(ride(FEW, EVEN_14), FEW, off=-1)
    found = measure_vehicle("x", [made], ladder(EVEN_14), 2.1, rollout_is_measured=True)
    assert found.gears["gear"].to_list() == [5, 6, 7, 8]
    assert found.rides[0].recorded_agreement == 0.0
    assert "developments say 1 gear higher than was recorded, throughout" in said(found, "warning")


def test_agreement_and_lag_are_numbers() -> None:
    """Recorded two seconds before the crank shows it: the same gears, changes two seconds later."""
    schedule = sweep(range(3, 9), 40, 2)
    made = told(ride(schedule, EVEN_14), schedule, early_s=2.0)
    (one,) = measure_vehicle("x", [made], ladder(EVEN_14), 2.1).rides
    assert one.recorded_agreement == pytest.approx(1.0, abs=0.005)
    assert one.recorded_lag_s == pytest.approx(2.0, abs=0.5)


def test_without_recorded_gears_there_is_no_agreement() -> None:
    """Null, not nought."""
    (one,) = measure_vehicle("x", [ride(FEW, EVEN_14)], ladder(EVEN_14), 2.1).rides
    assert (one.recorded_agreement, one.recorded_lag_s) == (None, None)


def test_recorded_teeth_are_held_against_developments_where_nothing_is_published() -> None:
    """Six combinations of 40 and 28 to 14 teeth on a wheel of 2.1 m."""
    schedule = sweep(range(1, 7))
    made = told(ride(schedule, RATIOS), schedule, CASSETTE, 40)
    found = measure_vehicle("x", [made], None, None)
    assert re.search(r"in 6 combinations, with a rollout of 2\.(09|10)", said(found, "note"))
    assert found.rides[0].recorded_agreement == pytest.approx(1.0, abs=0.005)


def test_recorded_positions_without_a_published_ladder_are_matched_to_found_gears() -> None:
    """Positions 5 to 8 go with gears 1 to 4, which are all that were found."""
    schedule = [*FEW, *FEW]
    found = measure_vehicle("x", [told(ride(schedule, EVEN_14), schedule)], None, None)
    assert found.gears["gear"].to_list() == [1, 2, 3, 4]
    assert found.rides[0].recorded_agreement == pytest.approx(1.0, abs=0.005)
    assert said(found, "warning") == ""


@pytest.mark.parametrize("kind", ["hub", "chain"])
def test_simulated_electronic_shifting_agrees(kind: str) -> None:
    """With all that a ride holds, away from shifts; no rollout is stated, none is needed."""
    scenario, drivetrain = (hub_ride, FOURTEEN) if kind == "hub" else (chain_ride, DOUBLE)
    made = simulate_ride(scenario(sensors=Sensors(gear_events=True)), 3)
    read = replace(as_read(made, kind), gear_changes=made.gear_changes)
    found = measure_vehicle("x", [read], published_ladder(drivetrain), None)
    (one,) = found.rides
    assert one.recorded_agreement is not None
    assert one.recorded_agreement > 0.97
    assert one.recorded_lag_s == pytest.approx(0.5, abs=1.0)
    assert found.placement_probability == pytest.approx(1.0, abs=0.01)
