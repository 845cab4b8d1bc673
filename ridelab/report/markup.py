"""HTML from parts: what is text and what is markup differ in type, so that nothing goes unescaped.

Every builder takes ``Markup``; the only way from text to ``Markup`` is ``text`` or ``name``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from hashlib import sha256
from html import escape
from typing import TYPE_CHECKING, Literal, NewType

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

Markup = NewType("Markup", str)

NOTHING = Markup("")
_LONGEST = 80  # characters of a name that are shown; the rest stands in its tooltip
_LONGEST_HINT = 2000
# C0 and C1 controls have no place in HTML text, the last two of the basic plane none in XML; lone
# surrogates cannot be written as UTF-8.
_UNPRINTABLE = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
# Marks, embeddings, overrides and isolates of direction would reorder their neighbours in a chart,
# where there is no <bdi> to hold them.
_DIRECTION = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
# Of devices, on some systems: no file can have such a name.
_DEVICE = re.compile("con|prn|aux|nul|(com|lpt)[0-9]")


def text(raw: object) -> Markup:
    """Escape anything as text; control characters show as the replacement character."""
    return Markup(escape(printable(str(raw))))


def printable(raw: str) -> str:
    """Return text that HTML and XML can hold; what they cannot is the replacement character."""
    return _UNPRINTABLE.sub("\ufffd", raw)


def name(raw: str) -> Markup:
    """Show a name from a file or campaign: its direction isolated, long ones shortened.

    What was cut stands in the tooltip, up to 2,000 characters.
    """
    short = shortened(raw)
    hint = None if short == raw else raw[:_LONGEST_HINT]
    return tag("bdi", Markup(text(short).replace("/", "/<wbr>")), title=hint)


def sentence(raw: str) -> Markup:
    """Show a sentence that may hold names: whole, its direction isolated."""
    return tag("bdi", text(raw))


def shortened(raw: str) -> str:
    """Cut a long name in the middle: its end, often a file name, tells as much as its start."""
    if len(raw) <= _LONGEST:
        return raw
    half = _LONGEST // 2 - 1
    return f"{raw[:half]} … {raw[-half:]}"


def chart_name(raw: str) -> str:
    """Return a name as a chart can show it: short, one line, no control of direction.

    A chart tells vehicles apart by this name, so one that was changed carries a digest.
    """
    clean = _DIRECTION.sub("\ufffd", printable(" ".join(shortened(raw).split())))
    return clean if clean == raw else f"{clean} ({digest(raw)[:4]})"


def digest(raw: str) -> str:
    """Return a short word that stands for a name, the same from run to run."""
    return sha256(raw.encode("utf-8", "surrogatepass")).hexdigest()[:8]


def anchor(kind: str, *names: str) -> str:
    """Return an id for links that stays the same from run to run: ``claim-c1.heron``."""
    return f"{kind}-{slug(*names)}"


def slug(*names: str) -> str:
    """Return names as one plain word for links and files, the same from run to run: ``c1.heron``.

    A name that is not plain itself gets a digest, so that no two lists of names share a word.
    """
    return ".".join(_slug(raw) for raw in names)


def _slug(raw: str) -> str:
    plain = re.sub(r"[^a-z0-9]+", "-", raw.lower()[:_LONGEST]).strip("-")
    if plain and plain == raw and not _DEVICE.fullmatch(raw):
        return plain
    return f"{plain[:30].strip('-')}_{digest(raw)}"


def tag(element: str, *inside: Markup, **attributes: str | int | None) -> Markup:
    """Return an element: ``class_`` is class, ``aria_label`` is aria-label, None is nothing."""
    written = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{text(value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    return Markup(f"<{element}{written}>{''.join(inside)}</{element}>")


def join(parts: Iterable[Markup], between: str = "") -> Markup:
    """Put parts one after the other, with plain text between."""
    return Markup(text(between).join(parts))


def paragraph(*inside: Markup, class_: str | None = None) -> Markup:
    """Return a paragraph."""
    return tag("p", *inside, class_=class_)


def link(target: str, inside: Markup) -> Markup:
    """Return a link to an anchor of this page."""
    return tag("a", inside, href=f"#{target}")


def here(target: str, what: str) -> Markup:
    """Return the link to copy that stands beside what an anchor leads to."""
    label = f"link to {chart_name(what)}"
    return tag("a", text("link"), href=f"#{target}", class_="here", aria_label=label)


def heading(element: str, inside: Markup, target: str, what: str) -> Markup:
    """Return a heading with a link to its section; ``what`` says in words where that leads."""
    return tag(element, inside, Markup(" "), here(target, what))


def bullets(items: Iterable[Markup], class_: str | None = None) -> Markup:
    """Return a list."""
    return tag("ul", *(tag("li", item) for item in items), class_=class_)


def folded(summary: Markup, *inside: Markup, class_: str | None = None) -> Markup:
    """Return something that opens on request, by mouse or keyboard, without a script."""
    return tag("details", tag("summary", summary), *inside, class_=class_)


@dataclass(frozen=True)
class Column:
    """A column of a table.

    A number is set flush right in figures of one width, what is whole stays on one line, prose may
    be long and breaks anywhere rather than making the table wider.
    """

    head: str
    style: Literal["number", "whole", "prose"] | None = None


@dataclass(frozen=True)
class Row:
    """A row of a table; its first cell is its head. ``id`` makes it a target of links."""

    cells: Sequence[Markup]
    id: str | None = None
    class_: str | None = None


def table(
    caption: Markup, columns: Sequence[Column], rows: Iterable[Row], *, cards: bool = False
) -> Markup:
    """Return a table that scrolls inside its own box, which the keyboard can reach.

    ``cards``: on a narrow screen each row is a card instead, its cells below one another.
    """
    heads = (tag("th", text(column.head), scope="col", class_=column.style) for column in columns)
    written = tag(
        "table",
        tag("caption", tag("span", caption)),
        tag("thead", tag("tr", *heads)),
        tag("tbody", *(_row(columns, row, cards) for row in rows)),
        class_="cards" if cards else None,
    )
    label = re.sub("<[^>]*>", "", caption)
    return Markup(
        f'<div class="scroll" role="region" tabindex="0" aria-label="{label}">{written}</div>'
    )


def _row(columns: Sequence[Column], row: Row, cards: bool) -> Markup:
    cells = (
        tag(
            "td" if place else "th",
            cell,
            scope=None if place else "row",
            class_=column.style,
            data_head=column.head if cards else None,
        )
        for place, (column, cell) in enumerate(zip(columns, row.cells, strict=True))
    )
    return tag("tr", *cells, id=row.id, class_=row.class_)
