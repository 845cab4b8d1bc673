"""Archives: .gz and .zip, also in one another, known by their content and unpacked in memory.

Nothing is ever written, no name inside an archive is ever used as a path, and ``bounds`` limits
what an archive may expand to. A member that cannot be had is refused with its reason; the others
are still read.
"""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from ridelab.telemetry.archives import gz, zipped
from ridelab.telemetry.archives.bounds import MAX_DEPTH, TOO_DEEP, TOO_MANY, Budget
from ridelab.telemetry.archives.content import Content
from ridelab.telemetry.archives.member import Refused, Unpacked
from ridelab.telemetry.archives.names import apart, is_hidden, leads_outside, shown_name
from ridelab.telemetry.notes import Notes

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from ridelab.telemetry.archives.member import Member

__all__ = ["Content", "is_archive", "unpack"]


def is_archive(content: bytes) -> bool:
    """Whether the content is one that ``unpack`` opens."""
    return gz.sniff(content) or zipped.sniff(content)


def unpack(path: Path, content: bytes) -> Iterator[Content]:
    """Yield what a file holds: itself, or the innermost contents of an archive, one at a time.

    Folders and hidden files inside an archive are passed over, as globs pass over hidden files.
    """
    yield from _opened(Content(path, content), Budget.of_file(len(content)), 0)


def _opened(outer: Content, budget: Budget, depth: int) -> Iterator[Content]:
    if outer.refusal or not is_archive(outer.data):
        yield outer
    elif depth == MAX_DEPTH:
        yield _refused(outer, TOO_DEEP)
    elif gz.sniff(outer.data):
        name = outer.path.name.removesuffix(".gz")
        yield from _opened(_gunzipped(outer, name, budget), budget, depth + 1)
    else:
        yield from _members(outer, budget, depth)


def _members(outer: Content, budget: Budget, depth: int) -> Iterator[Content]:
    members, odd = zipped.members(outer.data)
    taken: dict[str, int] = {}
    for place, member in enumerate(members, 1):
        if is_hidden(member.name):
            continue
        if not budget.members_left:
            yield _refused(outer, TOO_MANY)
            return
        budget.members_left -= 1
        name = apart(shown_name(member.name, place), taken)
        yield from _opened(_unzipped(outer, member, name, budget, odd), budget, depth + 1)
    if not taken:
        yield _refused(outer, odd or "an archive without a file in it")


def _gunzipped(outer: Content, name: str, budget: Budget) -> Content:
    try:
        found = gz.gunzip(memoryview(outer.data), budget)
    except Refused as refusal:
        return _refused(_inner(outer, name), str(refusal))
    return _inner(outer, name, found)


def _unzipped(outer: Content, member: Member, name: str, budget: Budget, odd: str) -> Content:
    try:
        found = zipped.unpack(member, budget)
    except Refused as refusal:
        return _refused(_inner(outer, name), str(refusal))
    told: tuple[str, ...] = (odd,) if odd else ()
    if leads_outside(member.name):
        told += (f"its name in the archive leads outside of it: shown as {name}",)
    return _inner(outer, name, found._replace(damage=told + found.damage))


def _inner(outer: Content, name: str, found: Unpacked = Unpacked(b"")) -> Content:  # noqa: B008 - immutable
    path = outer.path / name
    inside = str(PurePosixPath(outer.inside) / name)
    notes = Notes(path)
    for told in (*(problem.message for problem in outer.problems), *found.damage):
        notes.warn(told)
    return Content(path, found.data, inside, tuple(notes.problems))


def _refused(content: Content, reason: str) -> Content:
    return Content(content.path, b"", content.inside, content.problems, reason)
