"""What was recorded comes back as it was, is stored whole or not at all, and stays."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ridelab.problems import Problem
from ridelab.store import Owner, StoredFile
from ridelab.store.database import Database
from ridelab.telemetry.ride import SAMPLE_SCHEMA
from tests.store.recorded import a_file, a_ride, measured

if TYPE_CHECKING:
    from ridelab.store import Store

RECORDED = ("recorded_rides", "recorded_samples", "pauses", "gear_changes", "files", "problems")


def test_ride_comes_back_as_it_was_read(store: Store) -> None:
    """Every field, to the microsecond and the last bit; only the path is as stored."""
    ride = a_ride()
    store.put_ride(ride, a_file(ride, path="rides/a.fit"))
    [loaded] = store.load_rides("heron")
    assert loaded.path.as_posix() == "rides/a.fit"
    for name in ("sha256", "format", "started_at", "sensors", "speed_source", "wheel_rollout_m"):
        assert getattr(loaded, name) == getattr(ride, name)
    assert loaded.cadence_resolution_rpm == ride.cadence_resolution_rpm
    for name in ("samples", "pauses", "gear_changes"):
        assert getattr(loaded, name).equals(getattr(ride, name))
        assert getattr(loaded, name).schema == getattr(ride, name).schema
    assert loaded.problems == (Problem("rides/a.fit", "read", "note", "odd, but harmless"),)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    values=st.lists(
        st.one_of(st.none(), st.floats(allow_nan=False, allow_infinity=False)), min_size=1
    )
)
def test_any_sample_values_come_back_exactly(store: Store, values: list[float | None]) -> None:
    """Doubles are stored as doubles, nulls as nulls, in order."""
    column = pl.Series(values, dtype=pl.Float64)
    samples = (
        SAMPLE_SCHEMA.to_frame()
        .clear(len(values))
        .with_columns(t_s=pl.int_range(len(values)).cast(pl.Float64), speed_mps=column)
    )
    ride = replace(a_ride(), samples=samples)
    store.put_ride(ride, a_file(ride))
    [loaded] = store.load_rides("heron")
    assert loaded.samples.equals(samples)


def test_rides_without_pauses_sensors_or_distance_come_back(store: Store) -> None:
    """What a file does not tell stays untold."""
    bare = replace(
        a_ride(),
        pauses=a_ride().pauses.clear(),
        gear_changes=a_ride().gear_changes.clear(),
        samples=a_ride().samples.with_columns(pl.lit(None, pl.Float64).alias("distance_m")),
        sensors=(),
        wheel_rollout_m=None,
        problems=(),
    )
    store.put_ride(bare, a_file(bare))
    [loaded] = store.load_rides("heron")
    assert (loaded.sensors, loaded.wheel_rollout_m, loaded.distance_m) == ((), None, None)
    assert loaded.pauses.equals(bare.pauses)
    assert loaded.gear_changes.equals(bare.gear_changes)


def test_rides_of_a_vehicle_come_by_time(store: Store) -> None:
    """Whatever the order in which they were stored; other vehicles' rides are not among them."""
    rides = [a_ride("late", hour=18), a_ride("early", hour=6), a_ride("noon", hour=12)]
    for ride in rides:
        store.put_ride(ride, a_file(ride))
    other = a_ride("other")
    store.put_ride(other, a_file(other, "otter"))
    assert [ride.path.name for ride in store.load_rides("heron")] == [
        "early.fit", "noon.fit", "late.fit",
    ]  # fmt: skip
    assert store.load_rides("nobody") == []


def test_ride_stored_again_is_still_one(store: Store) -> None:
    """Samples do not double."""
    ride = a_ride()
    for _ in range(2):
        store.put_ride(ride, a_file(ride))
    assert len(store.frame("rides")) == 1
    assert len(store.frame("samples")) == len(ride.samples)
    assert len(store.frame("problems")) == 1


