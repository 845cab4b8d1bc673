"""Further rides measured beside those that were: the same as all anew, or all anew."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import pytest

from ridelab.drivetrain.ladder import published_ladder
from ridelab.gears import VehicleGears, may_add, measure_more, measure_vehicle
from ridelab.telemetry.ride import GEAR_CHANGE_SCHEMA
from tests.gears.riding import COAST, EVEN_14, ride
from tests.simulate.rides import FOURTEEN

if TYPE_CHECKING:
    from ridelab.gears.kept import Kept
    from ridelab.telemetry.ride import Ride

LADDER = published_ladder(FOURTEEN)
ROLLOUT_M = 2.1


def a_day(number: int, gears: tuple[int, ...] = (5, 7, 6, 9, 8), rollout_m: float = 2.1) -> Ride:
    """Return a ride of twelve minutes, each gear twice, with pauses."""
    schedule = [(gear, 60) for gear in gears] + [(COAST, 10)]
    return ride(schedule * 2, LADDER.ratios, rollout_m, seed=number, name=f"day-{number:02}")


@pytest.fixture(scope="module")
def ten_days() -> VehicleGears:
    """Return a vehicle as measured over ten rides."""
    return measure_vehicle("heron", [a_day(n) for n in range(10)], LADDER, ROLLOUT_M, True)


def more(kept: Kept | None, *rides: Ride) -> VehicleGears | None:
    """Measure rides beside those kept."""
    assert kept is not None
    return measure_more("heron", rides, kept, LADDER, ROLLOUT_M, True)


def test_one_ride_more_comes_to_what_all_anew_does(ten_days: VehicleGears) -> None:
    """Gears, intervals, seconds and range agree; only the new ride is decoded."""
    found = more(ten_days.kept, a_day(10))
    anew = measure_vehicle("heron", [a_day(n) for n in range(11)], LADDER, ROLLOUT_M, True)
    assert found is not None
    assert [one.ride for one in found.rides] == ["day-10"]
    assert found.earlier == tuple(f"day-{n:02}" for n in range(10))
    assert found.gears["gear"].to_list() == [5, 6, 7, 8, 9]
    for column, within in (("ratio", 3e-5), ("ratio_low", 5e-5), ("seconds", 0.003)):
        expected = anew.gears[column].to_numpy()
        assert found.gears[column].to_numpy() == pytest.approx(expected, rel=within)
    assert found.range is not None
    assert anew.range is not None
    assert found.range.range.value == pytest.approx(anew.range.range.value, rel=5e-5)
    engaged, again = found.rides[0].engaged, anew.rides[10].engaged
    assert np.mean(engaged["gear"].to_numpy() == again["gear"].to_numpy()) > 0.995


def test_the_new_ride_counts(ten_days: VehicleGears) -> None:
    """Its seconds and spells are added, and intervals of gears it rode do not widen."""
    found = more(ten_days.kept, a_day(10, (7, 8)))
    assert found is not None
    before, after = (
        dict(zip(one.gears["gear"], one.gears["seconds"], strict=True)) for one in (ten_days, found)
    )
    assert after[7] - before[7] == pytest.approx(120, abs=8)
    assert after[5] == before[5]
    assert found.kept is not None
    assert len(found.kept.rides) == 11
    assert found.kept.fitted == 10


@pytest.mark.parametrize(
    "odd",
    [
        a_day(10, rollout_m=2.1 * 1.03),
        a_day(10, (5, 7, 11)),
        replace(
            a_day(10),
            gear_changes=pl.DataFrame([(9.0, 1, None, 4, 17)], GEAR_CHANGE_SCHEMA, orient="row"),
        ),
    ],
    ids=["another wheel", "a gear for the first time", "recorded gears"],
)
def test_what_could_move_the_ladder_asks_for_all_rides(ten_days: VehicleGears, odd: Ride) -> None:
    """Nothing is measured beside the others that could tell of them, too."""
    assert more(ten_days.kept, odd) is None


def test_steady_riding_between_the_gears_asks_for_all_rides(ten_days: VehicleGears) -> None:
    """A minute and more at one development may be a gear that nobody published."""
    between = (*LADDER.ratios[:6], float(np.sqrt(LADDER.ratios[6] * LADDER.ratios[7])))
    odd = ride([(5, 60), (7, 200), (6, 60)], between, name="day-10")
    assert more(ten_days.kept, odd) is None


def test_a_tenth_of_the_rides_may_wait(ten_days: VehicleGears) -> None:
    """Then all are fitted anew, however well the new ones fit."""
    kept = ten_days.kept
    assert kept is not None
    assert may_add(kept, 1)
    assert not may_add(kept, 2)
    found = more(kept, a_day(10))
    assert found is not None
    assert more(found.kept, a_day(11)) is None


def test_a_ride_without_cadence_takes_no_other_ride(ten_days: VehicleGears) -> None:
    """It names no gear, as its problem says, and moves none."""
    silent = a_day(10)
    nothing = pl.lit(None, pl.Float64()).alias("cadence_rpm")
    silent = replace(silent, samples=silent.samples.with_columns(nothing))
    found = more(ten_days.kept, silent)
    assert found is not None
    assert found.gears.equals(ten_days.gears)
    assert found.rides[0].engaged["gear"].is_null().all()
    assert [one.message for one in found.problems] == ["no cadence: no gear can be named"]
    assert found.kept is not None
    assert found.kept.others == ("day-10",)


def test_nothing_is_kept_where_no_gear_is_measured() -> None:
    """A vehicle of unknown gears is measured from all its rides each time."""
    even = [ride([(7, 20)], EVEN_14, name="short")]
    assert measure_vehicle("heron", even, None, None).kept is None


def test_a_published_ladder_without_a_spell_is_measured_without_a_gear() -> None:
    """Four seconds in a gear at a time are steady stretches, and too short for spells."""
    short = [(gear, 4) for _ in range(20) for gear in (5, 9)]
    found = measure_vehicle("heron", [ride(short, LADDER.ratios, name="town")], LADDER, 2.1, True)
    assert found.gears.is_empty()
    assert found.kept is None
