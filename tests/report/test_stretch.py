"""The stretch: which ten minutes, what state each second is in, and how it is drawn and told."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl
import pytest

from ridelab.report.digits import Printer
from ridelab.report.findings import read_findings
from ridelab.report.markup import text
from ridelab.report.stretch import sentence, stretch_of_ride, stretch_table
from tests.report import fabricated
from tests.report.fabricated import FabricatedStore
from tests.report.parsed import parse

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.report.findings import VehicleFindings

METRIC = Printer("metric")
GEARS = {1: 1.0, 2: 1.4}
MINUTE = 60


def tern(rides: int = 1) -> FabricatedStore:
    """Return a store with a vehicle of two gears, 20 minutes a ride, without shifts."""
    store = FabricatedStore()
    fabricated.vehicle(store, "tern")
    fabricated.measured(store, "tern", GEARS)
    for number in range(1, rides + 1):
        fabricated.ride(store, "tern", number, GEARS)
    store.run("delete from shifts")
    return store


def shifts(store: FabricatedStore, number: int, minutes: Sequence[float]) -> None:
    """Add shifts to a ride of tern at these minutes."""
    ride = f"tern-{number}".encode().hex().ljust(64, "0")
    rows = [
        {"ride": ride, "t_s": 60.0 * minute, "from_gear": 1, "to_gear": 2} for minute in minutes
    ]
    store.add("shifts", *(row | {"while_decoupled": False} for row in rows))


def found(store: FabricatedStore) -> VehicleFindings:
    """Return the one vehicle of a store."""
    (vehicle,) = read_findings(store).vehicles
    return vehicle


def test_the_ten_minutes_with_the_most_shifts_are_shown() -> None:
    """Of two rides the second, from its seventh minute on."""
    store = tern(rides=2)
    shifts(store, 1, [1.5, 2.5, 9.5])
    shifts(store, 2, [0.5, 7.5, 9.5, 15.5, 16.5])
    (row,) = store.frame("busiest_stretches").iter_rows(named=True)
    assert (row["vehicle"], row["from_s"], row["to_s"], row["shifts"]) == ("tern", 420, 1020, 4)
    stretch = found(store).stretch
    assert stretch["path"].unique().to_list() == ["rides/tern/day-2.fit"]
    assert stretch["t_s"].to_list() == [float(second) for second in range(420, 1020)]


def test_without_shifts_the_most_pedalled_minutes_are_shown() -> None:
    """The first five minutes have no development."""
    store = tern()
    store.run("update engaged_samples set development_m = null where n < 300")
    (row,) = store.frame("busiest_stretches").iter_rows(named=True)
    assert (row["from_s"], row["shifts"]) == (300, 0)


def test_a_ride_without_any_development_has_no_stretch(store: FabricatedStore) -> None:
    """Nothing can be named of mole, and nothing is shown."""
    assert "mole" not in store.frame("busiest_stretches")["vehicle"].to_list()
    assert read_findings(store).vehicles[4].stretch.is_empty()


def test_ten_records_a_second_make_one_row_a_second() -> None:
    """600 rows at most, however fast a ride was recorded; each is the first of its second."""
    store = tern()
    store.run("update recorded_samples set t_s = t_s / 10")
    stretch = found(store).stretch
    assert stretch["t_s"].to_list() == [float(second) for second in range(120)]
    assert stretch["seconds"].to_list() == [1.0] * 120


@pytest.mark.parametrize(
    ("changed", "state"),
    [
        ("gear_probability = 0.81, coupled = true", "driving"),
        ("gear_probability = 0.79, coupled = true", "in doubt"),
        ("gear_probability = 0.81, coupled = false", "without drive"),
        ("gear_probability = 0.79, coupled = false", "in doubt"),
        ("gear_probability = 0.81, coupled = null", "in doubt"),
        ("gear = null, gear_probability = null, coupled = true", "no gear"),
        ("gear = null, gear_probability = null, coupled = false", "without drive"),
    ],
)
def test_state_of_a_second(changed: str, state: str) -> None:
    """Doubt comes first, since what is not known is not to be shown as known."""
    store = tern()
    store.run(f"update engaged_samples set {changed}")  # noqa: S608 - our own words
    assert found(store).stretch["state"].unique().to_list() == [state]


_TYPES = {
    "gear": pl.Int32,
    "level_m": pl.Float64,
    "altitude_m": pl.Float64,
    "altitude_source": pl.String,
}


def held(*spells: tuple[int | None, str, int]) -> pl.DataFrame:
    """Return a stretch of these spells: gear, state, seconds; one second is lost after each."""
    rows: list[dict[str, Any]] = []
    t_s = 0.0
    for hold, (gear, state, seconds) in enumerate(spells, 1):
        for _ in range(seconds):
            level = None if gear is None else 2.0 * 1.4 ** (gear - 1)
            rows.append(
                {
                    "path": "rides/tern/day-1.fit",
                    "from_s": 0.0,
                    "to_s": 600.0,
                    "shifts": len(spells) - 1,
                    "t_s": t_s,
                    "seconds": 1.0,
                    "development_m": level or 3.0,
                    "gear": gear,
                    "state": state,
                    "level_m": level,
                    "hold": hold,
                    "altitude_m": None,
                    "altitude_source": None,
                }
            )
            t_s += 1.0
    return pl.DataFrame(rows, schema_overrides=_TYPES)


LADDER = pl.DataFrame(
    {"gear": [1, 2], "development_m": [2.0, 2.8], "published_development_m": [2.0, 2.8]}
)


def rows_with(stretch: pl.DataFrame, *fields: str) -> list[dict[str, Any]]:
    """Return the packed rows of the chart that have exactly these fields."""
    sets = stretch_of_ride(stretch, LADDER, METRIC).to_dict()["datasets"].values()
    return [row for rows in sets for row in rows if set(row) == set(fields)]


def test_the_stair_has_a_tread_for_each_gear_and_state_and_a_riser_between_gears() -> None:
    """Three treads in two gears: one riser, from 2.8 m down to 2 m."""
    stretch = held((2, "driving", 30), (2, "without drive", 6), (1, "driving", 24))
    treads = rows_with(stretch, "state", "minute", "until", "development", "words")
    by_state = {row["state"]: row for row in treads}
    driving = by_state["crank drives the wheel"]
    assert driving["minute"] == [0.0, 0.6]
    assert driving["until"] == [0.5, 1.0]
    assert driving["development"] == [2.8, 2.0]
    assert by_state["without drive"]["words"] == ["gear 2: without drive, 6 s"]
    (riser,) = rows_with(stretch, "minute", "development", "below")
    assert (riser["minute"], riser["development"], riser["below"]) == ([0.6], [2.0], [2.8])


def test_the_stair_is_broken_where_nothing_was_recorded() -> None:
    """A pause of half a minute: no riser across it."""
    stretch = held((2, "driving", 30), (1, "driving", 24))
    paused = stretch.with_columns(t_s=pl.col("t_s") + 30.0 * (pl.col("hold") > 1))
    (joined,) = rows_with(stretch, "minute", "development", "below")
    (apart,) = rows_with(paused, "minute", "development", "below")
    assert (joined["below"], apart["below"]) == ([2.8], [])


def test_each_state_has_a_shape_of_its_own() -> None:
    """None is told by colour alone: points differ in shape, the stair in dashes."""
    stretch = held(
        (2, "driving", 9), (2, "without drive", 9), (2, "in doubt", 9), (None, "no gear", 9)
    )
    layers = stretch_of_ride(stretch, LADDER, METRIC).to_dict()["layer"]
    (shapes,) = {
        tuple(layer["encoding"]["shape"]["scale"]["range"])
        for layer in layers
        if "shape" in layer["encoding"]
    }
    assert len(set(shapes)) == 4
    dashes = [
        tuple(layer["mark"]["strokeDash"])
        for layer in layers
        if "x2" in layer["encoding"] and layer["mark"]["strokeWidth"] > 0
    ]
    assert len(set(dashes)) == 3


def test_the_sentence_tells_shares_of_the_time() -> None:
    """Half driving, a tenth without drive, four tenths in doubt."""
    stretch = held((2, "driving", 50), (2, "without drive", 10), (1, "in doubt", 40))
    said = sentence(stretch, METRIC).replace("\u00a0", " ")
    assert said.startswith("Minutes 0 to 2 of day-1.fit, the busiest ten: 2 shifts, gears 1 to 2.")
    assert "drove the wheel for 50 % of the time, and not for 10 %; for 40 % the gear is" in said
    assert "none is named" not in said


def test_where_no_gear_is_named_the_developments_are_told() -> None:
    """As of a stepless hub: from end to end, in the units asked for."""
    stretch = held((None, "no gear", 60))
    assert "developments range from 3.00 to 3.00\u00a0m" in sentence(stretch, METRIC)
    assert "\u00a0ft" in sentence(stretch, Printer("imperial"))


def test_the_table_has_a_row_for_each_time_in_a_gear() -> None:
    """Seconds by state add up to the time held."""
    stretch = held((2, "driving", 30), (1, "in doubt", 20), (2, "without drive", 5))
    page = parse(stretch_table(stretch, METRIC, text("Ten minutes")))
    rows = [[cell.text for cell in row.children] for row in page.all("tr")[1:]]
    assert rows == [
        ["0:00", "2", "2.80", "30", "0", "0", "–"],
        ["0:30", "1", "–", "0", "0", "20", "–"],
        ["0:50", "2", "–", "0", "5", "0", "–"],
    ]


def test_without_gears_the_table_has_a_row_a_minute() -> None:
    """There are no times in a gear to list."""
    page = parse(stretch_table(held((None, "no gear", 130)), METRIC, text("Ten minutes")))
    rows = [[cell.text for cell in row.children] for row in page.all("tr")[1:]]
    assert [row[0] for row in rows] == ["0:00", "1:00", "2:00"]
    assert [row[3] for row in rows] == ["60", "60", "10"]