@pytest.mark.parametrize("broken", ["recorded_samples", "gear_changes", "files", "problems"])
def test_ride_is_stored_whole_or_not_at_all(
    store: Store, monkeypatch: pytest.MonkeyPatch, broken: str
) -> None:
    """Whatever fails on the way, nothing of the ride is there, and it can be stored later."""
    insert = Database.insert

    def failing(database: Database, table: str, rows: pl.DataFrame) -> None:
        insert(database, table, rows)
        if table == broken:
            raise KeyboardInterrupt

    ride = a_ride()
    with monkeypatch.context() as patch:
        patch.setattr(Database, "insert", failing)
        with pytest.raises(KeyboardInterrupt):
            store.put_ride(ride, a_file(ride))
    assert [len(store.frame(table)) for table in RECORDED] == [0] * len(RECORDED)
    store.put_ride(ride, a_file(ride))
    assert len(store.load_rides("heron")) == 1


def test_file_set_aside_is_told_once_with_its_reason(store: Store) -> None:
    """Telling it again, or otherwise, replaces what was told."""
    file = StoredFile("x.fit", 3, 1, "ab", "set aside", "heron")
    for reason in ("breaks off", "breaks off", "breaks off at byte 12"):
        store.set_aside(file, reason)
    assert store.files() == {"x.fit": file}
    assert store.frame("select path, stage, severity, message from problems").rows() == [
        ("x.fit", "read", "error", "breaks off at byte 12")
    ]


def test_refusing_a_file_keeps_what_was_told_of_its_ride(store: Store) -> None:
    """The refusal goes once the file can be used again; the notes of the ride stay throughout."""
    ride = a_ride()
    file = a_file(ride)
    store.put_ride(ride, file)
    refused = replace(file, status="set aside", sha256=None)
    store.set_aside(refused, "cannot be opened")
    store.settle([refused], {}, [])
    told = store.frame("select severity from problems order by severity")
    assert told["severity"].to_list() == ["error", "note"]
    store.settle([file], {}, [])
    assert store.frame("problems")["message"].to_list() == ["odd, but harmless"]


def test_ride_moves_to_another_vehicle_without_what_was_inferred(store: Store) -> None:
    """Its gears were those of the vehicle before; its samples stay, and so do others' gears."""
    ride, other = a_ride("moving"), a_ride("staying")
    for one in (ride, other):
        store.put_ride(one, a_file(one))
    store.put_vehicle_gears(measured("heron", ride, other), "f1")
    moved = replace(a_file(ride), vehicle="otter", path="otter/moving.fit")
    files = [moved, a_file(other)]
    store.settle(files, {ride.sha256: Owner(moved.path, "otter")}, [])
    assert [one.path.as_posix() for one in store.load_rides("otter")] == ["otter/moving.fit"]
    named = store.frame("select ride, count(gear) as named from samples group by ride")
    assert dict(named.iter_rows()) == {ride.sha256: 0, other.sha256: len(other.samples)}
    assert store.files() == {file.path: file for file in files}
    told = store.frame("select path from problems where stage = 'read' order by path")
    assert told["path"].to_list() == ["otter/moving.fit", "staying.fit"]


def test_settling_forgets_what_was_told_of_files_nobody_names(store: Store) -> None:
    """A useless file that is gone, or no longer named, leaves no row behind."""
    store.set_aside(StoredFile("x.fit", 3, 1, "ab", "set aside", "heron"), "breaks off")
    store.settle([], {}, [])
    assert store.frame("problems").is_empty()
    assert store.files() == {}


def test_times_are_told_in_utc_wherever_the_machine_is(store: Store) -> None:
    """The session's time zone is the store's, not the machine's."""
    ride = a_ride()
    store.put_ride(ride, a_file(ride))
    shown = store.frame("rides")["started_at"]
    assert shown.dtype == pl.Datetime("us", "UTC")
    assert shown.item() == ride.started_at
