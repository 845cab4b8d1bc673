"""Rides on their way through a lake: their rows lie there, the rest goes along."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeVar, cast

from ridelab.gears.result import ENGAGED_SCHEMA, VehicleGears
from ridelab.pipeline.parcels import InMemory
from ridelab.store import ReadFile, Road, engaged_rows, rows_of_ride
from ridelab.telemetry.ride import (
    EXTRA_FIELDS_SCHEMA,
    GEAR_CHANGE_SCHEMA,
    PAUSE_SCHEMA,
    SAMPLE_SCHEMA,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    import polars as pl

    from ridelab.pipeline.lake import Lake
    from ridelab.pipeline.parcels import Parcel

V = TypeVar("V")
#: What is recorded of a ride; that there is one is said by the last.
OF_A_RIDE = (
    "recorded_samples", "pauses", "gear_changes", "moments", "ride_profiles", "recorded_rides"
)  # fmt: skip
ENGAGED = "engaged_samples"


def in_lake(lake: Lake, value: V) -> Parcel[V]:
    """Leave the rows of rides in the lake; what has none, or few, travels whole."""
    if isinstance(value, ReadFile) and value.ride is not None:
        return cast("Parcel[V]", RideInLake.of(lake, value))
    if isinstance(value, VehicleGears):
        return cast("Parcel[V]", GearsInLake.of(lake, value))
    return InMemory(value)


@dataclass(frozen=True)
class RideInLake:
    """A ride as read, but for its rows; ``digests`` of those, by relation."""

    lake: Lake
    rest: ReadFile
    digests: Mapping[str, str]

    @classmethod
    def of(cls, lake: Lake, read: ReadFile) -> RideInLake:
        """Write the rows, relations without any left out."""
        ride = read.ride
        assert ride is not None  # noqa: S101 - the caller looked
        rows = dict(rows_of_ride(read))
        digests = {
            relation: lake.put_rows(relation, rows[relation], ride.sha256)
            for relation in OF_A_RIDE
            if len(rows.get(relation, ()))
        }
        light = replace(
            ride,
            samples=SAMPLE_SCHEMA.to_frame(),
            pauses=PAUSE_SCHEMA.to_frame(),
            gear_changes=GEAR_CHANGE_SCHEMA.to_frame(),
            extra_fields=EXTRA_FIELDS_SCHEMA.to_frame(),  # the store keeps none
        )
        return cls(lake, read._replace(ride=light, road=None), digests)

    def seen(self) -> ReadFile:
        """Read the rows.

        Raises:
            RemoteError: they cannot be read, or are others.
        """
        ride = self.rest.ride
        assert ride is not None  # noqa: S101 - it was made of one
        whole = replace(
            ride,
            samples=self._frame("recorded_samples", SAMPLE_SCHEMA),
            pauses=self._frame("pauses", PAUSE_SCHEMA),
            gear_changes=self._frame("gear_changes", GEAR_CHANGE_SCHEMA),
        )
        road = None
        if "moments" in self.digests:
            moments, profile = self._rows("moments"), self._rows("ride_profiles")
            road = Road(moments.drop("ride"), profile.drop("ride"))
        return self.rest._replace(ride=whole, road=road)

    def drop(self) -> None:
        """It stays: that is what a lake is for."""

    def _frame(self, relation: str, schema: pl.Schema) -> pl.DataFrame:
        if relation not in self.digests:
            return schema.to_frame()
        return self._rows(relation).select(schema.names()).cast(schema)

    def _rows(self, relation: str) -> pl.DataFrame:
        return self.lake.rows(relation, self.rest.file.sha256 or "", self.digests[relation])


@dataclass(frozen=True)
class GearsInLake:
    """A vehicle as measured, but for the engaged gears of its rides; ``digests`` by ride."""

    lake: Lake
    rest: VehicleGears
    digests: Mapping[str, str]

    @classmethod
    def of(cls, lake: Lake, found: VehicleGears) -> GearsInLake:
        """Write the engaged gears."""
        digests = {
            one.ride: lake.put_rows(ENGAGED, engaged_rows(one), one.ride) for one in found.rides
        }
        light = tuple(replace(one, engaged=ENGAGED_SCHEMA.to_frame()) for one in found.rides)
        return cls(lake, replace(found, rides=light), digests)

    def seen(self) -> VehicleGears:
        """Read the engaged gears.

        Raises:
            RemoteError: they cannot be read, or are others.
        """
        rides = tuple(replace(one, engaged=self._engaged(one.ride)) for one in self.rest.rides)
        return replace(self.rest, rides=rides)

    def drop(self) -> None:
        """They stay."""

    def _engaged(self, ride: str) -> pl.DataFrame:
        rows = self.lake.rows(ENGAGED, ride, self.digests[ride])
        return rows.select(ENGAGED_SCHEMA.names()).cast(ENGAGED_SCHEMA)
