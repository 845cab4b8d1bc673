"""A lake: what is recorded and measured of rides as Parquet, in a shared folder or an object store.

    relation=recorded_samples/shard=3f/3fa94c….parquet       one object a ride and relation
    relation=vehicles/all.parquet                            what is small, at the end of a run

Relations and columns are those of the store. Rides lie in shards by the first letters of their
hash, not by vehicle: whose a ride is may change, what was recorded never does. Workers write, each
object whole or not at all; the row of ``recorded_rides`` comes last, so a ride that has one is all
there. Nothing is pickled: who can write into a lake can change rides, but not run anything.
"""

from __future__ import annotations

import hashlib
import io
import os
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar
from uuid import uuid4

import polars as pl
import polars.selectors as cs

from ridelab import objects
from ridelab.errors import NotAccepted, RemoteError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelab.pipeline.parcels import Parcel

V = TypeVar("V")
_MOST_BYTES = 2 << 30
_HALF = ".half"


@dataclass(frozen=True)
class Lake:
    """A folder, absolute, or the URL of one in an object store; every process opens it itself."""

    root: str

    @classmethod
    def at(cls, place: str) -> Lake:
        """Return the lake at a path or URL; a folder is made if it is not there.

        Raises:
            NotAccepted: another kind of URL, or a file.
            RemoteError: it cannot be made.
        """
        try:
            root = objects.checked(place.rstrip("/") if len(place) > 1 else place)
        except NotAccepted as refusal:
            raise NotAccepted(refusal.found, refusal.accepted, "--lake") from refusal
        if objects.is_object(root):
            return cls(root)
        folder = Path(root).absolute()
        if folder.exists() and not folder.is_dir():
            raise NotAccepted(f"the file {folder}", "a folder, made if need be", "--lake")
        with _told(str(folder)):
            folder.mkdir(parents=True, exist_ok=True)
        return cls(str(folder))

    def packed(self, value: V) -> Parcel[V]:
        """Leave the rows of a value here; what else there is goes along with the parcel."""
        from ridelab.pipeline.lake_parcels import in_lake

        return in_lake(self, value)

    def put(self, name: str, content: bytes) -> None:
        """Write an object, whole or not at all.

        Raises:
            RemoteError: it cannot be written.
        """
        place = f"{self.root}/{name}"
        with _told(place):
            if objects.is_object(place):
                objects.write(place, content)
                return
            file = Path(place)
            file.parent.mkdir(parents=True, exist_ok=True)
            half = file.with_name(f".{file.name}.{uuid4().hex}{_HALF}")
            try:
                half.write_bytes(content)
                half.replace(file)
            finally:
                half.unlink(missing_ok=True)

    def get(self, name: str) -> bytes:
        """Read an object.

        Raises:
            RemoteError: it cannot be read.
        """
        place = f"{self.root}/{name}"
        with _told(place):
            if objects.is_object(place):
                return objects.read(place, _MOST_BYTES) or b""
            return Path(place).read_bytes()

    def remove(self, name: str) -> None:
        """Remove an object, if it is there.

        Raises:
            RemoteError: it cannot be removed.
        """
        place = f"{self.root}/{name}"
        with _told(place):
            if objects.is_object(place):
                objects.remove(place)
            else:
                Path(place).unlink(missing_ok=True)

    def rides(self, relation: str) -> set[str]:
        """Return the rides that have rows of a relation here.

        Raises:
            RemoteError: it cannot be asked.
        """
        pattern = f"{self.root}/relation={relation}/shard=*/*.parquet"
        with _told(self.root):
            if objects.is_object(pattern):
                names = [one.url for one in objects.matching(pattern)]
            else:
                folder = Path(self.root, f"relation={relation}")
                names = [os.fspath(file) for file in folder.glob("shard=*/*.parquet")]
        return {name.rpartition("/")[2].removesuffix(".parquet") for name in names}

    def put_rows(self, relation: str, rows: pl.DataFrame, ride: str | None = None) -> str:
        """Write rows of a ride, or a whole relation; return their digest.

        Raises:
            RemoteError: they cannot be written.
        """
        into = io.BytesIO()
        _laid(rows).write_parquet(into)
        content = into.getvalue()
        self.put(_name(relation, ride), content)
        return hashlib.sha256(content).hexdigest()

    def rows(self, relation: str, ride: str, digest: str) -> pl.DataFrame:
        """Return the rows of a ride as they were written.

        Raises:
            RemoteError: they cannot be read, or are others.
        """
        name = _name(relation, ride)
        content = self.get(name)
        if hashlib.sha256(content).hexdigest() != digest:
            raise RemoteError(
                f"{self.root}/{name}: not what a worker of this run has written; does another run "
                "write into this lake?"
            )
        return pl.read_parquet(io.BytesIO(content))


def _name(relation: str, ride: str | None) -> str:
    if ride is None:
        return f"relation={relation}/all.parquet"
    return f"relation={relation}/shard={ride[:2]}/{ride}.parquet"


def _laid(rows: pl.DataFrame) -> pl.DataFrame:
    """Return rows with columns of the types that they have in a lake, whoever wrote them."""
    whole = rows.with_columns(
        cs.integer().cast(pl.Int64()), cs.datetime().cast(pl.Datetime("us", "UTC"))
    )
    first = [name for name in ("ride", "n") if name in rows.columns]
    return whole.select(*first, pl.exclude(first))


@contextmanager
def _told(place: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise RemoteError(f"{place}: {error.strerror or error}") from error
