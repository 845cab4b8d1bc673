"""Everything a store holds as files: relations, what their columns mean, the report, the claims.

A folder is written whole or not at all: it is made beside the place where it shall be, and takes
that place at the end. What stands there is replaced only if it is an export, and nobody has added
to it or changed it since.
"""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from ridelab.errors import UsageError
from ridelab.report.page import write_report
from ridelab.report.published import claims_document
from ridelab.store.writing import file_stem, harmless

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelab.store import Store
    from ridelab.units import UnitSystem

#: Lists the files of an export with the SHA-256 of each; says that a folder is one.
MANIFEST = "export.json"
_MADE_BY = "ridelab export"
_READABLE_FOLDER = 0o755
_CHUNK = 1 << 20


@dataclass(frozen=True)
class Exported:
    """A relation as written: rows, and its files by their names in the folder."""

    relation: str
    rows: int
    parquet: str
    csv: str


class Opened(Protocol):
    """Opens the store that is exported, so that it may write into a folder."""

    def __call__(self, into: Path, /) -> Store:
        """Return it, open to read."""


def export(opened: Opened, folder: Path, title: str, units: UnitSystem) -> list[Exported]:
    """Write all relations, ``columns.csv``, ``claims.md`` and ``report/index.html`` into a folder.

    The same store gives the same bytes.

    Args:
        opened: opens the store.
        folder: what shall be made, or replaced if it is an export.
        title: the name of the campaign.
        units: what the report and the claims are shown in; relations are in SI units.

    Raises:
        UsageError: something else stands there; nothing was written.
        StoreError: the store cannot be read, or a file not written.
        OSError: the folder cannot be made.
    """
    with _made_beside(folder) as made:
        with opened(made) as store:
            done = [_relation(store, name, made) for name in store.relations()]
            _columns(store, made / "columns.csv")
            document = claims_document(store, title, units)
            (made / "claims.md").write_text(document, encoding="utf-8", newline="\n")
            write_report(store, made / "report", title, units)
        _manifest(made)
    return done


def _relation(store: Store, name: str, made: Path) -> Exported:
    stem = file_stem(name)
    parquet, table = made / f"{stem}.parquet", made / f"{stem}.csv"
    rows = store.write(name, parquet, table)
    return Exported(name, rows, parquet.name, table.name)


def _columns(store: Store, file: Path) -> None:
    """Write what each column means, and in which unit it is."""
    with file.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.writer(opened, lineterminator="\n")
        writer.writerow(("relation", "column", "type", "unit", "meaning"))
        for relation in store.relations():
            for column in store.columns(relation):
                writer.writerow(harmless(cell) for cell in (relation, *column))


def _manifest(made: Path) -> None:
    listed = {"made by": _MADE_BY, "sha256": _digests(made)}
    text = json.dumps(listed, indent=1, ensure_ascii=True)
    (made / MANIFEST).write_text(f"{text}\n", encoding="utf-8", newline="\n")


@contextmanager
def _made_beside(folder: Path) -> Iterator[Path]:
    """Yield a new folder that becomes ``folder`` at the end, or vanishes where that fails."""
    target = folder.resolve()
    _check(target, folder)
    target.parent.mkdir(parents=True, exist_ok=True)
    made = Path(tempfile.mkdtemp(dir=target.parent, prefix=f".{target.name}-"))
    try:
        made.chmod(_READABLE_FOLDER)
        yield made
        _check(target, folder)  # a run takes a while, in which somebody may have come by
        _take_place(made, target)
    finally:
        shutil.rmtree(made, ignore_errors=True)


def _take_place(made: Path, target: Path) -> None:
    """Put the new folder in the place of the old one, or leave that as it is."""
    old = Path(tempfile.mkdtemp(dir=target.parent, prefix=f".{target.name}-")) / "old"
    try:
        if target.exists():
            target.rename(old)
        try:
            made.rename(target)
        except BaseException:
            if old.exists():
                old.rename(target)
            raise
    finally:
        shutil.rmtree(old.parent, ignore_errors=True)


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
