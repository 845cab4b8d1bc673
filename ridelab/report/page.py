"""The page: one file of HTML that carries all it needs, and asks the network for nothing."""

from __future__ import annotations

import tempfile
from importlib.resources import files
from pathlib import Path
from string import Template
from typing import TYPE_CHECKING, Literal

from ridelab.interruption import heed
from ridelab.report.closing import contents, meaning_section, set_aside_section, shifts_section
from ridelab.report.digits import Printer
from ridelab.report.drawing import unchecked
from ridelab.report.evidence import evidence_section
from ridelab.report.figures import shared_look
from ridelab.report.findings import read_findings
from ridelab.report.first_screen import answer_section, claims_section, head
from ridelab.report.fleet_section import fleet_section
from ridelab.report.markup import NOTHING, Markup, heading, shortened, tag, text
from ridelab.report.palette import style_sheet
from ridelab.report.runtime import chart_runtime
from ridelab.report.use_section import use_section
from ridelab.report.vehicles import vehicle_section

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridelab.report.findings import Findings, Frames
    from ridelab.units import UnitSystem

First = Literal["fleet", "claims", "use"]
#: As others expect of a document; temporary files are private.
_READABLE = 0o644


def write_report(
    store: Frames,
    out_dir: Path,
    title: str,
    units: UnitSystem = "metric",
    first: First | None = None,
) -> Path:
    """Write ``index.html`` into a folder, which is made if need be, and return its path.

    A page that is there is replaced at once or not at all. The same store gives the same bytes.

    Args:
        store: anything whose ``frame`` returns the relations of a store.
        out_dir: where to write.
        title: the name of the campaign, shown as it is.
        units: what figures are shown in.
        first: the part that comes first: "fleet" for a shop, "claims" for a reviewer, "use" for a
            rider; where there is no such part, or None, the usual order.

    Raises:
        StoreError: the store cannot be read.
        OSError: the folder or the file cannot be written.
    """
    page = render(read_findings(store), title, Printer(units), first)
    out_dir.mkdir(parents=True, exist_ok=True)
    return _replace(out_dir / "index.html", page)


def render(findings: Findings, title: str, printer: Printer, first: First | None = None) -> str:
    """Return the page; ``first`` as of ``write_report``."""
    with unchecked():
        parts = _parts(findings, printer)
    order = sorted(parts, key=lambda target: target != first)
    body = [head(findings, title, contents(order), printer), *(parts[one] for one in order)]
    return Template(_packed("page.html")).substitute(
        title=text(shortened(title)),
        style=style_sheet() + _packed("page.css"),
        body=tag("main", *body, id="main"),
        charts=chart_runtime(),
        script=f"const CHART_LOOK = {shared_look()};\n{_packed('page.js')}",
    )


def _parts(findings: Findings, printer: Printer) -> dict[str, Markup]:
    """Return the parts of the page that there are, by their anchors, in its usual order."""
    vehicles = findings.vehicles
    parts = {
        "fleet": fleet_section(findings, printer),
        "answer": answer_section(findings, printer),
        "claims": claims_section(findings, printer),
        "vehicles": _gathered(
            "vehicles", "Ladders", (vehicle_section(v, printer) for v in vehicles)
        ),
        "use": _gathered("use", "Use of gears", (use_section(v, printer) for v in vehicles)),
        "evidence": _gathered(
            "evidence", "Evidence", (evidence_section(v, printer) for v in vehicles)
        ),
        "shifts": shifts_section(findings, printer),
        "set-aside": set_aside_section(findings),
        "meaning": meaning_section(),
    }
    return {target: part for target, part in parts.items() if part}


def _gathered(target: str, title: str, sections: Iterable[Markup]) -> Markup:
    inside = [section for section in sections if section]
    return (
        tag("section", heading("h2", text(title), target, title), *inside, id=target)
        if inside
        else NOTHING
    )


def _packed(file: str) -> str:
    return files("ridelab.report").joinpath(file).read_text("utf-8")


def _replace(path: Path, page: str) -> Path:
    """Write beside the page and rename over it: a reader sees the old page or the new one.

    Raises:
        OSError: it cannot be written; the old page stands.
    """
    before, behind = ".index-", ".html"
    for left in path.parent.glob(f"{before}*{behind}"):  # by a run that was killed
        left.unlink(missing_ok=True)
    handle, beside = tempfile.mkstemp(dir=path.parent, prefix=before, suffix=behind)
    try:
        with open(handle, "w", encoding="utf-8") as file:  # noqa: PTH123 - a descriptor, not a path
            file.write(page)
        Path(beside).chmod(_READABLE)
        heed()
        Path(beside).replace(path)
    except OSError as error:
        Path(beside).unlink(missing_ok=True)
        raise OSError(error.errno, error.strerror, str(path)) from error
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise
    return path
