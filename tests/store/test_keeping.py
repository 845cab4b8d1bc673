"""What is kept of measured rides comes back as it was, or not at all."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from ridelab.gears.kept import Kept, KeptRide
from ridelab.gears.ladder import Rungs
from ridelab.gears.precision import Scatter
from ridelab.gears.spells import Spells
from tests.store.recorded import a_file, a_ride, measured

if TYPE_CHECKING:
    from ridelab.store import Store
    from ridelab.telemetry.ride import Ride

RUNGS = Rungs(
    np.array([0.5, 0.7]),
    np.array([1, 2]),
    ln_ratios=np.array([0.1, np.nan]),
    doubts=("it may sit elsewhere",),
    placement_probability=0.9,
    unexplained_share=0.1,
    expected=np.array([0.5, 0.7]),
    log_prior=-3.0,
    members=np.array([[0.0, 0.01], [0.02, 0.03], [0.0, 0.0]]),
    count_probabilities=((2, 0.9), (3, 0.1)),
)


def kept(*rides: Ride, rungs: Rungs = RUNGS) -> Kept:
    """What could be kept of rides, the last without a spell and not driven."""
    spells = Spells(np.array([0, 1]), np.zeros(2, int), *(np.array([n, 2.0 * n]) for n in range(5)))
    none = Spells(np.zeros(0, int), np.zeros(0, int), *[np.zeros(0)] * 5)
    made = [
        KeptRide(one.sha256, spells, np.array([3.0, 4.0]), np.ones(2), Scatter(0.1, 0.2, 0.0), 0.01)
        for one in rides
    ]
    made[-1] = replace(made[-1], spells=none, scatter=Scatter(np.nan, np.nan, 0.02))
    return Kept(rungs, (1,), len(rides), (60.0, 80.0), tuple(made), ("odd",), "basis")


def put(store: Store, found: Kept, *rides: Ride) -> None:
    """Store a vehicle as measured, with what is kept of it."""
    store.put_vehicle_gears(replace(measured("heron", *rides), kept=found), "print")


@pytest.mark.parametrize(
    "rungs",
    [RUNGS, Rungs(RUNGS.ln_developments, RUNGS.numbers)],
    ids=["published", "not published"],
)
def test_it_comes_back_as_it_was(store: Store, rungs: Rungs) -> None:
    """All of the ladder and of each ride, what is not known among it."""
    rides = [a_ride("one"), a_ride("two", hour=9)]
    for one in rides:
        store.put_ride(one, a_file(one))
    put(store, kept(*rides, rungs=rungs), *rides)
    assert repr(store.kept("heron")) == repr(kept(*rides, rungs=rungs))
    assert store.kept("otter") is None


def test_it_is_not_used_once_a_ride_has_gone(store: Store) -> None:
    """What was measured from a ride that moved to another vehicle is measured anew."""
    rides = [a_ride("one"), a_ride("two", hour=9)]
    for one in rides:
        store.put_ride(one, a_file(one))
    put(store, kept(*rides), *rides)
    store.put_ride(rides[0], a_file(rides[0], "otter"))
    assert store.kept("heron") is None


def test_lists_that_do_not_belong_together_are_not_used(store: Store) -> None:
    """A store that somebody wrote into is measured anew, without a traceback."""
    one = a_ride("one")
    store.put_ride(one, a_file(one))
    odd = kept(one)
    put(store, replace(odd, rides=(replace(odd.rides[0], seconds=np.ones(5)),)), one)
    assert store.kept("heron") is None


def test_earlier_rides_stay_as_they_were_stored(store: Store) -> None:
    """Only the new ride's rows are written, and what was told of earlier ones is still told."""
    first, second = a_ride("one"), a_ride("two", hour=9)
    for one in (first, second):
        store.put_ride(one, a_file(one))
    put(store, kept(first), first)
    told = store.frame("problems")
    added = replace(
        measured("heron", second), kept=kept(first, second), earlier=(first.sha256,), problems=()
    )
    store.put_vehicle_gears(added, "other print")
    assert set(store.frame("inferred_rides")["ride"]) == {first.sha256, second.sha256}
    assert len(store.frame("engaged_samples")) == len(first.samples) + len(second.samples)
    assert len(store.frame("ride_statistics")) == 2
    assert store.fingerprints() == {"heron": "other print"}
    paths = store.frame("problems").filter(vehicle="heron")["path"].to_list()
    assert (
        paths
        == told.filter((told["vehicle"] == "heron") & (told["path"] == "one.fit"))["path"].to_list()
    )
