"""What was recorded: files as seen, rides as read. Nothing here is ever changed by inference."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import UTC
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING, Literal, NamedTuple

import polars as pl

import ridelab
from ridelab.store import notes, queries
from ridelab.telemetry.ride import GEAR_CHANGE_SCHEMA, PAUSE_SCHEMA, SAMPLE_SCHEMA, Ride

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from ridelab.problems import Problem
    from ridelab.store.database import Database

Status = Literal["ride", "set aside", "duplicate", "archive"]

#: What a file is read with: one set aside is tried again by another version.
READER = ridelab.__version__
_OF_A_RIDE = (
    "recorded_rides", "recorded_samples", "pauses", "gear_changes", "moments", "ride_profiles",
    "reading_times",
)  # fmt: skip
_INFERRED_OF_A_RIDE = (
    "inferred_rides", "engaged_samples", "lag_curves", "shifts", "ride_statistics",
)  # fmt: skip
_SENSORS_APART = ", "


@dataclass(frozen=True)
class StoredFile:
    """A row of ``files``. ``path`` as stored; size, time and SHA-256 are None if not readable.

    ``vehicle``: whose globs name it, None for those of the campaign.

    A member of an archive has the path of its ``archive`` before its own, and the archive's time.
    """

    path: str
    size_bytes: int | None
    mtime_ns: int | None
    sha256: str | None
    status: Status
    vehicle: str | None
    reader: str = READER
    archive: str | None = None


class Road(NamedTuple):
    """The rows of ``moments`` and ``ride_profiles`` of a ride, which is not named in them."""

    moments: pl.DataFrame
    profile: pl.DataFrame


class ReadFile(NamedTuple):
    """A file with what was found in it: a ride with its moments and its road, or a refusal.

    Neither for an archive, the members of which are files of their own. ``problems`` tell what was
    odd beside those of the ride; ``seconds``: what reading it took.
    """

    file: StoredFile
    ride: Ride | None = None
    road: Road | None = None
    refusal: str = ""
    problems: tuple[Problem, ...] = ()
    seconds: float | None = None

    @property
    def told(self) -> tuple[Problem, ...]:
        """All that was odd."""
        return (*(self.ride.problems if self.ride else ()), *self.problems)


@dataclass(frozen=True)
class Owner:
    """Where a ride belongs: the file it is read from, and the vehicle, None if nobody claims it."""

    path: str
    vehicle: str | None


def files(database: Database) -> dict[str, StoredFile]:
    """Return the files as the last run saw them, by path."""
    rows = database.read("select * from files order by path").iter_rows(named=True)
    return {row["path"]: StoredFile(**row) for row in rows}


def put_files(database: Database, files: Sequence[ReadFile]) -> None:
    """Store files with all that was found in them; earlier readings of their rides are replaced.

    One transaction, so that all is stored or nothing: a ride alone takes several times as long as
    one among many.
    """
    with database.transaction():
        _put_rides(database, [one for one in files if one.ride is not None])
        by_path = {one.file.path: one.file for one in files}
        database.execute("delete from files where path in (select unnest(?))", [list(by_path)])
        database.insert("files", _listing(by_path.values()))
        notes.of_files(database, {one.file.path: one.told for one in files if not one.refusal})
        notes.of_refusals(database, {one.file.path: one.refusal for one in files if one.refusal})


def _put_rides(database: Database, files: Sequence[ReadFile]) -> None:
    if not files:
        return
    rides = [one.file.sha256 or "" for one in files]
    stored = "select ride from recorded_rides where ride in (select unnest($rides))"
    known = database.read(stored, {"rides": rides})["ride"].to_list()
    if known:
        _forget(database, known)
    by_table: dict[str, list[pl.DataFrame]] = {}
    for one in files:
        for table, rows in rows_of_ride(one):
            by_table.setdefault(table, []).append(rows)
    for table, parts in by_table.items():
        database.insert(table, pl.concat(parts))


def rows_of_ride(read: ReadFile) -> Iterator[tuple[str, pl.DataFrame]]:
    """Yield what each table gets of one ride, ``recorded_rides`` first."""
    ride, road = read.ride, read.road
    if ride is None:
        return
    samples = ride.samples.select(SAMPLE_SCHEMA.names())
    yield "recorded_rides", _facts(ride, read.file)
    yield "recorded_samples", _of_ride(ride, samples.with_row_index("n"))
    yield "pauses", _of_ride(ride, ride.pauses)
    yield "gear_changes", _of_ride(ride, ride.gear_changes.with_row_index("n"))
    if road is not None:
        yield "moments", _of_ride(ride, road.moments)
        yield "ride_profiles", _of_ride(ride, road.profile)
    if read.seconds is not None:
        yield "reading_times", _of_ride(ride, pl.DataFrame({"seconds": [read.seconds]}))


def _forget(database: Database, rides: Sequence[str]) -> None:
    """Take away rides and what was inferred from them."""
    asked = {"rides": list(rides)}
    queries.outdate(database, "select unnest($rides)", asked)
    database.execute(
        "delete from inferences where vehicle in (select vehicle from recorded_rides "
        "where ride in (select unnest($rides)))",
        asked,
    )
    for table in (*_OF_A_RIDE, *_INFERRED_OF_A_RIDE):
        database.execute(f"delete from {table} where ride in (select unnest($rides))", asked)  # noqa: S608 - one of the names above


def owners(database: Database) -> dict[str, Owner]:
    """Return where each stored ride belongs, by ride, in the order the rides were ridden."""
    rows = database.read(
        "select ride, path, vehicle from recorded_rides order by started_at, ride"
    ).iter_rows()
    return {ride: Owner(path, vehicle) for ride, path, vehicle in rows}


def settle(
    database: Database,
    seen: Iterable[StoredFile],
    changed: Mapping[str, Owner],
    problems: Iterable[Problem],
) -> None:
    """Make the store agree with what the campaign names now.

    ``seen``: all files that it names; ``changed``: rides that have another file or vehicle than
    before; ``problems``: of the stage ``files``, all of them.
    """
    with database.transaction():
        for ride, owner in changed.items():
            _move(database, ride, owner)
        listing = _listing(seen)
        if not listing.equals(database.read("select * from files order by path")):
            database.execute("delete from files")
            database.insert("files", listing)
        notes.forget_files(database)
        notes.of_stage(database, "files", problems)


def load_rides(database: Database, vehicle: str, but: Collection[str] = ()) -> list[Ride]:
    """Return the rides of a vehicle as they were read, by time; ``but``: not these.

    ``Ride.path`` is as stored.
    """
    facts = database.read(
        "select * from recorded_rides where vehicle = $vehicle "
        "and not list_contains($but::text[], ride) order by started_at, ride",
        {"vehicle": vehicle, "but": list(but)},
    )
    rides = facts["ride"].to_list()
    samples = _by_ride(database, "recorded_samples", "n", rides)
    pauses = _by_ride(database, "pauses", "start_s", rides)
    changes = _by_ride(database, "gear_changes", "n", rides)
    told = notes.of_reading(database)
    return [
        Ride(
            path=Path(row["path"]),
            sha256=row["sha256"],
            format=row["format"],
            started_at=row["started_at"].astimezone(UTC),
            samples=_columns(samples.get(row["ride"]), SAMPLE_SCHEMA),
            pauses=_columns(pauses.get(row["ride"]), PAUSE_SCHEMA),
            gear_changes=_columns(changes.get(row["ride"]), GEAR_CHANGE_SCHEMA),
            sensors=tuple(filter(None, row["sensors"].split(_SENSORS_APART))),
            speed_source=row["speed_source"],
            cadence_resolution_rpm=row["cadence_resolution_rpm"],
            wheel_rollout_m=row["wheel_rollout_m"],
            barometer=bool(row["barometer"]),
            device=row["device"],
            problems=tuple(told.get(row["path"], ())),
        )
        for row in facts.iter_rows(named=True)
    ]


def _facts(ride: Ride, file: StoredFile) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "ride": [ride.sha256],
            "vehicle": [file.vehicle],
            "path": [file.path],
            "sha256": [ride.sha256],
            "format": [ride.format],
            "started_at": [ride.started_at],
            "duration_s": [ride.duration_s],
            "distance_m": [ride.distance_m],
            "samples": [len(ride.samples)],
            "speed_source": [ride.speed_source],
            "sensors": [_SENSORS_APART.join(ride.sensors)],
            "cadence_resolution_rpm": [ride.cadence_resolution_rpm],
            "wheel_rollout_m": [ride.wheel_rollout_m],
            "barometer": [ride.barometer],
            "device": [ride.device],
            "reader": [file.reader],
        },
        schema_overrides={
            "vehicle": pl.String(),
            "device": pl.String(),
            "distance_m": pl.Float64(),
            "wheel_rollout_m": pl.Float64(),
        },
    )


def _of_ride(ride: Ride, rows: pl.DataFrame) -> pl.DataFrame:
    return rows.with_columns(pl.lit(ride.sha256).alias("ride"))


def _listing(seen: Iterable[StoredFile]) -> pl.DataFrame:
    names = [field.name for field in fields(StoredFile)]
    numbers = {"size_bytes": pl.Int64(), "mtime_ns": pl.Int64()}
    schema = {name: numbers.get(name, pl.String()) for name in names}
    rows = sorted(map(attrgetter(*names), seen), key=lambda row: row[0])
    return pl.DataFrame(rows, schema=schema, orient="row")


def _move(database: Database, ride: str, owner: Owner) -> None:
    """Give a ride another file or vehicle; with the vehicle goes what was inferred by it."""
    [(path, vehicle)] = _owner(database, ride).rows()
    database.execute(
        "update recorded_rides set path = ?, vehicle = ? where ride = ?",
        [owner.path, owner.vehicle, ride],
    )
    database.execute(
        "update problems set path = ? where path = ? and stage in ('read', 'measure')",
        [owner.path, path],
    )
    if owner.vehicle != vehicle:
        queries.outdate(database, "select $ride", {"ride": ride})
        for table in _INFERRED_OF_A_RIDE:
            database.execute(f"delete from {table} where ride = ?", [ride])  # noqa: S608 - one of the names above


def _owner(database: Database, ride: str) -> pl.DataFrame:
    """Return path and vehicle of a ride; no row where it is not stored."""
    return database.read("select path, vehicle from recorded_rides where ride = ?", [ride])


def _by_ride(
    database: Database, table: str, order: str, rides: Sequence[str]
) -> dict[str, pl.DataFrame]:
    rows = database.read(
        f"select * from {table} where ride in (select unnest(?)) order by ride, {order}",  # noqa: S608 - names of our own
        [list(rides)],
    )
    parts = rows.partition_by("ride", as_dict=True, include_key=False)
    return {str(key[0]): part for key, part in parts.items()}


def _columns(rows: pl.DataFrame | None, schema: pl.Schema) -> pl.DataFrame:
    return schema.to_frame() if rows is None else rows.select(schema.names()).cast(schema)
