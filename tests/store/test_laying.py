"""Samples laid side by side: what the tables hold, in order, and never out of date."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import pytest

from ridelab.store import Road, laying
from tests.store.recorded import a_file, a_ride, measured

if TYPE_CHECKING:
    from ridelab.store import Store
    from ridelab.telemetry import Ride

#: What the tables say of all rides that are stored, as the analyses read it.
JOINED = """
    select
        recorded.ride, recorded.n, t_s, speed_mps,
        speed_mps is null and distance_m is null as no_speed, cadence_rpm, power_w,
        development_m, gear, coupled, gear_probability, seconds, metres, grade, climb_m
    from recorded_samples as recorded
    left join engaged_samples as engaged on recorded.ride = engaged.ride and recorded.n = engaged.n
    left join moments on recorded.ride = moments.ride and recorded.n = moments.n
    order by recorded.ride, recorded.n
"""
LAID = """
    select numbered_rides.ride, ridden_samples.* exclude (number)
    from ridden_samples inner join numbered_rides using (number) order by ride, n
"""
ASKED = "select count(*) as samples from ridden_samples"


def put(store: Store, *names: str) -> None:
    """Store rides of the vehicle heron."""
    for name in names:
        ride = a_ride(name)
        store.put_ride(ride, a_file(ride))


def put_moments(store: Store, ride: Ride, metres: float) -> None:
    """Store a ride anew, saying how far each sample reaches."""
    numbers = pl.int_range(len(ride.samples), dtype=pl.Int32, eager=True)
    moments = pl.DataFrame({"n": numbers}).with_columns(seconds=pl.lit(1.0), metres=pl.lit(metres))
    store.put_ride(ride, a_file(ride), Road(moments, pl.DataFrame({"altitude_source": ["none"]})))


def lay(store: Store) -> pl.DataFrame:
    """Run a query that reads the samples; return what it read."""
    store.fill("asked", ASKED, "state")
    laid = store.frame(LAID)
    assert laid.equals(store.frame(JOINED))
    return laid


def test_what_is_laid_follows_every_change(store: Store) -> None:
    """New rides, moments, gears, another reading, another vehicle: as the tables say it."""
    put(store, "a", "b")
    assert len(lay(store)) == 8
    put(store, "c")
    assert len(lay(store)) == 12
    ride = a_ride("b")
    put_moments(store, ride, 4.0)
    assert lay(store)["metres"].drop_nulls().to_list() == [4.0] * 4
    store.put_vehicle_gears(measured("heron", *(a_ride(name) for name in "abc")), "state")
    assert lay(store)["gear"].to_list() == [2] * 12
    again = a_ride("b", samples=3)
    store.put_ride(again, a_file(again))
    assert lay(store)["gear"].null_count() == 3
    store.clear_vehicle("heron")
    assert lay(store)["gear"].null_count() == 11


def test_rides_lie_in_one_piece_and_only_the_changed_are_laid_anew(store: Store) -> None:
    """Numbers rise, rows are in their order, and what did not change keeps its number."""
    put(store, "a", "b", "c")
    lay(store)
    before = dict(store.frame("numbered_rides").iter_rows())
    changed = a_ride("b").sha256
    put_moments(store, a_ride("b"), 4.0)
    lay(store)
    after = dict(store.frame("numbered_rides").iter_rows())
    assert {ride for ride in after if after[ride] != before[ride]} == {changed}
    assert after[changed] > max(before.values())
    rows = store.frame("select number, n from ridden_samples")
    assert rows.equals(rows.sort("number", "n"))


@pytest.mark.parametrize("at_once", [1, 2, 3])
def test_batches_leave_no_ride_out(
    store: Store, at_once: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However many rides are joined at once."""
    monkeypatch.setattr(laying, "AT_ONCE", at_once)
    put(store, "a", "b", "c", "d", "e")
    assert lay(store)["ride"].n_unique() == 5


def test_a_query_that_does_not_read_them_lays_nothing(store: Store) -> None:
    """A campaign whose pipelines ask no samples does not store them twice."""
    put(store, "a")
    store.fill("asked", "select ride from recorded_rides", "state")
    assert store.frame("ridden_samples").is_empty()


def test_what_was_pedalled_is_the_same_before_and_after_it_is_laid(store: Store) -> None:
    """The view over samples with a development: none laid, one ride not yet, all of them."""
    told = "select * from all_pedalled order by ride, t_s"
    put(store, "a", "b", "c")
    put_moments(store, a_ride("b"), 4.0)
    store.put_vehicle_gears(measured("heron", *(a_ride(name) for name in "abc")), "state")
    unlaid = store.frame(told)
    store.lay()
    assert store.frame("numbered_rides")["ride"].n_unique() == 3
    assert store.frame(told).equals(unlaid)
    put_moments(store, a_ride("b"), 4.0)
    store.put_vehicle_gears(measured("heron", *(a_ride(name) for name in "abc")), "again")
    put(store, "d")
    assert store.frame(told).equals(unlaid)
    assert len(unlaid) == 12
