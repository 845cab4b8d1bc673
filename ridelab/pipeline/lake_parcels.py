"""Rides on their way through a lake: their rows lie there, the rest goes along."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar, cast

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

    from ridelab.pipeline.lake import Key, Lake
    from ridelab.pipeline.parcels import Parcel

V = TypeVar("V")
#: Says that a ride is there, so it is written last.
_LAST = "recorded_rides"
#: What is recorded of a ride.
OF_A_RIDE = ("recorded_samples", "pauses", "gear_changes", "moments", "ride_profiles", _LAST)
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
    """A ride as read, but for its rows; ``digests`` of those."""

    lake: Lake
    rest: ReadFile
    digests: Mapping[Key, str]

    @classmethod
    def of(cls, lake: Lake, read: ReadFile) -> RideInLake:
        """Write the rows, relations without any left out."""
        ride = read.ride
        assert ride is not None  # noqa: S101 - the caller looked
        rows: dict[Key, pl.DataFrame] = {
            (relation, ride.sha256): frame for relation, frame in rows_of_ride(read) if len(frame)
        }
        rows = {key: each for key, each in rows.items() if key[0] in OF_A_RIDE}
        last: dict[Key, pl.DataFrame] = {(_LAST, ride.sha256): rows.pop((_LAST, ride.sha256))}
        digests = lake.put_rows(rows)
        lake.put_rows(last)
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
        rows = {relation: frame for (relation, _), frame in self.lake.rows(self.digests).items()}
        whole = replace(
            ride,
            samples=_of(rows, "recorded_samples", SAMPLE_SCHEMA),
            pauses=_of(rows, "pauses", PAUSE_SCHEMA),
            gear_changes=_of(rows, "gear_changes", GEAR_CHANGE_SCHEMA),
        )
        road = None
        if "moments" in rows:
            road = Road(rows["moments"].drop("ride"), rows["ride_profiles"].drop("ride"))
        return self.rest._replace(ride=whole, road=road)

    def drop(self) -> None:
        """It stays: that is what a lake is for."""


@dataclass(frozen=True)
class GearsInLake:
    """A vehicle as measured, but for the engaged gears of its rides; ``digests`` of those."""

    lake: Lake
    rest: VehicleGears
    digests: Mapping[Key, str]

    @classmethod
    def of(cls, lake: Lake, found: VehicleGears) -> GearsInLake:
        """Write the engaged gears."""
        rows: dict[Key, pl.DataFrame] = {
            (ENGAGED, one.ride): engaged_rows(one) for one in found.rides
        }
        digests = lake.put_rows(rows)
        light = tuple(replace(one, engaged=ENGAGED_SCHEMA.to_frame()) for one in found.rides)
        return cls(lake, replace(found, rides=light), digests)

    def seen(self) -> VehicleGears:
        """Read the engaged gears.

        Raises:
            RemoteError: they cannot be read, or are others.
        """
        rows = {ride: frame for (_, ride), frame in self.lake.rows(self.digests).items()}
        rides = tuple(
            replace(one, engaged=_of(rows, one.ride, ENGAGED_SCHEMA)) for one in self.rest.rides
        )
        return replace(self.rest, rides=rides)

    def drop(self) -> None:
        """They stay."""


def _of(rows: Mapping[Any, pl.DataFrame], key: str, schema: pl.Schema) -> pl.DataFrame:
    """Return rows with the columns of a schema, none where there are none."""
    if key not in rows:
        return schema.to_frame()
    return rows[key].select(schema.names()).cast(schema)
