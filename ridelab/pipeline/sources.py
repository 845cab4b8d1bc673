"""What the relations of query stages follow from, as fingerprints: what did not change is kept."""

from __future__ import annotations

import hashlib
import re
from functools import cached_property
from typing import TYPE_CHECKING

import ridelab
from ridelab.store import beneath

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ridelab.pipeline.specification import Step
    from ridelab.store import Store

#: All that is ever inferred about rides follows from these.
_ROOTS = (
    "select ride, vehicle from recorded_rides order by all",
    "select * from stated_vehicles order by all",
    "select * from published_gears order by all",
    "select * from inferences order by all",
)
#: The same for each ride: its own facts, its vehicle as stated and as measured, and its ladder.
_RIDE_ROOTS = """
    select
        recorded_rides.ride,
        concat_ws(
            '\n',
            recorded_rides::text,
            stated_vehicles::text,
            inferences.fingerprint,
            ladders.told
        )
    from recorded_rides
    left join stated_vehicles on recorded_rides.vehicle = stated_vehicles.vehicle
    left join inferences on recorded_rides.vehicle = inferences.vehicle
    left join (
        select drivetrain, string_agg(published_gears::text, '\n' order by gear) as told
        from published_gears
        group by drivetrain
    ) as ladders on stated_vehicles.drivetrain = ladders.drivetrain
    order by recorded_rides.started_at, recorded_rides.ride
"""
_WORD = re.compile(r"\w+")
#: What does not follow from the roots alone.
_APART = frozenset(
    {
        "claims", "files", "gear_losses", "ladder_health", "pooled_claims", "problems",
        "replay_differences", "replayed_gear_use", "replayed_vehicles", "replays",
        "stated_services", "test_ride_plan",
        "reading_times", "run_stages", "runs", "told_on", "unassigned_rides", "verdicts",
    }
)  # fmt: skip


class Sources:
    """What a store holds before its query stages, read once until ``forget``.

    Queries do not change it, stages of the package do.
    """

    def __init__(self, store: Store) -> None:
        self.store = store

    def forget(self) -> None:
        """Read anew what is asked next: a stage of the package may have changed it."""
        for name in ("_roots", "_ride_roots"):
            self.__dict__.pop(name, None)

    def state(self, step: Step) -> str:
        """Return the fingerprint of a query and of everything that it may read."""
        return _hashed(self._query(step, self._read(step)), self._roots)

    def ride_states(self, step: Step) -> dict[str, str]:
        """Return for each stored ride the fingerprint of the query and of what it reads of it."""
        known = {name: self.store.ride_fingerprints(name) for name in sorted(self._read(step))}
        by_ride = {name: states for name, states in known.items() if states}
        query = self._query(step, known.keys() - by_ride.keys())
        return {
            ride: _hashed(query, root, *(states.get(ride, "") for states in by_ride.values()))
            for ride, root in self._ride_roots.items()
        }

    def of_stage(self, reads: Iterable[str], told: Sequence[str]) -> str:
        """Return the fingerprint of all that a stage of the package reads.

        ``reads``: relations; ``told``: what it goes by beside them.
        """
        filled = dict(self.store.frame("select relation, fingerprint from derivations").iter_rows())
        rows = [
            (name, filled.get(name), self.store.frame(name).rows() if name in _APART else None)
            for name in sorted(reads)
        ]
        return _hashed(*told, repr(rows), self._roots, *self._ride_roots.values())

    def _read(self, step: Step) -> set[str]:
        """Return the relations that a query may read, those beneath views among them.

        Any word counts, in a comment too: to run a query once too often does no harm.
        """
        words = set(_WORD.findall((step.query or "").lower()))
        return beneath(words.intersection(self.store.relations())) - {step.name}

    def _query(self, step: Step, reads: set[str]) -> str:
        told = [
            (
                name,
                self.store.filled_from(name),
                self.store.frame(name).rows() if name in _APART else None,
            )
            for name in sorted(reads)
        ]
        return _hashed(ridelab.__version__, step.query or "", repr(told))

    @cached_property
    def _roots(self) -> str:
        return _hashed(*(repr(self.store.frame(root).rows()) for root in _ROOTS))

    @cached_property
    def _ride_roots(self) -> dict[str, str]:
        return {ride: _hashed(root) for ride, root in self.store.frame(_RIDE_ROOTS).iter_rows()}


def _hashed(*parts: str) -> str:
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()
