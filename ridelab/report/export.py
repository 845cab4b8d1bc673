"""Everything a store holds as files: relations, what their columns mean, claims, report, charts."""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, Protocol, get_args

from ridelab.report.chart_columns import chart_columns
from ridelab.report.digits import Printer
from ridelab.report.drawing import unchecked
from ridelab.report.findings import read_findings
from ridelab.report.folder import made_beside
from ridelab.report.illustrations import illustrations
from ridelab.report.page import write_report
from ridelab.report.pictures import Look, write_pictures
from ridelab.report.published import claims_document
from ridelab.store.writing import file_stem, harmless

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
    from pathlib import Path

    from ridelab.store import Store
    from ridelab.units import UnitSystem

    #: Is told the part under way, how much of it is done, and how much there is.
    Progress = Callable[[str, int, int], None]

#: ``relations``: each as Parquet and CSV, with ``columns.csv``; ``claims``: ``claims.md``;
#: ``report``: ``report/index.html``; ``charts``: pictures and figures, with ``charts/index.html``
#: and ``charts/columns.csv``.
Part = Literal["relations", "claims", "report", "charts"]
PARTS: tuple[Part, ...] = get_args(Part)


@dataclass(frozen=True)
class Wanted:
    """What is exported: under which title, in which units, which parts, how charts are drawn.

    Relations and the figures of charts are in SI units, whatever the units.
    """

    title: str
    units: UnitSystem = "metric"
    parts: Collection[Part] = PARTS
    look: Look = field(default_factory=Look)


@dataclass(frozen=True)
class Exported:
    """What was written: its part, its name, its rows if it has any, its files in the folder."""

    part: Part
    name: str
    rows: int | None
    files: tuple[str, ...]


class Opened(Protocol):
    """Opens the store that is exported, so that it may write into a folder."""

    def __call__(self, into: Path, /) -> Store:
        """Return it, open to read."""


def export(
    opened: Opened,
    folder: Path,
    wanted: Wanted,
    progress: Progress = lambda *_: None,
) -> list[Exported]:
    """Write what is wanted of a store into a folder, which becomes an export or stays as it is.

    The same store gives the same bytes.

    Args:
        opened: opens the store.
        folder: what shall be made, or replaced if it is an export.
        wanted: what is written.
        progress: is told how far it is.

    Raises:
        UsageError: something else stands there; nothing was written.
        StoreError: the store cannot be read, or a file not written.
        OSError: the folder cannot be made.
    """
    with made_beside(folder) as made, opened(made) as store:
        return [
            one
            for part, written in _WRITTEN.items()
            if part in wanted.parts
            for one in written(store, made, wanted, progress)
        ]


def _relations(store: Store, made: Path, _: Wanted, progress: Progress) -> Iterator[Exported]:
    names = store.relations()
    for place, name in enumerate(names, 1):
        stem = file_stem(name)
        parquet, table = made / f"{stem}.parquet", made / f"{stem}.csv"
        rows = store.write(name, parquet, table)
        progress("relations", place, len(names))
        yield Exported("relations", name, rows, (parquet.name, table.name))
    _columns(store, made / "columns.csv")


def _columns(store: Store, file: Path) -> None:
    """Write what each column means, and in which unit it is."""
    head = ("relation", "column", "type", "unit", "meaning")
    rows = ((name, *column) for name in store.relations() for column in store.columns(name))
    _sheet(file, head, rows)


def _sheet(file: Path, head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    with file.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.writer(opened, lineterminator="\n")
        writer.writerow(head)
        for row in rows:
            writer.writerow(map(harmless, row))


def _claims(store: Store, made: Path, wanted: Wanted, _: Progress) -> Iterator[Exported]:
    document = claims_document(store, wanted.title, wanted.units)
    (made / "claims.md").write_text(document, encoding="utf-8", newline="\n")
    yield Exported("claims", "claims", None, ("claims.md",))


def _report(store: Store, made: Path, wanted: Wanted, _: Progress) -> Iterator[Exported]:
    written = write_report(store, made / "report", wanted.title, wanted.units)
    yield Exported("report", "report", None, (written.relative_to(made).as_posix(),))


def _charts(store: Store, made: Path, wanted: Wanted, progress: Progress) -> Iterator[Exported]:
    with unchecked():
        exhibits = list(illustrations(read_findings(store), Printer(wanted.units)))

    def drawn(count: int) -> None:
        progress("charts", count, len(exhibits))

    into = made / "charts"
    for one in write_pictures(exhibits, into, wanted.title, wanted.look, drawn):
        files = tuple(f"{into.name}/{file}" for file in one.files)
        yield Exported("charts", one.name, one.rows, files)
    head = ("chart", "column", "unit", "meaning")
    _sheet(into / "columns.csv", head, chart_columns(exhibits, store))


_WRITTEN = {"relations": _relations, "claims": _claims, "report": _report, "charts": _charts}
