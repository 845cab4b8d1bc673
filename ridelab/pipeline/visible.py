"""What the machines of a cluster must have in common: the same files under the same names."""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol
from uuid import uuid4

from ridelab.errors import RemoteError
from ridelab.objects import size
from ridelab.pipeline.parcels import parcel_name

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.pipeline.lake import Lake


class Visible(Protocol):
    """Something that is there for this process, and must be for others."""

    def fault(self) -> str:
        """Say why it is not there where this is asked; empty where it is."""


@dataclass(frozen=True)
class RideFile:
    """A ride file of so many bytes, for all that lie in its folder."""

    path: Path
    size_bytes: int

    def fault(self) -> str:
        """Look at the file."""
        try:
            size = self.path.stat().st_size
        except OSError as error:
            return f"does not see the ride file {self.path}: {error.strerror}{_SHARE}"
        if size != self.size_bytes:
            return f"sees another file under the name {self.path}{_SHARE}"
        return ""


@dataclass(frozen=True)
class RideObject:
    """An object to be read as a ride, for all of its bucket."""

    url: str
    size_bytes: int

    def fault(self) -> str:
        """Ask for the object."""
        try:
            found = size(self.url)
        except OSError as error:
            return f"cannot read {self.url}: {error.strerror}"
        return "" if found == self.size_bytes else f"sees another object at {self.url}"


@dataclass(frozen=True)
class MarkedFolder:
    """A folder to write into, known by a file with words of its own."""

    mark: Path
    words: str

    @classmethod
    def of(cls, folder: Path) -> MarkedFolder:
        """Mark a folder of parcels."""
        marked = cls(parcel_name(folder), uuid4().hex)
        marked.mark.write_text(marked.words, "utf-8")
        return marked

    def fault(self) -> str:
        """Look at the mark, and whether files can be written beside it."""
        folder = self.mark.parent
        try:
            found = self.mark.read_text("utf-8")
        except OSError as error:
            return f"does not see {folder}, beside the store: {error.strerror}{_SHARE}"
        if found != self.words:
            return f"sees another folder under the name {folder}{_SHARE}"
        return "" if os.access(folder, os.W_OK) else f"cannot write into {folder}{_SHARE}"


@dataclass(frozen=True)
class MarkedLake:
    """A lake to write into, known by an object with words of its own."""

    lake: Lake
    mark: str
    words: str

    @classmethod
    def of(cls, lake: Lake) -> MarkedLake:
        """Mark a lake.

        Raises:
            RemoteError: it cannot be written into.
        """
        word = uuid4().hex
        lake.put({f".{word}.mark": word.encode()})
        return cls(lake, f".{word}.mark", word)

    def fault(self) -> str:
        """Look at the mark, and leave an answer beside it."""
        try:
            if self.lake.get([self.mark]) != [self.words.encode()]:
                return f"sees another lake at {self.lake.root}"
            self.lake.put({f"{self.mark}.seen": self.words.encode()})
        except RemoteError as error:
            return f"cannot use the lake: {error}"
        return ""

    def remove(self) -> None:
        """Leave nothing of it, as far as that can be had."""
        for name in (self.mark, f"{self.mark}.seen"):
            with suppress(RemoteError):
                self.lake.remove(name)


_SHARE = (
    "; accepted: one place that all machines see under one name: a shared folder, or an object "
    "store for the rides and for --lake"
)
