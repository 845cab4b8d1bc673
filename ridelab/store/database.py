"""One DuckDB file: opened so that it can reach nothing else, its errors told as ours."""

from __future__ import annotations

import json
import re
import time
from contextlib import ExitStack, contextmanager, suppress
from typing import TYPE_CHECKING, cast

import polars as pl

from ridelab.errors import StoreBusy, StoreError
from ridelab.interruption import heed
from ridelab.store.copying import copied

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from duckdb import DuckDBPyConnection, DuckDBPyRelation

    Params = Sequence[object] | Mapping[str, object]
    Settings = dict[str, str | int | float | list[str]]

#: No file, network, extension or Python variable can be reached from SQL.
_SEALED: Settings = {
    "autoinstall_known_extensions": False,
    "autoload_known_extensions": False,
    "enable_external_access": False,
    "python_enable_replacements": False,
}
#: What a run may keep of a store in memory, which would else grow with the store; DuckDB puts what
#: does not fit into files beside it.
_OF_A_RUN: Settings = {"memory_limit": "512MB"}
#: A run holds the store only for as long as it lasts; most that clash are nearly over.
_PATIENCE_S = 2.0
_PAUSE_S = 0.1
_HELD = re.compile(r"Conflicting lock is held in .*?(?:\(PID (\d+)\)|$)")
_PACKED = re.compile(r'"exception_message":"((?:[^"\\]|\\.)*)"')
_KIND = re.compile(r"[A-Za-z][A-Za-z -]* Error: ")
_INCOMING = "_incoming"
#: Types of DuckDB that polars cannot take in; found by trying each.
_FOREIGN = ("INTERVAL", "TIME WITH TIME ZONE", "UNION", "BIGNUM")


class _Stream:
    """A frame as DuckDB reads it without pyarrow: polars frames themselves would need it."""

    def __init__(self, frame: pl.DataFrame) -> None:
        self._frame = frame

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        return self._frame.__arrow_c_stream__(requested_schema)


