"""Filling ride by ride: whatever changes in whatever order, the content is that of a whole fill."""

from __future__ import annotations

from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.store import Store
from tests.store.recorded import a_file, a_ride

RIDES = [a_ride(name, samples=3 + number) for number, name in enumerate("abcde")]
#: A mean, a window and a join, each within a ride; it also knows when its text was changed.
QUERY = """
    with beside as (
        select ride, n, t_s, lag(t_s) over (partition by ride order by n) as before_s from samples
    )
    select beside.ride, avg(beside.t_s) as mean_s, count(before_s) as others, {text} as text,
        any_value(rides.vehicle) as vehicle
    from beside inner join rides using (ride) group by beside.ride order by beside.ride
"""
#: Which rides have changed since, and whether the query has; None: a fill as a whole between.
CHANGES = st.lists(
    st.none() | st.tuples(st.sets(st.integers(0, 4)), st.integers(0, 1)), min_size=1, max_size=6
)


@settings(max_examples=25)
@given(stored=st.integers(0, 4), changes=CHANGES)
def test_any_order_of_changes_comes_to_a_whole_fill(
    stored: int, changes: list[tuple[set[int], int] | None]
) -> None:
    """Each change adds a ride while there are any, and gives rides to another vehicle."""
    with TemporaryDirectory() as folder, Store.open(f"{folder}/s.duckdb") as store:
        for ride in RIDES[:stored]:
            store.put_ride(ride, a_file(ride))
        states = {ride.sha256: "heron" for ride in RIDES[:stored]}
        text = 0
        for number, change in enumerate(changes):
            if change is None:
                store.fill("odd", QUERY.format(text=text), "whole")
                continue
            moved, text = change
            for ride in RIDES[stored : stored + 1]:
                store.put_ride(ride, a_file(ride))
                states[ride.sha256] = "heron"
            stored = min(stored + 1, len(RIDES))
            for ride in (RIDES[one] for one in moved if one < stored):
                states[ride.sha256] = f"vehicle {number}"
                # behind the back of whatever else would notice
                store._database.execute(
                    "update recorded_rides set vehicle = ? where ride = ?",
                    [f"vehicle {number}", ride.sha256],
                )
            query = QUERY.format(text=text)
            given_states = {ride: f"{state} {text}" for ride, state in states.items()}
            store.fill_rides("odd", query, f"{number}", given_states)
            found = store.frame("select * from odd order by ride")
            assert found.equals(store.frame(query))
            assert store.ride_fingerprints("odd") == given_states


def test_rides_of_which_nothing_changed_are_not_even_looked_at() -> None:
    """The query sees the changed ones alone, in every relation that has rides."""
    with TemporaryDirectory() as folder, Store.open(f"{folder}/s.duckdb") as store:
        for ride in RIDES[:3]:
            store.put_ride(ride, a_file(ride))
        query = "select ride, (select count(*) from samples) as seen from rides"
        states = {ride.sha256: "1" for ride in RIDES[:3]}
        store.fill_rides("seen", query, "1", states)
        assert set(store.frame("seen")["seen"]) == {3 + 4 + 5}
        store.fill_rides("seen", query, "2", states | {RIDES[1].sha256: "2"})
        seen = dict(store.frame("seen").rows())
        assert seen == {RIDES[0].sha256: 12, RIDES[1].sha256: 4, RIDES[2].sha256: 12}


def test_ride_that_is_read_anew_loses_its_rows() -> None:
    """What was made of it was made of what is not stored any more."""
    with TemporaryDirectory() as folder, Store.open(f"{folder}/s.duckdb") as store:
        for ride in RIDES[:2]:
            store.put_ride(ride, a_file(ride))
        states = {ride.sha256: "1" for ride in RIDES[:2]}
        store.fill_rides("own", "select ride from rides", "1", states)
        store.put_ride(RIDES[0], a_file(RIDES[0]))
        assert store.frame("own")["ride"].to_list() == [RIDES[1].sha256]
        assert set(store.ride_fingerprints("own")) == {RIDES[1].sha256}
        assert store.filled_from("own") is None
