"""The charts of the report as files: pictures to publish, the figures behind them, an index.

Files are named after vehicle and chart as links into the report are, so no name from a campaign can
lead out of the folder, grow too long for a file system, or stand for two files.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ridelab.report.contact_sheet import contact_sheet
from ridelab.report.drawing import specified
from ridelab.report.exhibit import WIDTH_PX
from ridelab.report.markup import printable, slug
from ridelab.report.palette import in_theme
from ridelab.report.sheet import as_sheet

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from ridelab.report.exhibit import Chart, Exhibit
    from ridelab.report.palette import Theme

#: The version of the chart grammar that the installed altair writes.
GRAMMAR = "6.4"
#: Dots a pixel of width, so that a chart 12 cm wide has 288 dots an inch.
_SCALE = 2
_ALONE = {"background": "white", "padding": 12}
#: Letters as wide wherever a picture is opened as where it was laid out: these fonts share widths.
_FONT = "Arial, Liberation Sans, Arimo, sans-serif"
_CLIP = re.compile(r'( id="| clip-path="url\(#)(clip\d+)(?=[")])')


@dataclass(frozen=True)
class Look:
    """How pictures are drawn: on white for paper and light slides, or on the dark page's ground."""

    theme: Theme = "light"
    width_px: int = WIDTH_PX


@dataclass(frozen=True)
class Pictured:
    """A chart as written: its name, the rows of its figures, and its files in the folder."""

    name: str
    rows: int
    files: tuple[str, ...]


def write_pictures(
    exhibits: Iterable[Exhibit],
    folder: Path,
    title: str,
    look: Look,
    drawn: Callable[[int], None] = lambda _: None,
) -> list[Pictured]:
    """Write each chart as SVG, PNG and CSV into a folder, and ``index.html`` that shows them.

    Args:
        exhibits: the charts.
        folder: where to write; it is made.
        title: the name of the campaign.
        look: of the pictures; the figures are in SI units, with all digits.
        drawn: is told how many are.

    Raises:
        OSError: a file cannot be written.
    """
    folder.mkdir()
    shown, done = [], []
    for exhibit in exhibits:
        name = slug(*exhibit.parts)
        files = _write(exhibit, folder, name, look)
        shown.append((exhibit, files))
        done.append(Pictured(name, len(exhibit.data), files))
        drawn(len(done))
    (folder / "index.html").write_text(contact_sheet(shown, title), "utf-8", newline="\n")
    return done


def _write(exhibit: Exhibit, folder: Path, name: str, look: Look) -> tuple[str, ...]:
    svg = as_svg(exhibit.picture(look.width_px), look.theme)
    written: dict[str, bytes] = {
        f"{name}.svg": svg.encode("utf-8"),
        f"{name}.png": _dots(svg),
        f"{name}.csv": as_sheet(exhibit.data).encode("utf-8"),
    }
    for file, content in written.items():
        (folder / file).write_bytes(content)
    return tuple(written)


def as_svg(chart: Chart, theme: Theme = "light") -> str:
    """Return a chart as SVG, on a ground of its own."""
    import vl_convert

    spec = _printable(specified(chart) | _ALONE)
    spec["config"]["font"] = _FONT
    svg = vl_convert.vegalite_to_svg(json.dumps(spec, allow_nan=False), vl_version=GRAMMAR)
    return in_theme(_numbered(str(svg)), theme)


def _numbered(svg: str) -> str:
    """Number clip paths from 1: the drawing program counts on from picture to picture."""
    seen: dict[str, str] = {}

    def renamed(found: re.Match[str]) -> str:
        return found[1] + seen.setdefault(found[2], f"clip{len(seen) + 1}")

    return _CLIP.sub(renamed, svg)


def _printable(value: Any) -> Any:  # noqa: ANN401 - whatever a specification holds
    """Replace what XML cannot hold: the drawing program would end this whole process."""
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, dict):
        return {key: _printable(held) for key, held in value.items()}
    return [_printable(one) for one in value] if isinstance(value, list) else value


def _dots(svg: str) -> bytes:
    import vl_convert

    return bytes(vl_convert.svg_to_png(svg, scale=_SCALE))
