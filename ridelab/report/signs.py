"""Small signs beside words: a shape for what the word and its colour say too.

Drawn rather than typed, since not every machine has a font with these characters.
"""

from __future__ import annotations

from ridelab.report.markup import Markup, tag, text

#: what is said -> (colour role, outline on a 16 x 16 field, whether the outline is filled)
_SIGNS: dict[str, tuple[str, str, bool]] = {
    "holds": ("holds", "M2.5 8.5 6.5 12.5 13.5 4", False),
    "fails": ("departs", "M3.5 3.5 12.5 12.5M12.5 3.5 3.5 12.5", False),
    "undecided": ("doubt", "M8 2.5A5.5 5.5 0 1 0 8 13.5ZM8 2.5A5.5 5.5 0 0 1 8 13.5", False),
    "untestable": ("quiet", "M2.5 8H13.5", False),
    "departs": ("departs", "M8 2 13 8 8 14 3 8Z", True),
    "set aside": ("departs", "M3.5 3.5 12.5 12.5M12.5 3.5 3.5 12.5", False),
    "in doubt": ("doubt", "M8 2.5 14 13.5H2ZM8 6.5V10M8 11.4V12.2", False),
    "warning": ("doubt", "M8 2.5 14 13.5H2ZM8 6.5V10M8 11.4V12.2", False),
    "caution": ("doubt", "M8 2.5 14 13.5H2ZM8 6.5V10M8 11.4V12.2", False),
    "note": ("quiet", "M8 2.5V4.5M8 7V13.5", False),
}


def signed(word: str) -> Markup:
    """Return a word with its sign; a word that has none stands alone."""
    if word not in _SIGNS:
        return text(word)
    role, outline, filled = _SIGNS[word]
    paint = "fill:currentColor" if filled else "fill:none;stroke:currentColor;stroke-width:2"
    drawing = tag("path", d=outline, style=paint)
    picture = tag("svg", drawing, viewBox="0 0 16 16", class_="sign", aria_hidden="true")
    return tag("span", picture, Markup(" "), text(word), class_=f"word {role}")
