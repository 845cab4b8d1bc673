"""What a store holds, as digests that can be compared: ride by ride, vehicle by vehicle, whole."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridelab.store import Store

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    import polars as pl

RECORDED = ("recorded_samples", "pauses", "gear_changes", "moments", "ride_profiles")
#: Where a ride belongs is settled after all were read.
FACTS = "(select * exclude (vehicle, path) from recorded_rides)"
OF_RIDES = ("inferred_rides", "engaged_samples", "lag_curves", "ride_statistics")
OF_VEHICLES = (
    "inferred_vehicles", "measured_gears", "measured_range", "measured_steps",
    "measured_covariance", "measured_precision", "suggested_teeth", "fitted_ladders",
)  # fmt: skip
#: What is laid down for queries alone, in an order of its own, and what tells of the runs.
APART = ("numbered_rides", "ridden_samples", "runs", "run_stages", "reading_times")
#: Digest of the rows of a table by a key, whatever their order; NaN is NaN.
DIGEST = """
    select {key}, count(*) || ' ' || bit_xor(hash(told)) from (
        select {key}, (columns_of)::text as told from {table} as columns_of
    ) group by all
"""


@dataclass(frozen=True)
class Content:
    """Digests of a store.

    Attributes:
        rides: of all that was recorded of each ride.
        vehicles: of all that was inferred of each measured vehicle and its rides, by the vehicle
            and the fingerprint of its measurement.
        derived: of the rows of each ride in each relation filled ride by ride, by relation, ride
            and fingerprint.
        whole: of every table.
    """

    rides: Mapping[str, str]
    vehicles: Mapping[tuple[str, str], str]
    derived: Mapping[tuple[str, str, str], str]
    whole: Mapping[str, str]


def content(path: Path) -> Content:
    """Open a store and take the digests of what is in it."""
    with Store.open(path, read_only=True) as store:
        return Content(_rides(store), _vehicles(store), _derived(store), _whole(store))


def faults(found: Content, accepted: Sequence[Content]) -> list[str]:
    """Return what is in a store and half done: neither as in one of the accepted, nor not there.

    Rides are the same whoever reads them; what was inferred must be that of its fingerprint.
    """
    told = [
        f"ride {ride} is not as it was read"
        for ride, digest in found.rides.items()
        if digest not in {one.rides.get(ride) for one in accepted}
    ]
    for what in ("vehicles", "derived"):
        known: dict[tuple[str, ...], set[str]] = {}
        for one in accepted:
            for key, digest in getattr(one, what).items():
                known.setdefault(key, set()).add(digest)
        told += [
            f"{what}: {key} is not what it was made as"
            for key, digest in getattr(found, what).items()
            if key in known and digest not in known[key]
        ]
    return told


def differing(found: Content, expected: Content) -> list[str]:
    """Return the relations whose content differs."""
    names = found.whole.keys() | expected.whole.keys()
    return sorted(name for name in names if found.whole.get(name) != expected.whole.get(name))


def _by(store: Store, table: str, key: str) -> dict[str, str]:
    return dict(store.frame(DIGEST.format(table=table, key=key)).iter_rows())


def _rides(store: Store) -> dict[str, str]:
    parts = [_by(store, table, "ride") for table in (FACTS, *RECORDED)]
    rides = {ride for part in parts for ride in part}
    return {ride: repr([part.get(ride) for part in parts]) for ride in rides}


def _vehicles(store: Store) -> dict[tuple[str, str], str]:
    own = [_by(store, table, "vehicle") for table in OF_VEHICLES]
    rides = {table: _by(store, table, "ride") for table in OF_RIDES}
    owners: dict[str, list[str]] = {}
    for ride, vehicle in store.frame("select ride, vehicle from recorded_rides").iter_rows():
        owners.setdefault(vehicle, []).append(ride)
    found = {}
    for vehicle, fingerprint in store.frame("inferences").iter_rows():
        of_rides = [
            (ride, *(part.get(ride) for part in rides.values()))
            for ride in sorted(owners.get(vehicle, []))
            # a ride may be stored already, and its vehicle be measured anew only later
            if any(ride in part for part in rides.values())
        ]
        found[vehicle, fingerprint] = repr(([part.get(vehicle) for part in own], of_rides))
    return found


def _derived(store: Store) -> dict[tuple[str, str, str], str]:
    filled: pl.DataFrame = store.frame("select relation, ride, fingerprint from derived_rides")
    digests = {name: _by(store, name, "ride") for name in set(filled["relation"])}
    return {
        (relation, ride, fingerprint): digests[relation].get(ride, "no row")
        for relation, ride, fingerprint in filled.iter_rows()
    }


def _whole(store: Store) -> dict[str, str]:
    """Tables only: views show them, with sums that depend on the order of their rows."""
    tables = store.frame("select table_name from duckdb_tables() where not internal")
    relations = {name: f'select * from "{name}"' for name in tables["table_name"]}  # noqa: S608 - a name of the store
    # a report's row there holds the time of its page
    relations["derivations"] += " where relation <> 'stage report'"
    return {
        name: str(_by(store, f"(select 1 as one, * from ({sql}))", "one"))  # noqa: S608 - a query of our own
        for name, sql in relations.items()
        if name not in APART
    }
