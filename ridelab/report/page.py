"""The page: one file of HTML that carries all it needs, and asks the network for nothing."""

from __future__ import annotations

import tempfile
from importlib.resources import files
from pathlib import Path
from string import Template
from typing import TYPE_CHECKING

from ridelab.report.closing import contents, meaning_section, set_aside_section, shifts_section
from ridelab.report.digits import Printer
from ridelab.report.evidence import evidence_section
from ridelab.report.findings import read_findings
from ridelab.report.first_screen import first_screen
from ridelab.report.markup import NOTHING, Markup, shortened, tag, text
from ridelab.report.palette import style_sheet
from ridelab.report.use_section import use_section
from ridelab.report.vehicles import vehicle_section

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridelab.report.findings import Findings, Frames
    from ridelab.units import UnitSystem

#: The version of the chart grammar that the installed altair writes.
_GRAMMAR = "6.4"
#: As others expect of a document; temporary files are private.
_READABLE = 0o644


def write_report(store: Frames, out_dir: Path, title: str, units: UnitSystem = "metric") -> Path:
    """Write ``index.html`` into a folder, which is made if need be, and return its path.

    A page that is there is replaced at once or not at all. The same store gives the same bytes.

    Args:
        store: anything whose ``frame`` returns the relations of a store.
        out_dir: where to write.
        title: the name of the campaign, shown as it is.
        units: what figures are shown in.

    Raises:
        StoreError: the store cannot be read.
        OSError: the folder or the file cannot be written.
    """
    page = render(read_findings(store), title, Printer(units))
    out_dir.mkdir(parents=True, exist_ok=True)
    return _replace(out_dir / "index.html", page)


def render(findings: Findings, title: str, printer: Printer) -> str:
    """Return the page."""
    vehicles = findings.vehicles
    parts = [
        first_screen(findings, title, contents(findings), printer),
        _gathered("vehicles", "Ladders", (vehicle_section(one, printer) for one in vehicles)),
        _gathered("use", "Use of gears", (use_section(one, printer) for one in vehicles)),
        _gathered("evidence", "Evidence", (evidence_section(one, printer) for one in vehicles)),
        shifts_section(findings, printer),
        set_aside_section(findings),
        meaning_section(),
    ]
    return Template(_packed("page.html")).substitute(
        title=text(shortened(title)),
        style=style_sheet() + _packed("page.css"),
        body=tag("main", *parts, id="main"),
        charts=chart_runtime(),
        script=_packed("page.js"),
    )


def chart_runtime() -> str:
    """Return the script that draws charts, as one piece that needs nothing else.

    It comes out of an installed package; nothing is fetched.
    """
    import vl_convert

    return str(vl_convert.javascript_bundle("window.vegaEmbed = vegaEmbed;", vl_version=_GRAMMAR))


def _gathered(target: str, title: str, sections: Iterable[Markup]) -> Markup:
    inside = [section for section in sections if section]
    return tag("section", tag("h2", text(title)), *inside, id=target) if inside else NOTHING


def _packed(file: str) -> str:
    return files("ridelab.report").joinpath(file).read_text("utf-8")


def _replace(path: Path, page: str) -> Path:
    """Write beside the page and rename over it: a reader sees the old page or the new one."""
    handle, beside = tempfile.mkstemp(dir=path.parent, prefix=".index-", suffix=".html")
    try:
        with open(handle, "w", encoding="utf-8") as file:  # noqa: PTH123 - a descriptor, not a path
            file.write(page)
        Path(beside).chmod(_READABLE)
        Path(beside).replace(path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise
    return path
