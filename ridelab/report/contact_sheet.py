"""One page that shows all exported charts side by side, each with its words and its files."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.report.markup import Markup, join, name, paragraph, shortened, tag, text
from ridelab.report.palette import PALETTE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ridelab.report.exhibit import Exhibit

_INTRO = (
    "Every chart of the report, as SVG (grows without a blur; letters stay letters), as PNG, and "
    "the figures it is drawn from as CSV, in SI units with all digits: which of these digits mean "
    "anything the intervals tell."
)
_COLUMNS = "What the columns mean, and their units"
_STYLE = """
:root { color-scheme: light; }
body { margin: 2rem auto; max-width: 90rem; padding: 0 1.25rem; overflow-wrap: break-word;
  font: 1rem/1.5 system-ui, sans-serif; color: var(--ink); background: var(--page); }
main { display: grid; gap: 1.5rem;
  grid-template-columns: repeat(auto-fill, minmax(min(100%, 26rem), 1fr)); }
figure { margin: 0; border-top: 1px solid var(--line); padding-top: 0.75rem; }
img { display: block; width: 100%; height: auto; }
a { color: var(--measured); margin-right: 1rem; }
p { max-width: 44rem; }
"""


def contact_sheet(shown: Sequence[tuple[Exhibit, Sequence[str]]], title: str) -> str:
    """Return the page; ``shown``: each chart with the names of its files, SVG first."""
    colours = "".join(f"--{role}:{pair[0]};" for role, pair in PALETTE.items())
    head = tag(
        "head",
        Markup('<meta charset="utf-8"><meta name="viewport" content="width=device-width">'),
        tag("title", text(f"Charts: {shortened(title)}")),
        tag("style", Markup(f":root{{{colours}}}{_STYLE}")),
    )
    body = tag(
        "body",
        tag("h1", text("Charts: "), name(title)),
        paragraph(text(_INTRO)),
        paragraph(tag("a", text(_COLUMNS), href="columns.csv", aria_label=_COLUMNS)),
        tag("main", *(_figure(exhibit, files) for exhibit, files in shown)),
    )
    return f"<!DOCTYPE html>\n{tag('html', head, body, lang='en')}\n"


def _figure(exhibit: Exhibit, files: Sequence[str]) -> Markup:
    # The picture bears its words itself; read out, it is called by its heading.
    picture = Markup(f'<img src="{text(files[0])}" alt="{text(exhibit.heading)}" loading="lazy">')
    return tag("figure", picture, tag("figcaption", _files(exhibit, files)))


def _files(exhibit: Exhibit, files: Iterable[str]) -> Markup:
    return join(
        [
            tag("a", text(kind := file.rpartition(".")[2].upper()), href=file,
                aria_label=f"{kind} of {exhibit.heading}")
            for file in files
        ],
        " ",
    )  # fmt: skip
