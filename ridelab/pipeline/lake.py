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
    from collections.abc import Iterator, Mapping, Sequence

    from ridelab.pipeline.parcels import Parcel

V = TypeVar("V")
#: Relation and ride; None: the whole relation.
Key = tuple[str, str | None]
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

    def put(self, contents: Mapping[str, bytes]) -> None:
        """Write objects by their names, each whole or not at all.

        Raises:
            RemoteError: one cannot be written; others may have been.
        """
        if objects.is_object(self.root):
            with _told(self.root):
                objects.write_all({self._place(name): each for name, each in contents.items()})
            return
        for name, each in contents.items():
            with _told(self._place(name)):
                _write_file(Path(self._place(name)), each)

    def get(self, names: Sequence[str]) -> list[bytes]:
        """Read objects.

        Raises:
            RemoteError: one cannot be read.
        """
        if objects.is_object(self.root):
            with _told(self.root):
                return objects.read_all([self._place(name) for name in names])
        contents = []
        for name in names:
            with _told(self._place(name)):
                contents.append(Path(self._place(name)).read_bytes())
        return contents

    def remove(self, name: str) -> None:
        """Remove an object, if it is there.

        Raises:
            RemoteError: it cannot be removed.
        """
        place = self._place(name)
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

    def put_rows(self, rows: Mapping[Key, pl.DataFrame]) -> dict[Key, str]:
        """Write the rows of rides, or of whole relations; return their digests.

        Raises:
            RemoteError: they cannot be written.
        """
        contents = {key: _parquet(each) for key, each in rows.items()}
        self.put({_name(*key): content for key, content in contents.items()})
        return {key: _digest(content) for key, content in contents.items()}

    def rows(self, digests: Mapping[Key, str]) -> dict[Key, pl.DataFrame]:
        """Return the rows that were written with these digests.

        Raises:
            RemoteError: they cannot be read, or are others.
        """
        found = {}
        contents = self.get([_name(*key) for key in digests])
        for (key, digest), content in zip(digests.items(), contents, strict=True):
            if _digest(content) != digest:
                raise RemoteError(
                    f"{self._place(_name(*key))}: not what a worker of this run has written; does "
                    "another run write into this lake?"
                )
            found[key] = pl.read_parquet(io.BytesIO(content))
        return found

    def sweep(self) -> None:
        """Remove what killed workers left half written in a folder; object stores keep no such."""
        if not objects.is_object(self.root):
            for left in Path(self.root).glob(f"relation=*/shard=*/.*{_HALF}"):
                left.unlink(missing_ok=True)

    def _place(self, name: str) -> str:
        return f"{self.root}/{name}"


def _write_file(file: Path, content: bytes) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    half = file.with_name(f".{file.name}.{uuid4().hex}{_HALF}")
    try:
        half.write_bytes(content)
        half.replace(file)
    finally:
        half.unlink(missing_ok=True)


def _parquet(rows: pl.DataFrame) -> bytes:
    into = io.BytesIO()
    _laid(rows).write_parquet(into)
    return into.getvalue()


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _name(relation: str, ride: str | None) -> str:
    """Return where rows lie."""
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
