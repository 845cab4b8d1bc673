"""Names of tyres older than ISO 5775, in inches and French millimetres: which rim they mean.

The inches are those of the tyre, not of the rim, so that a name means a rim by custom alone, and
the way the width is printed is part of it: 26 × 1.75 and 26 × 1 3/4 do not fit the same rim. The
tables follow the bead seat diameters and names in ISO 5775-1 and in the manual of the European Tyre
and Rim Technical Organisation, from memory; sizes of a single maker are left out. A name fixes the
rim, but the width only roughly (700 × 35C is read as 35-622, and often stands on a 37-622): a
measured rollout needs neither.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, TypeVar

from ridelab.errors import NotAccepted

if TYPE_CHECKING:
    from collections.abc import Mapping

T = TypeVar("T")

#: Bead seat diameters in use, mm (ISO 5775-1 and ETRTO, from memory). Another one is a slip of the
#: pen more often than a rim.
LISTED_BEAD_SEATS_MM = (
    203, 239, 251, 254, 288, 298, 305, 317, 330, 340, 349, 355, 357, 369, 387, 390, 400, 406, 419,
    428, 432, 438, 440, 451, 457, 489, 490, 498, 501, 507, 520, 531, 534, 540, 541, 547, 559, 565,
    571, 584, 590, 597, 609, 622, 630, 635, 642,
)  # fmt: skip

_DECIMAL_RIMS_MM = {
    "12": 203, "12 1/2": 203, "14": 254, "16": 305, "18": 355, "20": 406, "22": 457, "24": 507,
    "26": 559, "27.5": 584, "28": 622, "29": 622,
}  # fmt: skip
#: Fractions that mean one rim, or several. 24 × 1 3/8 is also found on 541 mm, which rolls alike.
_FRACTION_RIMS_MM: dict[tuple[str, str], tuple[int, ...]] = {
    ("16", "1 1/4"): (349,),
    ("16", "1 3/8"): (340, 349),
    ("18", "1 3/8"): (390, 400),
    ("20", "1"): (451,),
    ("20", "1 1/8"): (451,),
    ("20", "1 1/4"): (451,),
    ("20", "1 3/8"): (451,),
    ("20", "1 3/4"): (419,),
    ("22", "1 3/8"): (489, 501),
    ("24", "1"): (520, 540),
    ("24", "1 1/8"): (520, 540),
    ("24", "1 1/4"): (540, 547),
    ("24", "1 3/8"): (540,),
    ("26", "3/4"): (571,),
    ("26", "7/8"): (571,),
    ("26", "1"): (571,),
    ("26", "1 1/4"): (597,),
    ("26", "1 3/8"): (590,),
    ("26", "1 1/2"): (584,),
    ("26", "1 3/4"): (571,),
    ("27", "1"): (630,),
    ("27", "1 1/8"): (630,),
    ("27", "1 1/4"): (630,),
    ("27", "1 3/8"): (630,),
    ("28", "1 3/8"): (642,),
    ("28", "1 1/2"): (635,),
}
#: Three parts: the second tells the rim, the third the width.
_THIRD_IS_WIDTH_MM = {("28", "1 5/8"): 622}
_FRENCH_RIMS_MM = {
    ("700", "A"): 642, ("700", "B"): 635, ("700", "C"): 622,
    ("650", "A"): 590, ("650", "B"): 584, ("650", "C"): 571,
    ("600", "A"): 541, ("450", "A"): 390, ("400", "A"): 340,
}  # fmt: skip

#: Printed width -> section width in mm as designated, where that is not the inches in millimetres.
_DECIMAL_WIDTHS_MM = {
    "1.00": 25, "1.25": 32, "1.35": 35, "1.40": 37, "1.50": 40, "1.60": 42, "1.75": 47,
    "1.95": 50, "2.00": 50, "2.10": 54, "2.125": 57, "2.25": 57, "2.35": 60, "2.40": 62,
}  # fmt: skip
_FRACTION_WIDTHS_MM = {
    "3/4": 20, "7/8": 23, "1": 25, "1 1/8": 28, "1 1/4": 32, "1 3/8": 37, "1 1/2": 40,
    "1 5/8": 44, "1 3/4": 47, "2": 50, "2 1/4": 57,
}  # fmt: skip
#: Widths that the trade prints as fractions only: in decimals, nobody can tell which rim is meant.
_ODD_EIGHTHS = {"0.875": "7/8", "1.125": "1 1/8", "1.375": "1 3/8", "1.625": "1 5/8"}
#: Of two names of one rim and width, the trade prints these on wide tyres only.
_NAMED_FROM_MM = {"28": 35, "29": 50, "12": 999}
_INCH_MM = 25.4

_VULGAR = {"⅛": "1/8", "¼": "1/4", "⅜": "3/8", "½": "1/2", "⅝": "5/8", "¾": "3/4", "⅞": "7/8"}
_FRENCH = re.compile(r"([0-9]{3}) ?([abc]?) x ([0-9]{2}) ?([abc]?)", re.ASCII)
_NUMBER = r"[0-9]{1,2}(?:\.[0-9]{1,3}| [1357]/[248])?|[1357]/[248]"
_INCHES = re.compile(rf"({_NUMBER})(?: x ({_NUMBER}))?(?: x ({_NUMBER}))?", re.ASCII)


def read_name(text: str) -> tuple[int, int] | None:
    """Return section width and bead seat diameter in mm of an older name, None if it is no such.

    "26 × 1.75", "20 x 1 3/8", "28 × 1⅝ × 1⅜", "700 × 25C"; inch signs may stand or not.

    Raises:
        NotAccepted: a name that means several rims, or none that is known; lists those in question.
    """
    name = _normal(text)
    if french := _FRENCH.fullmatch(name):
        return _french(text, french[1], (french[2] + french[4]).upper(), french[3])
    inches = _INCHES.fullmatch(name)
    if inches is None or _diameter(inches[1]) not in _diameters():
        return None
    diameter = _diameter(inches[1])
    rims = _inches(diameter, inches[2], inches[3])
    if len(rims) != 1:
        raise NotAccepted(_found(text, len(rims)), _candidates(diameter, rims))
    return rims[0]


def common_names(section_mm: float, bead_seat_mm: float) -> tuple[str, ...]:
    """Return the older names of a tyre that mean it and no other, in inches first.

    Each is read by ``read_name`` as this tyre.
    """
    decimals = [
        f"{diameter} × {width}"
        for diameter, rim in _DECIMAL_RIMS_MM.items()
        for width, section in _DECIMAL_WIDTHS_MM.items()
        if (section, rim) == (section_mm, bead_seat_mm)
        and section >= _NAMED_FROM_MM.get(diameter, 0)
    ]
    fractions = [
        f"{diameter} × {width}"
        for (diameter, width), rims in _FRACTION_RIMS_MM.items()
        if (_FRACTION_WIDTHS_MM[width], rims) == (section_mm, (bead_seat_mm,))
    ]
    thirds = [
        f"{diameter} × {first} × {width}"
        for (diameter, first), rim in _THIRD_IS_WIDTH_MM.items()
        for width, section in _FRACTION_WIDTHS_MM.items()
        if (section, rim) == (section_mm, bead_seat_mm)
    ]
    french = [
        f"{diameter} × {section_mm:.0f}{letter}"
        for (diameter, letter), rim in _FRENCH_RIMS_MM.items()
        if rim == bead_seat_mm and section_mm < 100
    ]
    return (*decimals, *fractions, *thirds, *french)


def _normal(text: str) -> str:
    """Return the name in small letters, parts joined by " x ", fractions as "1 3/8"."""
    name = text.casefold().replace(",", ".")
    for sign, fraction in _VULGAR.items():
        name = name.replace(sign, f" {fraction}")
    name = re.sub(r"[\"″”]|''|\binch(es)?\b|\bin\b|(?<=[0-9])in(ch)?\b", " ", name)
    name = re.sub(r"(?<=[0-9])-(?=[1357]/[248])", " ", name)
    name = re.sub(r"\s*[x×*]\s*", " x ", name)
    return " ".join(name.split())


def _diameter(printed: str) -> str:
    return "12 1/2" if printed == "12.5" else printed


def _diameters() -> set[str]:
    return {*_DECIMAL_RIMS_MM, *(diameter for diameter, _ in _FRACTION_RIMS_MM)}


def _inches(diameter: str, width: str | None, third: str | None) -> list[tuple[int, int]]:
    """Return (section, bead seat) of all tyres that a name in inches can mean."""
    if width is None or width in _ODD_EIGHTHS:
        return []
    if third is not None:
        return _three_parts(diameter, width, third)
    if "." in width:
        rim = _DECIMAL_RIMS_MM.get(diameter)
        return [] if rim is None else [(_decimal_width_mm(width), rim)]
    rims = _FRACTION_RIMS_MM.get((diameter, width), ())
    return [(_FRACTION_WIDTHS_MM[width], rim) for rim in rims]


def _three_parts(diameter: str, width: str, third: str) -> list[tuple[int, int]]:
    """Return what "28 × 1 5/8 × 1 3/8" means, or "26 × 1.75 × 2", where the last part is idle."""
    rim = _THIRD_IS_WIDTH_MM.get((diameter, width))
    if rim is not None:
        return [(_FRACTION_WIDTHS_MM[third], rim)] if third in _FRACTION_WIDTHS_MM else []
    return _inches(diameter, width, None) if "." in width else []


def _decimal_width_mm(width: str) -> int:
    for printed, section in _DECIMAL_WIDTHS_MM.items():
        if float(printed) == float(width):
            return section
    return round(float(width) * _INCH_MM)


def _french(text: str, diameter: str, letter: str, width: str) -> tuple[int, int] | None:
    rims = {key: rim for key, rim in _FRENCH_RIMS_MM.items() if key[0] == diameter}
    if not rims:
        return None
    if (diameter, letter) in rims:
        return int(width), rims[diameter, letter]
    meant = ", ".join(
        f"'{width}-{rim}' ({diameter} × {width}{letter})" for (_, letter), rim in rims.items()
    )
    raise NotAccepted(_found(text, 0), f"the letter of the rim with it, or one of {meant}")


def _found(text: str, rims: int) -> str:
    told = "which fits several rims" if rims else "which does not tell the rim"
    return f"{text[:40]!r}, {told}"


def _candidates(diameter: str, rims: list[tuple[int, int]]) -> str:
    """Return the designations in question; of a rim's many names one, if need be its commonest."""
    if rims:
        return "one of " + ", ".join(f"'{section}-{rim}'" for section, rim in rims)
    decimal = _DECIMAL_RIMS_MM.get(diameter)
    meant = {} if decimal is None else {decimal: f"'47-{decimal}' ({diameter} × 1.75)"}
    for (_, first), rim in _of(diameter, _THIRD_IS_WIDTH_MM):
        meant[rim] = f"{meant[rim]}, '37-{rim}' ({diameter} × {first} × 1 3/8)"
    fractions = [
        ((width != "1 3/8"), width, fitting)
        for (_, width), fitting in _of(diameter, _FRACTION_RIMS_MM)
    ]
    for _, width, fitting in sorted(fractions):
        for rim in fitting:
            section = _FRACTION_WIDTHS_MM[width]
            meant.setdefault(rim, f"'{section}-{rim}' ({diameter} × {width})")
    return "the ISO 5775 designation on the tyre's side, such as " + ", ".join(meant.values())


def _of(diameter: str, names: Mapping[tuple[str, str], T]) -> list[tuple[tuple[str, str], T]]:
    return [(name, rims) for name, rims in names.items() if name[0] == diameter]
