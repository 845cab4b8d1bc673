"""Which stored rides a person means to forget: by file, by vehicle, or because no file is left."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from difflib import get_close_matches
from fnmatch import fnmatchcase
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Literal

from ridelab.campaign import find_rides
from ridelab.errors import UsageError, nearest
from ridelab.objects import stored_form
from ridelab.pipeline.settling import is_there
from ridelab.pipeline.sighting import holders, stored_path

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from ridelab.campaign import Campaign
    from ridelab.store import Store, StoredFile

#: Whether a file is left that holds the ride: ``other`` if its place is taken by other content.
Left = Literal["there", "gone", "other"]
#: Digits of a ride's hash that are taken for one; a table shows ten.
_HASH = re.compile(r"[0-9a-f]{8,64}")
_RIDES = "select ride, vehicle, path, started_at, distance_m from rides order by started_at, ride"


@dataclass(frozen=True)
class Wanted:
    """What rides shall be forgotten: those that all of this holds for.

    ``named``: files, globs, folders, archives or hashes of rides, any of them; ``gone``: those of
    which no file is left.
    """

    named: tuple[str, ...] = ()
    vehicle: str | None = None
    gone: bool = False


@dataclass(frozen=True)
class Forgettable:
    """A stored ride, and what is left of its file."""

    ride: str
    vehicle: str | None
    path: str
    started_at: datetime
    distance_m: float | None
    file: Left


def forgettable(store: Store, campaign: Campaign, wanted: Wanted) -> list[Forgettable]:
    """Return the rides that are wanted, by time; nothing is forgotten yet.

    Raises:
        UsageError: nothing was asked for, something that was matches no ride, or no file of any
            ride is there, which tells of a missing disk rather than of deleted files.
    """
    if wanted == Wanted():
        raise UsageError("no ride is named; accepted: files, globs or rides, --vehicle, --gone")
    files = _Files(campaign, store.files())
    rides = [
        Forgettable(**row, file=files.left(row["ride"], row["path"]))
        for row in store.frame(_RIDES).iter_rows(named=True)
    ]
    found = rides
    if wanted.vehicle is not None:
        found = [one for one in found if one.vehicle == wanted.vehicle]
        if not found:
            known = {one.vehicle for one in rides if one.vehicle is not None}
            raise UsageError(f"no ride of {wanted.vehicle!r} is stored; {_near(wanted, known)}")
    if wanted.named:
        found = _named(found, wanted.named, campaign.root)
    if wanted.gone:
        found = _gone(rides, found)
    return found


def _near(wanted: Wanted, known: set[str]) -> str:
    return nearest(wanted.vehicle or "", known)


def _named(rides: Sequence[Forgettable], named: Sequence[str], root: Path) -> list[Forgettable]:
    """Return the rides that any of these names stands for; each must stand for one."""
    chosen: set[str] = set()
    for name in named:
        own = {one.ride for one in rides if _stands_for(name, one, root)}
        if not own:
            close = get_close_matches(name, [one.path for one in rides], n=1)
            hint = f"did you mean {close[0]!r}? " if close else ""
            raise UsageError(
                f"no stored ride is {name!r}; {hint}accepted: a path, glob, folder or archive as "
                "`ridelab show rides` tells it or from here, or the first digits of a ride"
            )
        chosen |= own
    return [one for one in rides if one.ride in chosen]


def _stands_for(name: str, one: Forgettable, root: Path) -> bool:
    if _HASH.fullmatch(name) and one.ride.startswith(name):
        return True
    from_here = stored_path(root, Path(os.path.abspath(name)))  # noqa: PTH100 - links stay links
    return any(_matches(one.path, pattern) for pattern in dict.fromkeys((name, from_here)))


def _matches(path: str, pattern: str) -> bool:
    """Whether a path, or a folder or an archive above it, is that of a glob, or is called so."""
    wanted = stored_form(PurePosixPath(pattern).as_posix())
    if path == wanted or path.startswith(f"{wanted}/"):
        return True
    return _parts_match(path.split("/"), wanted.split("/"))


def _parts_match(parts: Sequence[str], pattern: Sequence[str]) -> bool:
    if not pattern:
        return True
    if pattern[0] == "**":
        return any(_parts_match(parts[place:], pattern[1:]) for place in range(len(parts) + 1))
    if not parts or not fnmatchcase(parts[0], pattern[0]):
        return False
    return _parts_match(parts[1:], pattern[1:])


def _gone(rides: Sequence[Forgettable], found: Sequence[Forgettable]) -> list[Forgettable]:
    if all(one.file == "gone" for one in rides) and len(rides) > 1:
        raise UsageError(
            f"no file of all {len(rides)} stored rides is there: is a disk or a folder missing? "
            "Named by path, such as '**', rides are forgotten whatever became of their files"
        )
    left = [one for one in found if one.file != "there"]
    if not left:
        raise UsageError("every ride that was asked for still has its file; none is forgotten")
    return left


class _Files:
    """The files as they are now, beside what the last run found in them."""

    def __init__(self, campaign: Campaign, known: dict[str, StoredFile]) -> None:
        self._campaign, self._known = campaign, known
        self._named = {stored_path(campaign.root, file) for _, file in find_rides(campaign).files}
        self._holding: dict[str | None, list[str]] = {}
        for file in known.values():
            self._holding.setdefault(file.sha256, []).append(file.path)

    def left(self, ride: str, path: str) -> Left:
        """Return what is left of a ride's file, or of a copy of it."""
        holding = self._holding.get(ride, [])
        if any(self._is_there(one) for one in holding):
            return "there"
        if not self._is_there(path) or self._left_its_archive(path):
            return "gone"
        seen = self._known.get(path)
        return "there" if seen is None or seen.sha256 in (None, ride) else "other"

    def _is_there(self, path: str) -> bool:
        """Whether the file, or the archive that it is in, is there."""
        # names that are no text are stored spelt out, and found by the campaign's globs alone
        places = (path, *holders(path))
        return not self._named.isdisjoint(places) or any(
            is_there(self._campaign, place) for place in places
        )

    def _left_its_archive(self, path: str) -> bool:
        """Whether the last run opened the archive that it was in, and did not find it there."""
        if path in self._known:
            return False
        above = map(self._known.get, holders(path))
        return any(one is not None and one.status == "archive" for one in above)
