"""The store: one DuckDB file, and everything that is ever done to it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from ridelab.errors import UsageError, nearest
from ridelab.store import (
    copying,
    creating,
    forgetting,
    inferred,
    keeping,
    laying,
    notes,
    queries,
    recordings,
    runs,
    schema,
    stated,
    writing,
)
from ridelab.store.database import Database, plainly, quoted
from ridelab.store.recordings import ReadFile

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence
    from datetime import date, datetime
    from types import TracebackType

    from ridelab.campaign import Campaign
    from ridelab.gears.kept import Kept
    from ridelab.gears.result import VehicleGears
    from ridelab.problems import Problem
    from ridelab.store.database import Params
    from ridelab.store.recordings import Owner, Road, StoredFile
    from ridelab.telemetry.ride import Ride

_COMMENT = re.compile(r"(?P<meaning>.*) \[(?P<unit>[^\[\]]+)\]", re.DOTALL)


class Column(NamedTuple):
    """A column of a relation, as the store documents it."""

    name: str
    type: str
    unit: str
    meaning: str


class Store:
    """The store of one campaign; a context manager.

    Everything that writes is one transaction: a run that is killed leaves whole rides and whole
    vehicles. Values, names among them, go to DuckDB as parameters or as data.
    """

    def __init__(self, database: Database, *, read_only: bool) -> None:
        self._database, self._read_only = database, read_only

    @classmethod
    def open(
        cls, path: str | Path, *, read_only: bool = False, writes_into: Path | None = None
    ) -> Store:
        """Open a store; unless ``read_only``, make it if it is not there.

        ``writes_into``: the one folder that ``write`` may make files in.

        Raises:
            StoreBusy: another process holds it, and has not let go within two seconds. Who only
                reads gets a copy as of its last commit instead, but where it has stored nothing.
            StoreError: it cannot be opened, is damaged, is something else, or was laid out by
                another version.
        """
        path = Path(path)
        if not read_only:
            creating.create(path)
        database = Database.connect(path, read_only=read_only, writes_into=writes_into)
        try:
            if not read_only:
                creating.sweep_spilt(path)
                copying.sweep_copies()
            (schema.check if read_only else schema.prepare)(database)
        except BaseException:
            database.close()
            raise
        return cls(database, read_only=read_only)

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def path(self) -> Path:
        """The file."""
        return self._database.path

    @property
    def holder(self) -> str:
        """The process that is writing the store while this is a copy of it; empty else."""
        return self._database.holder

    def close(self) -> None:
        """Let others at the file."""
        self._database.close()

    def relations(self) -> tuple[str, ...]:
        """Return the names of all tables and views."""
        found = self._database.read(
            "select table_name from duckdb_tables() where not internal union all "
            "select view_name from duckdb_views() where not internal order by all"
        )
        return tuple(found["table_name"])

    def columns(self, relation: str) -> tuple[Column, ...]:
        """Return the columns of a relation with their units.

        Raises:
            UsageError: no such relation.
        """
        self._must_exist(relation)
        rows = self._database.read(
            "select column_name, data_type, comment from duckdb_columns() "
            "where not internal and table_name = ? order by column_index",
            [relation],
        )
        return tuple(_column(*row) for row in rows.iter_rows())

    def frame(self, relation_or_sql: str, params: Params | None = None) -> pl.DataFrame:
        """Return a whole relation by its name, or the result of a query of our own.

        Raises:
            UsageError: no such relation.
        """
        if len(relation_or_sql.split()) > 1:
            return self._database.read(relation_or_sql, params)
        return self.relation(relation_or_sql)

    def relation(self, name: str) -> pl.DataFrame:
        """Return a whole relation by its name, which may look like a query.

        Raises:
            UsageError: no such relation.
        """
        self._must_exist(name)
        return self._database.read(f"select * from {quoted(name)}")  # noqa: S608 - quoted

    def write(self, relation: str, parquet: Path, csv: Path) -> int:
        """Write a relation to two files; return how many rows it has.

        Raises:
            UsageError: no such relation.
            StoreError: it cannot be written.
        """
        columns = [(column.name, column.type) for column in self.columns(relation)]
        writing.write_parquet(self._database, relation, columns, parquet)
        writing.write_csv(self._database, relation, columns, csv)
        rows = self._database.read(f"select count(*) from {quoted(relation)}")  # noqa: S608 - quoted
        return int(rows.item())

    def query(self, sql: str) -> pl.DataFrame:
        """Return the result of what a user wrote; only on a store opened ``read_only``.

        It can read this store and nothing else: DuckDB itself refuses to write, to attach, and to
        touch any other file.

        Raises:
            UsageError: it is not one statement, two of its columns have one name, or what DuckDB
                says is wrong with it.
        """
        if not self._read_only:
            raise UsageError("a query runs on a store opened read-only")
        import duckdb

        try:
            if (found := self._database.statements(sql)) > 1:
                raise UsageError(f"found {found} statements; accepted: one query")
            relation = self._database.relation(sql)
            if relation is None:
                raise UsageError("nothing to show; accepted: a query, such as SELECT * FROM rides")
            _must_differ(relation.columns)
            return pl.DataFrame(relation)
        except (duckdb.Error, pl.exceptions.PolarsError) as error:
            raise UsageError(plainly(error, lines=2)) from error

    def files(self) -> dict[str, StoredFile]:
        """Return the files as the last run saw them, by path."""
        return recordings.files(self._database)

    def owners(self) -> dict[str, Owner]:
        """Return file and vehicle of each stored ride, by ride."""
        return recordings.owners(self._database)

    def put_files(self, files: Sequence[ReadFile]) -> None:
        """Store files with the rides that were read from them, or why there are none.

        One transaction: all of a ride, its file and its problems, or nothing. An archive comes
        after its members, so that one that was not finished is opened again.
        """
        recordings.put_files(self._database, files)

    def put_ride(self, ride: Ride, file: StoredFile, road: Road | None = None) -> None:
        """Store a ride, its problems, and the file it was read from."""
        self.put_files([ReadFile(file, ride, road)])

    def set_aside(self, file: StoredFile, message: str) -> None:
        """Remember a file that cannot be used, and why."""
        self.put_files([ReadFile(file, refusal=message)])

    def settle(
        self,
        seen: Iterable[StoredFile],
        changed: Mapping[str, Owner],
        problems: Iterable[Problem],
    ) -> None:
        """Make files, rides and problems agree with what the campaign names now."""
        recordings.settle(self._database, seen, changed, problems)

    def forget(self, rides: Sequence[str]) -> tuple[str, ...]:
        """Take rides away with all that belongs to them; return the vehicles to measure anew."""
        return forgetting.forget(self._database, rides)

    def load_rides(self, vehicle: str, but: Collection[str] = ()) -> list[Ride]:
        """Return the rides of a vehicle as they were read, by time, ``but`` for some of them.

        ``Ride.path`` is as stored.
        """
        return recordings.load_rides(self._database, vehicle, but)

    def kept(self, vehicle: str) -> Kept | None:
        """Return what measuring further rides of a vehicle takes; None where all are needed."""
        return keeping.load(self._database, vehicle)

    def put_campaign(self, campaign: Campaign) -> None:
        """Store vehicles and published gears; forget what is inferred of vehicles now gone.

        Claims that are no longer made go, and their verdicts with them; ``put_claims`` brings new
        ones.
        """
        gone = self._known_vehicles() - set(campaign.vehicles)
        for vehicle in sorted(gone):
            self.clear_vehicle(vehicle)
        with self._database.transaction():
            stated.replace(self._database, "stated_vehicles", stated.vehicles(campaign))
            stated.replace(self._database, "stated_services", stated.services(campaign))
            stated.replace(self._database, "published_gears", stated.published_gears(campaign))
            combinations = stated.published_combinations(campaign)
            stated.replace(self._database, "published_combinations", combinations)
            stated.replace(self._database, "published_spans", stated.published_spans(campaign))
            if not stated.claims(campaign).equals(self.frame("claims")):
                self._database.execute(
                    "delete from claims; delete from verdicts; delete from test_ride_plan; "
                    "delete from pooled_claims; "
                    "delete from problems where stage = 'paper'"
                )

    def put_claims(self, campaign: Campaign) -> None:
        """Store the claims of the campaign."""
        self.replace("claims", stated.claims(campaign))

    def put_day(self, day: date) -> None:
        """Store the day of this run, for what depends on it."""
        self.replace("told_on", pl.DataFrame({"day": [day]}))

    def begin_run(self, started_at: datetime, pipeline: str, workers: int) -> int:
        """Remember a run that begins; return its number."""
        return runs.begin(self._database, started_at, pipeline, workers)

    def end_run(
        self, run: int, facts: Mapping[str, int | float], stages: Mapping[str, float]
    ) -> None:
        """Remember how a run ended: by column of ``runs``, and seconds of its stages in order."""
        runs.end(self._database, run, facts, stages)

    def put_problems(self, stage: str, problems: Iterable[Problem]) -> None:
        """Replace what a stage told about the campaign as a whole."""
        with self._database.transaction():
            notes.of_stage(self._database, stage, problems)

    def fingerprints(self) -> dict[str, str]:
        """Return what each measured vehicle was measured from."""
        return inferred.fingerprints(self._database)

    def put_vehicle_gears(self, found: VehicleGears, fingerprint: str) -> None:
        """Store a vehicle as measured, instead of all that was inferred about it before."""
        inferred.put_vehicle_gears(self._database, found, fingerprint)

    def clear_vehicle(self, vehicle: str, problems: Iterable[Problem] = ()) -> None:
        """Forget what was inferred about a vehicle; ``problems`` say why."""
        inferred.clear_vehicle(self._database, vehicle, problems)

    def replace(self, relation: str, rows: pl.DataFrame) -> bool:
        """Make ``rows`` the content of a table; return whether that changed anything."""
        with self._database.transaction():
            return stated.replace(self._database, relation, rows)

    def replace_all(self, tables: Mapping[str, pl.DataFrame]) -> None:
        """Make these the contents of several tables, all or none."""
        with self._database.transaction():
            for relation, rows in tables.items():
                stated.replace(self._database, relation, rows)

    def fill(self, relation: str, query: str, fingerprint: str) -> None:
        """Make the result of one query the content of a relation.

        Raises:
            StoreError: the query fails, or makes other columns than the relation has.
        """
        queries.fill(self._database, relation, query, fingerprint)

    def fill_rides(
        self, relation: str, query: str, fingerprint: str, rides: Mapping[str, str]
    ) -> None:
        """Bring the rows of each ride in a relation up to date by a query.

        ``rides``: all that are stored, each with the fingerprint of what its rows follow from.

        Raises:
            StoreError: as of ``fill``, or a row of the result belongs to none of the rides.
        """
        queries.fill_rides(self._database, relation, query, fingerprint, rides)

    def lay(self) -> None:
        """Lay down the samples of rides that are new or changed, for what reads all of them."""
        with self._database.transaction():
            laying.lay(self._database)

    def describe(self, relation: str, meanings: Mapping[str, str]) -> None:
        """Comment on the columns of a relation that a user's query made.

        Raises:
            StoreError: it has no such column.
        """
        with self._database.transaction():
            queries.describe(self._database, relation, meanings)

    def ride_fingerprints(self, relation: str) -> dict[str, str]:
        """Return what ``fill_rides`` was given for each ride; empty where it never was."""
        return queries.ride_fingerprints(self._database, relation)

    def note_filled(self, name: str, fingerprint: str) -> None:
        """Remember what something that is no relation, such as a stage, was made from."""
        queries.note(self._database, name, fingerprint)

    def filled_from(self, relation: str) -> str | None:
        """Return the fingerprint given to ``fill``, None if it never was."""
        return queries.fingerprint(self._database, relation)

    def _known_vehicles(self) -> set[str]:
        known = self._database.read(
            "select vehicle from inferences union "
            "select vehicle from problems where vehicle is not null"
        )
        return set(known["vehicle"])

    def _must_exist(self, relation: str) -> None:
        known = self.relations()
        if relation not in known:
            raise UsageError(f"no relation {relation!r}; {nearest(relation, known)}")


def _must_differ(columns: Sequence[str]) -> None:
    for name in columns:
        if columns.count(name) > 1:
            raise UsageError(
                f"two columns are named {name!r}; accepted: a name for each, such as "
                f"rides.{name} AS {name}_of_ride"
            )


def _column(name: str, kind: str, comment: str | None) -> Column:
    said = _COMMENT.fullmatch(comment or "")
    if said is None:
        return Column(name, kind, "", comment or "")
    return Column(name, kind, said["unit"], said["meaning"])