class Database:
    """A connection whose errors are StoreError, and Ctrl-C a KeyboardInterrupt."""

    def __init__(
        self,
        connection: DuckDBPyConnection,
        path: Path,
        holder: str = "",
        closing: ExitStack | None = None,
    ) -> None:
        """``holder``: the process that is writing ``path``, of which a copy is open.

        ``closing``: what is to be done once this is closed.
        """
        self._connection, self.path = connection, path
        self.holder, self._closing = holder, closing or ExitStack()

    @classmethod
    def connect(cls, path: Path, *, read_only: bool, writes_into: Path | None = None) -> Database:
        """Open the file, and create it unless ``read_only``; wait a moment where it is held.

        Who only reads what another process is writing gets a copy as of its last commit.
        ``writes_into``: the one folder in which files may be made.

        Raises:
            StoreBusy: another process holds it, and it is to be written or cannot be copied.
            StoreError: no such file, no such folder, damaged, or not a DuckDB file.
        """
        if read_only and not path.exists():
            raise StoreError(f"{path}: there is no store yet; `ridelab run` makes one")
        if not path.parent.is_dir():
            raise StoreError(f"{path}: the folder {path.parent} does not exist")
        give_up_at = time.monotonic() + _PATIENCE_S
        while True:
            try:
                return cls(_connect(path, read_only, writes_into), path)
            except StoreBusy as busy:
                found = _beside(path, writes_into, busy) if read_only else None
                if found is not None:
                    return found
                if time.monotonic() > give_up_at:
                    raise
            time.sleep(_PAUSE_S)

    def close(self) -> None:
        """Write what is left to write, and let others at the file."""
        self._connection.close()
        self._closing.close()

    def execute(self, sql: str, params: Params | None = None) -> None:
        """Run statements; several at once only without parameters."""
        with self._told():
            self._connection.execute(sql, params)

    def read(self, sql: str, params: Params | None = None) -> pl.DataFrame:
        """Return the result of a query; types that polars lacks come as text."""
        with self._told():
            return pl.DataFrame(_of_known_types(self._connection.sql(sql, params=params)))

    def insert(self, table: str, rows: pl.DataFrame) -> None:
        """Append rows, columns matched by name."""
        import duckdb

        # DuckDB refuses the columns without a type that polars makes of nothing but None.
        typed = rows.with_columns(pl.col(pl.Null).cast(pl.String))
        with self._told():
            self._connection.register(_INCOMING, _Stream(typed))
            try:
                self._connection.execute(
                    f"insert into {quoted(table)} by name select * from {_INCOMING}"  # noqa: S608 - a name cannot be a parameter
                )
            finally:
                # In a transaction that failed it cannot be removed, and goes with the rollback.
                with suppress(duckdb.Error):
                    self._connection.unregister(_INCOMING)

    def relation(self, sql: str) -> DuckDBPyRelation | None:
        """Run what a user wrote, DuckDB's own errors left as they are; None: nothing to show.

        Columns of a type that polars has no counterpart for come as text.
        """
        # DuckDB's own type information forgets statements that have no result.
        found = cast("DuckDBPyRelation | None", self._connection.sql(sql))
        return None if found is None else _of_known_types(found)

    def statements(self, sql: str) -> int:
        """Return how many statements a user wrote, DuckDB's own errors left as they are."""
        return len(self._connection.extract_statements(sql))

    def is_query(self, sql: str) -> bool:
        """Whether the text is one query and nothing else, so that it can stand inside another.

        Raises:
            StoreError: it is no SQL.
        """
        import duckdb

        with self._told():
            statements = self._connection.extract_statements(sql)
        return [one.type for one in statements] == [duckdb.StatementType.SELECT]

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All of it is stored, or nothing; nothing either once an end was asked for."""
        self.execute("begin transaction")
        try:
            yield
            heed()
            self.execute("commit")
        except BaseException:
            self._roll_back()
            raise

    def _roll_back(self) -> None:
        import duckdb

        # An error in the commit has ended the transaction: nothing is left to undo.
        with suppress(duckdb.TransactionException):
            self._connection.execute("rollback")

    @contextmanager
    def _told(self) -> Iterator[None]:
        import duckdb

        try:
            yield
        except duckdb.Error as error:
            heed()
            raise StoreError(f"{self.path}: {plainly(error, lines=2)}") from error
        except RuntimeError as error:
            # How DuckDB tells of Ctrl-C during a query.
            if "interrupted" in str(error).lower():
                raise KeyboardInterrupt from error
            raise


def _of_known_types(found: DuckDBPyRelation) -> DuckDBPyRelation:
    """Return a result with text in the columns whose type polars has no counterpart for."""
    foreign = [any(word in str(kind) for word in _FOREIGN) for kind in found.types]
    if not any(foreign):
        return found
    columns = [
        (f"cast(#{place} as varchar)" if as_text else f"#{place}") + f" as {quoted(name)}"
        for place, (name, as_text) in enumerate(zip(found.columns, foreign, strict=True), 1)
    ]
    return found.project(", ".join(columns))


def quoted(name: str) -> str:
    """Return a name as SQL takes it, whatever is in it."""
    return '"' + name.replace('"', '""') + '"'


def literal(text: str) -> str:
    """Return a text as SQL takes it, where a parameter cannot stand."""
    return "'" + text.replace("'", "''") + "'"


def plainly(error: Exception, lines: int = 1) -> str:
    """Return what DuckDB says, without the kind of error before it and the excerpt of SQL below."""
    told = _KIND.sub("", _unpacked(str(error).strip())).partition("\n\n")[0]
    return " ".join(line.strip() for line in told.splitlines()[:lines])


def _unpacked(told: str) -> str:
    """Return what went wrong where DuckDB packs one error into another, as JSON."""
    packed = _PACKED.search(told)
    return told if packed is None else str(json.loads(f'"{packed[1]}"'))


def _connect(path: Path, read_only: bool, writes_into: Path | None) -> DuckDBPyConnection:
    import duckdb

    # a folder can be allowed only before everything else is forbidden
    more: Settings = {} if writes_into is None else {"enable_external_access": True}
    if not read_only:
        more |= _OF_A_RUN
    try:
        connection = duckdb.connect(str(path), read_only=read_only, config=_SEALED | more)
        if writes_into is not None:
            allowed = literal(str(writes_into))
            connection.execute(
                f"set global allowed_directories = [{allowed}]; "
                "set global enable_external_access = false"
            )
        _lock(connection)
    except duckdb.ConnectionException as error:
        raise StoreBusy(f"{path}: this process already holds the store otherwise") from error
    except duckdb.Error as error:
        held = _HELD.search(str(error))
        if held is None:
            raise StoreError(f"{path}: {plainly(error)}") from error
        by = f"process {held[1]}" if held[1] else "another process"
        told = f"{path}: the store is held by {by}; try again when it is done"
        raise StoreBusy(told, holder=by) from error
    return connection


def _beside(path: Path, writes_into: Path | None, busy: StoreBusy) -> Database | None:
    """Open a copy of what another process is writing; None where that cannot be had now."""
    if not busy.holder:
        return None
    with suppress(OSError, StoreError), ExitStack() as stack:
        copy = stack.enter_context(copied(path))
        if copy is not None:
            connection = _connect(copy, True, writes_into)
            return Database(connection, path, busy.holder, stack.pop_all())
    return None


def _lock(connection: DuckDBPyConnection) -> None:
    """Tell times in UTC, and let nothing change the settings from now on."""
    # Connections of one process to one file share their settings, and the lock.
    locked = connection.sql("select current_setting('lock_configuration')").fetchall()
    if locked == [(False,)]:
        connection.execute("set global timezone = 'UTC'; set lock_configuration = true")
