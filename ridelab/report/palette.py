"""Every colour of the report, once: what it is for, on a light page and on a dark one.

Charts are drawn in the light colours; on a dark page the style sheet answers each of them with its
partner, so a chart follows the reader's setting at once and stays plain in a notebook.
Text colours stand at 4.5 : 1 or more against the page, those of marks at 3 : 1 (WCAG 2.2, success
criteria 1.4.3 and 1.4.11).
"""

from __future__ import annotations

import re
from typing import Final, Literal

Theme = Literal["light", "dark"]
# In XML no text holds "<", and no attribute its quotes.
_TAG = re.compile("<[^<>]+>")
_PAINT = re.compile('(fill|stroke)="([^"]*)"')

#: role -> (light, dark); the light values differ from each other, which the style sheet relies on.
PALETTE: Final[dict[str, tuple[str, str]]] = {
    "page": ("#fdfcf9", "#14181b"),
    "raised": ("#f2f0ea", "#1e2428"),
    "ink": ("#1c2429", "#e4e8ea"),
    "quiet": ("#545e66", "#a2adb4"),
    "line": ("#d6d2c8", "#394148"),
    "measured": ("#0b5a75", "#71c6e2"),
    "published": ("#8a5200", "#e2a654"),
    "departs": ("#a61e43", "#ff91a8"),
    "idle": ("#7b848b", "#78848c"),
    "holds": ("#1b6a3b", "#7ccf99"),
    "doubt": ("#705800", "#d9c05a"),
}


def light(role: str) -> str:
    """Return the colour of a role as charts use it."""
    return PALETTE[role][0]


def in_theme(svg: str, theme: Theme) -> str:
    """Return a drawing in the colours of a theme; what it says in words stays as it is.

    White, the ground of a drawing for paper, becomes the ground of the dark page.
    """
    if theme == "light":
        return svg
    partners = {"white": PALETTE["page"][1]} | dict(PALETTE.values())

    def repainted(found: re.Match[str]) -> str:
        paint, colour = found.groups()
        return f'{paint}="{partners.get(colour, colour)}"'

    return _TAG.sub(lambda tag: _PAINT.sub(repainted, tag[0]), svg)


def style_sheet() -> str:
    """Return the colours as CSS: variables by role, and the dark partner of each chart colour."""
    return (
        f":root{{color-scheme:light dark;{_variables(0)}}}\n"
        f"@media screen and (prefers-color-scheme:dark){{\n:root{{{_variables(1)}}}\n"
        + "\n".join(_answer(*pair) for pair in PALETTE.values())
        + "\n}\n"
    )


def _variables(theme: int) -> str:
    return "".join(f"--{role}:{pair[theme]};" for role, pair in PALETTE.items())


def _answer(light_colour: str, dark_colour: str) -> str:
    return "".join(
        f'.chart [{paint}="{light_colour}"]{{{paint}:{dark_colour}}}'
        for paint in ("fill", "stroke")
    )
