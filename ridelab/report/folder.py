"""A folder that is written whole or not at all, and never in place of somebody else's work.

It is made beside the place where it shall be, and takes that place at the end. What stands there is
replaced only if it is an export, and nobody has added to it or changed it since.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from contextlib import ExitStack, contextmanager, suppress
from typing import TYPE_CHECKING

from ridelab.errors import UsageError
from ridelab.interruption import heed
from ridelab.scratch import abandoned, scratch

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

#: Lists the files of an export with the SHA-256 of each; says that a folder is one.
MANIFEST = "export.json"
_MADE_BY = "ridelab export"
_READABLE_FOLDER = 0o755
_CHUNK = 1 << 20
#: Letters that the name of such a folder takes of that of the export.
_LONGEST = 100


@contextmanager
def made_beside(folder: Path) -> Iterator[Path]:
    """Yield a new folder that becomes ``folder`` at the end, or vanishes where that fails."""
    target = folder.resolve()
    _sweep(target)
    _check(target, folder)
    with ExitStack() as stack:
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            made = stack.enter_context(scratch(target.parent, _name(target)))
        except OSError as error:
            raise OSError(error.errno, error.strerror, str(folder)) from error
        made.chmod(_READABLE_FOLDER)
        yield made
        heed()
        _manifest(made)
        _check(target, folder)  # a run takes a while, in which somebody may have come by
        _take_place(made, target)


def _name(target: Path) -> str:
    """Return what names of folders for what is not finished begin with, nobody else's."""
    return f".{target.name[:_LONGEST]}.export-"


def _sweep(target: Path) -> None:
    """Remove what killed exports left; an older export that one had moved away goes back."""
    with suppress(OSError):
        for left in abandoned(target.parent, _name(target)):
            old = left / target.name
            if old.exists() and not target.exists():
                old.rename(target)
            shutil.rmtree(left, ignore_errors=True)


def _manifest(made: Path) -> None:
    listed = {"made by": _MADE_BY, "sha256": _digests(made)}
    text = json.dumps(listed, indent=1, ensure_ascii=True)
    (made / MANIFEST).write_text(f"{text}\n", encoding="utf-8", newline="\n")


def _take_place(made: Path, target: Path) -> None:
    """Put the new folder in the place of the old one, or leave that as it is."""
    with scratch(target.parent, _name(target)) as folder:
        old = folder / target.name
        if target.exists():
            target.rename(old)
        try:
            made.rename(target)
        except BaseException:
            if old.exists():
                old.rename(target)
            raise


def _check(target: Path, named: Path) -> None:
    """Refuse to replace anything but an export that is as it was written.

    Raises:
        UsageError: what stands there, and what would be accepted.
    """
    accepted = "a folder that is empty, not there yet, or an export that nobody has changed"
    if not target.exists():
        return
    if not target.is_dir():
        raise UsageError(f"{named}: found a file; accepted: {accepted}")
    there = sorted(one.relative_to(target).as_posix() for one in target.rglob("*") if one.is_file())
    if not there and not any(target.iterdir()):
        return
    listed = _listed(target / MANIFEST)
    if listed is None:
        found = there[0] if there else next(target.iterdir()).name
        raise UsageError(f"{named}: found {found!r} and no export; accepted: {accepted}")
    for name in there:
        if name not in listed and name != MANIFEST:
            raise UsageError(f"{named}: found {name!r} beside an export; accepted: {accepted}")
    changed = [name for name, digest in _digests(target).items() if listed[name] != digest]
    if changed:
        raise UsageError(
            f"{named}: {changed[0]!r} was changed after it was exported; accepted: {accepted}"
        )


def _listed(manifest: Path) -> dict[str, str] | None:
    """Return the digests that a manifest lists; None where it is not one of ours."""
    try:
        found = json.loads(manifest.read_text("utf-8"))
    except (OSError, ValueError):
        return None
    if not isinstance(found, dict) or found.get("made by") != _MADE_BY:
        return None
    listed = found.get("sha256")
    return listed if isinstance(listed, dict) else None


def _digests(folder: Path) -> dict[str, str]:
    """Return the SHA-256 of every file but the manifest, by its path in the folder."""
    files = sorted(one for one in folder.rglob("*") if one.is_file())
    return {
        one.relative_to(folder).as_posix(): _digest(one)
        for one in files
        if one != folder / MANIFEST
    }


def _digest(file: Path) -> str:
    digest = hashlib.sha256()
    with file.open("rb") as opened:
        while chunk := opened.read(_CHUNK):
            digest.update(chunk)
    return digest.hexdigest()
