"""Quantities as people print them -> SI, and back again with no more digits than are known.

Inside ridelab everything is SI, but for units that the trade and every sensor count in: cadence in
turns a minute, the teeth of a wheel, and degrees on the globe.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from ridelab.errors import NotAccepted, nearest

UnitSystem = Literal["metric", "imperial"]
Dimension = Literal[
    "ratio", "percent", "speed", "length", "cadence", "torque", "mass", "power", "angle",
]  # fmt: skip
Measure = Literal[
    "ratio", "range", "step", "speed", "development", "rollout", "distance", "cadence", "torque",
    "mass",
]  # fmt: skip

# NIST SP 811 (2008), appendix B.8: the inch, foot, mile and pound are exact; the pound-force is the
# weight of a pound at the standard acceleration 9.80665 m/s2.
_INCH_M = Fraction(254, 10_000)
_FOOT_M = 12 * _INCH_M
_MILE_M = 5280 * _FOOT_M
_POUND_KG = Fraction(45_359_237, 100_000_000)
_POUND_FORCE_FOOT_NM = _POUND_KG * Fraction(980_665, 100_000) * _FOOT_M
_HOUR_S = 3600
_PERCENT = Fraction(1, 100)

#: SI units (turns a minute, degrees) in one of each unit that may be written behind a number.
_UNITS: dict[Dimension, dict[str, Fraction]] = {
    "ratio": {"%": _PERCENT},
    "percent": {"%": _PERCENT},
    "speed": {"km/h": Fraction(1000, _HOUR_S), "mph": _MILE_M / _HOUR_S, "m/s": Fraction(1)},
    "length": {
        "mm": Fraction(1, 1000),
        "cm": Fraction(1, 100),
        "m": Fraction(1),
        "km": Fraction(1000),
        "in": _INCH_M,
        "ft": _FOOT_M,
        "mi": _MILE_M,
    },
    "cadence": {"rpm": Fraction(1)},
    "torque": {
        "N·m": Fraction(1),
        "N m": Fraction(1),
        "Nm": Fraction(1),
        "lbf·ft": _POUND_FORCE_FOOT_NM,
        "lbf ft": _POUND_FORCE_FOOT_NM,
    },
    "mass": {"kg": Fraction(1), "g": Fraction(1, 1000), "lb": _POUND_KG},
    "power": {"W": Fraction(1), "kW": Fraction(1000)},
    "angle": {"deg": Fraction(1), "°": Fraction(1)},
}

_EXAMPLES: dict[Dimension, str] = {
    "ratio": "'540 %' or the factor 5.4",
    "percent": "'2 %' or the fraction 0.02",
    "speed": "'25 km/h', '15.5 mph' or '7 m/s'",
    "length": "'8.5 m', '412 km', '26 in', '14 ft' or '3 mi'",
    "cadence": "'80 rpm'",
    "torque": "'250 N·m' or '184 lbf·ft'",
    "mass": "'85 kg' or '187 lb'",
    "power": "'250 W' or '0.25 kW'",
    "angle": "'47.5 deg'",
}

_QUANTITY = re.compile(r"(?P<number>[+-]?[0-9]+(?:\.[0-9]+)?)\s*(?P<unit>[^\d\s.+-].*)?", re.ASCII)
_COMMA = re.compile(r"[0-9]\s*,\s*[0-9]")
_LONGEST = 40  # characters; nothing that people print is longer


@dataclass(frozen=True)
class Quantity:
    """A printed number understood: ``value_si`` is somewhere within ``half_digit`` of the truth.

    ``half_digit`` is half a unit of the last digit printed, in the unit of ``value_si``: "28 mph"
    stands for 27.5 to 28.5 mph, "8.50 m" for 8.495 to 8.505 m.
    """

    value_si: float
    printed: str
    half_digit: float


def parse_quantity(text: str, dimension: Dimension) -> Quantity:
    """Read a number with or without its unit; a bare number is SI, a bare ratio a factor.

    ``value_si`` is in m/s, m, N·m or kg; a ratio or percentage becomes a plain factor ("540 %" is
    5.4), a cadence stays in turns a minute. Units convert exactly (NIST SP 811).

    Raises:
        NotAccepted: not a number, a comma in it, or a unit of another kind.
    """
    examples = _EXAMPLES[dimension]
    if _COMMA.search(text):
        raise NotAccepted(
            f"{_quoted(text)}, with a comma",
            f"a point as the decimal mark and no mark between thousands, such as {examples}",
        )
    match = _QUANTITY.fullmatch(text.strip()) if len(text) <= _LONGEST else None
    if match is None:
        raise NotAccepted(_quoted(text), examples)
    unit, units = match["unit"], _UNITS[dimension]
    if unit is not None and unit not in units:
        raise NotAccepted(
            f"{_quoted(text)}, whose unit is not one of {dimension} ({nearest(unit, units)})",
            examples,
        )
    number, scale = match["number"], units[unit] if unit else Fraction(1)
    return Quantity(
        value_si=float(Fraction(number) * scale),
        printed=text.strip(),
        half_digit=float(half_last_digit(number) * scale),
    )


def is_bare_number(text: str) -> bool:
    """Say whether a text is a number without any unit."""
    match = _QUANTITY.fullmatch(text.strip())
    return match is not None and match["unit"] is None


def unit_si(unit: str, dimension: Dimension) -> float:
    """Return how many SI units (turns a minute, degrees) one unit is.

    Raises:
        NotAccepted: no unit of that dimension.
    """
    units = _UNITS[dimension]
    if unit not in units:
        raise NotAccepted(f"{_quoted(unit)} as a unit of {dimension}", nearest(unit, units))
    return float(units[unit])


def half_last_digit(number: str) -> Fraction:
    """Return half a unit of the last digit of a printed decimal number: "8.50" gives 0.005."""
    exponent = Decimal(number).as_tuple().exponent
    return Fraction(10) ** int(exponent) / 2


def _quoted(text: str) -> str:
    # repr shows control characters instead of sending them to the terminal
    return repr(text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…")


@dataclass(frozen=True)
class DisplayUnit:
    """How a measure is shown: SI value times ``per_si``, then ``symbol``.

    ``decimals`` is used where no interval tells how many digits are known.
    """

    symbol: str
    per_si: float
    decimals: int


def _per_si(dimension: Dimension, unit: str) -> float:
    return float(1 / _UNITS[dimension][unit])


_RATIO = DisplayUnit("", 1.0, 3)
_DISPLAY: dict[Measure, tuple[DisplayUnit, DisplayUnit]] = {
    "ratio": (_RATIO, _RATIO),
    "range": (DisplayUnit("%", 100.0, 0),) * 2,
    "step": (DisplayUnit("%", 100.0, 1),) * 2,
    "cadence": (DisplayUnit("rpm", 1.0, 0),) * 2,
    "speed": (
        DisplayUnit("km/h", _per_si("speed", "km/h"), 1),
        DisplayUnit("mph", _per_si("speed", "mph"), 1),
    ),
    "development": (DisplayUnit("m", 1.0, 2), DisplayUnit("ft", _per_si("length", "ft"), 1)),
    "rollout": (DisplayUnit("m", 1.0, 3), DisplayUnit("in", _per_si("length", "in"), 1)),
    "distance": (
        DisplayUnit("km", _per_si("length", "km"), 1),
        DisplayUnit("mi", _per_si("length", "mi"), 1),
    ),
    "torque": (DisplayUnit("N·m", 1.0, 0), DisplayUnit("lbf·ft", _per_si("torque", "lbf·ft"), 0)),
    "mass": (DisplayUnit("kg", 1.0, 1), DisplayUnit("lb", _per_si("mass", "lb"), 1)),
}


def display_unit(measure: Measure, units: UnitSystem = "metric") -> DisplayUnit:
    """Return the unit a measure is shown in: for table headers, chart axes and numbers alike."""
    return _DISPLAY[measure][units == "imperial"]


def decimals_supported(half_width: float) -> int:
    """Return the last decimal place worth printing beside an interval of ``value ± half_width``.

    The place of the first digit of the half width: ± 0.004 supports three decimals, ± 12 supports
    tens (-1). JCGM 100:2008 (GUM), 7.2.6, allows one digit more; one less never overstates.

    Raises:
        ValueError: ``half_width`` is not a positive number.
    """
    if not 0 < half_width < float("inf"):
        raise ValueError(f"half_width is {half_width}; it must be positive and finite")
    return -Decimal(repr(half_width)).adjusted()


def format_number(value: float, decimals: int) -> str:
    """Print with that many decimals; -1 rounds to tens. Never prints a negative zero."""
    text = f"{round(value, decimals):.{max(decimals, 0)}f}"
    return text.lstrip("-") if float(text) == 0 else text


def format_quantity(
    value_si: float,
    measure: Measure,
    units: UnitSystem = "metric",
    half_width_si: float | None = None,
) -> str:
    """Print an SI value for people, with its unit.

    With the half width of its interval (same unit as the value) it gets the digits that the
    interval supports, without one the digits usual for the measure.
    """
    shown = display_unit(measure, units)
    decimals = shown.decimals
    if half_width_si:
        decimals = decimals_supported(half_width_si * shown.per_si)
    return f"{format_number(value_si * shown.per_si, decimals)} {shown.symbol}".rstrip()
