"""Names come from files and campaigns, and are data whatever is in them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ridelab.store import StoredFile, storable
from tests.store.recorded import a_file, a_ride, measured

if TYPE_CHECKING:
    from ridelab.store import Store

HOSTILE = [
    "'; drop table recorded_rides; --",
    '"; delete from files; --',
    "</script><script>alert(1)</script>",
    "=cmd|' /C calc'!A0",
    "$1 ? :name %s {0}",
    "line\nbreak\ttab\\",
    "nul\0inside",
    "right\u202eleft",
    "x" * 10_000,
]


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_stored_as_they_are(store: Store, name: str) -> None:
    """As vehicle, as path, and in a message; every table is still there afterwards."""
    ride, relations = a_ride(), store.relations()
    store.put_ride(ride, a_file(ride, vehicle=name, path=name))
    store.put_vehicle_gears(measured(name, ride), name)
    store.set_aside(StoredFile(f"{name} too", 1, 1, None, "set aside", name), name)
    assert [one.sha256 for one in store.load_rides(name)] == [ride.sha256]
    assert store.fingerprints() == {name: name}
    assert set(store.files()) == {name, f"{name} too"}
    assert name in store.frame("problems")["message"].to_list()
    assert store.relations() == relations
    store.clear_vehicle(name)
    assert store.fingerprints() == {}


@settings(
    max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(name=st.text(min_size=1))
def test_any_file_name_can_be_stored(store: Store, name: str) -> None:
    """Bytes that are no text are spelt out; all else comes back as it was."""
    path = storable(name)
    store.set_aside(StoredFile(path, 1, 1, None, "set aside", "heron"), f"{name} breaks off")
    assert store.files()[path].path == path
    store.settle([], {}, [])


def test_file_names_that_are_no_text_stay_apart() -> None:
    """Two names that differ in one odd byte differ in the store."""
    names = [b"ride-\xff.fit".decode("utf-8", "surrogateescape"), "ride-\udcfe.fit", "ride.fit"]
    stored = [storable(name) for name in names]
    assert stored == ["ride-\\udcff.fit", "ride-\\udcfe.fit", "ride.fit"]
