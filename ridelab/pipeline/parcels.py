"""Large values on their way between processes: as files, so that nobody waits for the other side.

Through a pipe a worker would stand still until its ride is taken, which is while others are being
stored; a pickled ride takes a millisecond to write and to read, an Arrow file twice that.
"""

from __future__ import annotations

import pickle
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Generic, Protocol, TypeVar
from uuid import uuid4

if TYPE_CHECKING:
    from collections.abc import Iterator

T_co = TypeVar("T_co", covariant=True)
V = TypeVar("V")
_READY, _HALF = ".parcel", ".half"


class Parcel(Protocol[T_co]):
    """A value on its way."""

    def seen(self) -> T_co:
        """Return the value, and leave it there for whoever may have to do the work again."""

    def drop(self) -> None:
        """Remove the value: nobody needs it any more."""


class Room(Protocol):
    """A place of another kind for values on their way."""

    def packed(self, value: V) -> Parcel[V]:
        """Leave a value there, or as much of it as it takes."""


#: Where values are left: a folder of this run's own, a room, or nowhere but in memory.
Place = Path | Room | None


@dataclass(frozen=True)
class InMemory(Generic[V]):
    """A value that stays in this process."""

    value: V

    def seen(self) -> V:
        """Return the value."""
        return self.value

    def drop(self) -> None:
        """It goes with the parcel."""


@dataclass(frozen=True)
class InFile(Generic[V]):
    """A value in a file of this run's own folder."""

    path: Path

    def seen(self) -> V:
        """Read the value."""
        with self.path.open("rb") as file:
            value: V = pickle.load(file)  # noqa: S301 - this run or a worker of it wrote it
        return value

    def drop(self) -> None:
        """Remove the file."""
        self.path.unlink(missing_ok=True)


def taken(parcel: Parcel[V]) -> V:
    """Return the value of a parcel, which is not there any more then."""
    value = parcel.seen()
    parcel.drop()
    return value


def packed(value: V, place: Place) -> Parcel[V]:
    """Pack a value into a file of a folder, whole or not at all, or as its place has it.

    Raises:
        OSError: it cannot be written.
    """
    if place is None:
        return InMemory(value)
    if not isinstance(place, Path):
        return place.packed(value)
    ready = parcel_name(place)
    half = ready.with_suffix(_HALF)
    with half.open("wb") as file:
        pickle.dump(value, file, pickle.HIGHEST_PROTOCOL)
    return InFile(half.replace(ready))


def parcel_name(folder: Path) -> Path:
    """Return a name in a folder of parcels that no other file has, and that goes with it."""
    return (folder / uuid4().hex).with_suffix(_READY)


@contextmanager
def parcel_room(store: Path) -> Iterator[Path]:
    """Make a folder beside a store that parcels lie in, for its user alone; remove it at the end.

    Raises:
        OSError: it cannot be made.
    """
    sweep_parcels(store)
    before, behind = _names(store)
    # always a new one: whoever could write into it could have this process run anything
    folder = Path(mkdtemp(prefix=before, suffix=behind, dir=store.parent))
    try:
        yield folder
    finally:
        _sweep(folder)


def sweep_parcels(store: Path) -> None:
    """Remove what killed runs have left: whoever holds the store holds its folders."""
    before, behind = _names(store)
    for left in store.parent.iterdir():
        if left.name.startswith(before) and left.name.endswith(behind):
            _sweep(left)


def _names(store: Path) -> tuple[str, str]:
    """Return what the names of the folders begin and end with."""
    return f"{store.name}.", ".parcels"


def _sweep(folder: Path) -> None:
    """Remove our own files and the folder, unless anything else is in it."""
    if folder.is_symlink() or not folder.is_dir():
        return
    with suppress(OSError):
        for file in folder.iterdir():
            if file.suffix in (_READY, _HALF):
                file.unlink(missing_ok=True)
        folder.rmdir()
