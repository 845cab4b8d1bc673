"""A page as a list of elements, read by the standard library's parser."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

_VOID = {"meta", "link", "wbr", "br", "hr", "img", "input"}


@dataclass
class Element:
    """An element with its attributes, its own and its descendants' text, and what holds it."""

    tag: str
    attributes: dict[str, str]
    parent: Element | None
    text: str = ""
    children: list[Element] = field(default_factory=list)

    def all(self, tag: str) -> list[Element]:
        """Return every descendant of a kind, in the order of the page."""
        found = []
        for child in self.children:
            if child.tag == tag:
                found.append(child)
            found += child.all(tag)
        return found

    def everything(self) -> list[Element]:
        """Return every descendant."""
        found = []
        for child in self.children:
            found += [child, *child.everything()]
        return found


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.root = Element("root", {}, None)
        self._open = self.root

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {key: value or "" for key, value in attrs}, self._open)
        self._open.children.append(element)
        if tag not in _VOID:
            self._open = element

    def handle_endtag(self, tag: str) -> None:
        assert self._open.tag == tag, f"<{self._open.tag}> closed by </{tag}>"
        assert self._open.parent is not None
        self._open = self._open.parent

    def handle_data(self, data: str) -> None:
        at: Element | None = self._open
        while at is not None:
            at.text += data
            at = at.parent


def parse(page: str) -> Element:
    """Return the root of a page; every element must be closed where it was opened."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    assert reader._open is reader.root
    return reader.root
