"""Faults in ladders are found, and sound ladders are left alone."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import exp, log
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl
import pytest

from ridelab.analysis.health import HEALTH_SCHEMA, ladder_health
from ridelab.analysis.printed import printed_within
from ridelab.drivetrain.ladder import published_ladder
from ridelab.drivetrain.stages import Drivetrain, from_ratios, from_teeth
from tests.analysis.ridden import measured, numbered
from tests.analysis.ridden import vehicles as stated_vehicles

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

#: ln(development) of each gear, by gear.
GEARS = {gear: log(2.0) + 0.15 * gear for gear in range(1, 6)}
DAY = datetime(2031, 4, 1, tzinfo=UTC)
NO_GEARS = measured({})


def none(_ride: int, _gear: int) -> float:
    """No fault."""
    return 0.0


def spells(
    vehicle: str = "heron",
    bent: Callable[[int, int], float] = none,
    rides: int = 8,
    each: int = 6,
    noise: Mapping[int, float] | None = None,
    seed: int = 0,
) -> pl.DataFrame:
    """Spells of a vehicle ridden once a week, 0.4 % apart, its days 0.1 %.

    ``bent``: what ln(development) is off by, by ride and gear; ``noise``: of some gears otherwise.
    """
    rng = np.random.default_rng(seed)
    rows = []
    for ride in range(rides):
        day = rng.normal(0, 0.001)
        for gear, middle in GEARS.items():
            for spell in range(each):
                told = (
                    middle + day + bent(ride, gear) + rng.normal(0, (noise or {}).get(gear, 0.004))
                )
                rows.append((vehicle, f"{vehicle}{ride}", DAY + timedelta(days=7 * ride),
                             float(100 * spell + gear), gear, 20.0, exp(told)))  # fmt: skip
    names = ["vehicle", "ride", "started_at", "start_s", "gear", "seconds", "development_m"]
    return pl.DataFrame(rows, schema=names, orient="row")


def looked_at(
    told: pl.DataFrame,
    gears: pl.DataFrame = NO_GEARS,
    names: tuple[str, ...] = ("heron",),
    printed: Mapping[tuple[str, int], float] | None = None,
    moves_chain: Mapping[str, bool] | None = None,
    **known: float | bool | None,
) -> list[dict[str, Any]]:
    """The rows of the relation; the freedom of all intervals is 40."""
    precision = pl.DataFrame({"vehicle": list(names), "freedom": [40] * len(names)})
    stated = stated_vehicles(*names, **known)
    rows = ladder_health(stated, gears, precision, told, printed, moves_chain)
    assert rows.schema == HEALTH_SCHEMA
    return rows.to_dicts()


def test_sound_vehicle_gets_one_row_that_says_so() -> None:
    """With the number of tests made."""
    [row] = looked_at(spells(), measured(numbered()))
    assert row["kind"] == "sound"
    assert row["tests"] == 1 + 9 + 8 + 5 + 5  # wheel, gears, rides, drifts, scatter


def test_forty_sound_vehicles_raise_no_alarm() -> None:
    """Seeded; the chance of an alarm in the whole fleet is held below 5 %."""
    names = tuple(f"v{n}" for n in range(40))
    told = pl.concat([spells(name, seed=n) for n, name in enumerate(names)])
    assert {row["kind"] for row in looked_at(told, names=names)} == {"sound"}


def test_vehicle_without_spells_is_not_tested() -> None:
    """Nor is a stepless one, or one that was never measured."""
    nothing = spells().clear()
    for stepless in (True, None):
        [row] = looked_at(spells(), stepless=stepless)
        assert (row["kind"], row["tests"]) == ("not tested", 0)
    [row] = looked_at(nothing, effective_rollout_m=None)
    assert row["kind"] == "not tested"


def test_gear_off_in_all_rides_is_named() -> None:
    """A sprocket of 21 teeth in place of 22 makes its gear 4.8 % higher."""
    off = numbered() | {4: 1.04 * 22 / 21}
    [row] = looked_at(spells(), measured(off))
    assert (row["kind"], row["gear"]) == ("gear off", 4)
    assert row["size"] == pytest.approx(22 / 21 - 1)
    assert row["size_low"] < row["size"] < row["size_high"]
    assert row["chance"] < 0.001
    assert "gear 4 is 4.8 % above its published ratio" in row["finding"]


@pytest.mark.parametrize(
    ("moves_chain", "look", "never"),
    [
        ({"nine": True}, "look at the teeth of its sprocket", "hub"),
        ({"nine": False}, "look whether this hub or gearbox is the one described", "sprocket"),
        ({}, "look whether the drivetrain is described rightly", "sprocket"),
    ],
)
def test_what_to_look_at_fits_the_drivetrain(
    moves_chain: dict[str, bool], look: str, never: str
) -> None:
    """Nobody is sent to a sprocket for a gear that is inside a hub."""
    off = measured(numbered() | {4: 1.04 * 22 / 21})
    [row] = looked_at(spells(), off, moves_chain=moves_chain)
    assert look in row["finding"]
    assert never not in row["finding"]


def test_what_the_printed_digits_leave_open_is_no_fault() -> None:
    """A ratio of 0.55 stands for 0.545 to 0.555, 0.9 % either way."""
    drivetrain = Drivetrain("nine", (from_ratios("gearbox", (0.55, 1.0), 0.005),))
    printed = printed_within({"nine": drivetrain}, {"nine": published_ladder(drivetrain)})
    assert printed["nine", 1] == pytest.approx(0.005 / 0.55)
    off = measured(numbered() | {1: 0.5575}, error=0.001)
    assert [row["kind"] for row in looked_at(spells(), off)] == ["gear off"]
    assert [row["kind"] for row in looked_at(spells(), off, printed=printed)] == ["sound"]


def test_teeth_leave_nothing_open() -> None:
    """But the span of settings that share a gear: 42:21 and 50:25 none, 36:18 and 54:26.8 do."""
    drivetrain = Drivetrain("chain", (from_teeth("chain", (30, 60), (15, 30, 31)),))
    printed = printed_within(
        {"chain": drivetrain}, {"chain": published_ladder(drivetrain, merge_within=0.04)}
    )
    assert max(printed.values()) == pytest.approx((31 / 30 - 1) / 2)
    assert min(printed.values()) == 0.0


def test_wheel_that_rolls_further_than_stated_is_one_finding() -> None:
    """A rollout measured as 1.5 m and ridden as 1.56: 4 %, and no word on nine gears."""
    [row] = looked_at(spells(), measured(numbered()), effective_rollout_m=1.56)
    assert (row["kind"], row["gear"]) == ("wheel", None)
    assert row["size"] == pytest.approx(0.04)


def test_wheel_that_is_off_by_a_step_may_be_a_ladder_off_by_a_gear() -> None:
    """From 0.84 to 1.04 it is 24 %: who reads that of a wheel should doubt the ladder first."""
    [row] = looked_at(spells(), measured(numbered()), effective_rollout_m=1.5 * 1.04 / 0.84)
    assert row["kind"] == "wheel"
    assert "the ladder may sit a gear off" in row["finding"]
    [row] = looked_at(spells(), measured(numbered()), effective_rollout_m=1.56)
    assert "a gear off" not in row["finding"]


def test_gear_that_drifts_is_named_with_its_direction() -> None:
    """Gear 3 loses 3 % over seven weeks, the others nothing."""
    [row] = looked_at(spells(bent=lambda ride, gear: -0.03 * ride / 7 if gear == 3 else 0.0))
    assert (row["kind"], row["gear"]) == ("gear drifts", 3)
    assert row["size"] == pytest.approx(-0.03, abs=0.005)
    assert "gear 3 went down" in row["finding"]


def test_gear_that_scatters_is_named() -> None:
    """A clutch that slips now and then: four times the spread of the others."""
    [row] = looked_at(spells(noise={2: 0.016}))
    assert (row["kind"], row["gear"]) == ("gear scatters", 2)
    assert row["size_low"] < 3.0 < row["size_high"]


@pytest.mark.parametrize("rides", [2, 3, 8])
def test_ride_by_a_unit_set_to_another_wheel_stands_apart(rides: int) -> None:
    """3 % on all gears of the last ride: one finding on that ride, none on gears."""
    last = rides - 1
    rows = looked_at(spells(bent=lambda ride, _: 0.03 if ride == last else 0.0, rides=rides))
    assert [(row["kind"], row["ride"], row["gear"]) for row in rows] == [
        ("ride apart", f"heron{last}", None)
    ]
    assert rows[0]["size"] == pytest.approx(exp(0.03) - 1, abs=0.006)


def test_one_percent_on_a_ride_is_load_and_pressure() -> None:
    """Not a finding."""
    rows = looked_at(spells(bent=lambda ride, _: 0.01 if ride == 4 else 0.0))
    assert [row["kind"] for row in rows] == ["sound"]


def test_fault_of_one_vehicle_is_told_of_it_alone() -> None:
    """Among nineteen sound ones."""
    names = tuple(f"v{n}" for n in range(20))
    told = [spells(name, seed=n) for n, name in enumerate(names[1:], 1)]
    bad = spells("v0", bent=lambda ride, _: 0.03 if ride == 2 else 0.0)
    rows = looked_at(pl.concat([bad, *told]), names=names)
    assert [row["vehicle"] for row in rows if row["kind"] != "sound"] == ["v0"]


def test_chances_are_those_of_holm() -> None:
    """The least of m by m, the next by m - 1 and never less than the one before (Holm 1979).

    Two gears off equally surely: both get the chance of the first, m times its own.
    """
    off = measured(numbered() | {2: 0.68 * 1.03, 7: 1.95 / 1.03}, error=0.012)
    rows = looked_at(spells().clear(), off)
    assert [row["gear"] for row in rows] == [2, 7]
    assert rows[0]["chance"] == pytest.approx(rows[1]["chance"], rel=0.1)
