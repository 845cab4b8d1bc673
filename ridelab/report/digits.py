"""Figures for people: in the units of the campaign, with no more digits than are known."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from ridelab.units import decimals_supported, display_unit, format_number

if TYPE_CHECKING:
    from ridelab.units import Measure, UnitSystem

#: Shown where a figure is not known.
UNKNOWN = "–"
NO_BREAK = "\u00a0"
_MINUTE_S, _HOUR_S = 60, 3600
_SHORT_S = 90  # below this, seconds are shown


def known(value: float | None) -> float | None:
    """Return the value, or None where the store holds no number."""
    return value if value is not None and isfinite(value) else None


def half_width(low: float | None, high: float | None) -> float | None:
    """Return half the width of an interval, None where it is not known or has no width."""
    below, above = known(low), known(high)
    return None if below is None or above is None else (above - below) / 2 or None


def number(value: float, decimals: int, plus: bool = False) -> str:
    """Print a number; its minus is as wide as a plus, and zero has neither."""
    printed = format_number(value, decimals)
    return f"+{printed}" if plus and float(printed) > 0 else printed.replace("-", "−")


@dataclass(frozen=True)
class Printer:
    """Prints SI values in one system of units."""

    units: UnitSystem

    def unit(self, measure: Measure) -> str:
        """Return the symbol for the head of a column: "m", "%", empty for a ratio."""
        return display_unit(measure, self.units).symbol

    def scale(self, measure: Measure) -> float:
        """Return how many of the shown unit make one SI unit."""
        return display_unit(measure, self.units).per_si

    def headed(self, title: str, measure: Measure) -> str:
        """Return a column's head with its unit: "Development, m"."""
        unit = self.unit(measure)
        return f"{title}, {unit}" if unit else title

    def bare(
        self, measure: Measure, value: float | None, half: float | None = None, sign: bool = False
    ) -> str:
        """Print a number without its unit, with the digits that its half width supports."""
        found = known(value)
        if found is None:
            return UNKNOWN
        shown = found * self.scale(measure)
        return number(shown, self._decimals(measure, half), plus=sign)

    def value(self, measure: Measure, value: float | None, half: float | None = None) -> str:
        """Print a number with its unit."""
        shown = self.bare(measure, value, half)
        return shown if shown == UNKNOWN else f"{shown}{NO_BREAK}{self.unit(measure)}".rstrip()

    def plus_minus(
        self, measure: Measure, value: float | None, half: float | None, sign: bool = False
    ) -> str:
        """Print "1.139 ± 0.004" without the unit, on one line."""
        shown = self.bare(measure, value, half, sign)
        if half is None or shown == UNKNOWN:
            return shown
        return f"{shown}{NO_BREAK}±{NO_BREAK}{self.bare(measure, half, half)}"

    def span(self, measure: Measure, low: float | None, high: float | None) -> str:
        """Print an interval with its unit, "537 to 541 %"; empty where there is none."""
        half = half_width(low, high)
        if half is None:
            return ""
        ends = f"{self.bare(measure, low, half)} to {self.bare(measure, high, half)}"
        return f"{ends}{NO_BREAK}{self.unit(measure)}".rstrip()

    def _decimals(self, measure: Measure, half: float | None) -> int:
        if half:
            return decimals_supported(half * self.scale(measure))
        return display_unit(measure, self.units).decimals


def duration(seconds: float | None) -> str:
    """Print "48 s", "12 min" or "3 h 12 min"."""
    found = known(seconds)
    if found is None:
        return UNKNOWN
    if found < _SHORT_S:
        return f"{found:.0f}{NO_BREAK}s"
    minutes = round(found / _MINUTE_S)
    if minutes < 100:
        return f"{minutes}{NO_BREAK}min"
    hours, rest = divmod(minutes, _HOUR_S // _MINUTE_S)
    return f"{hours}{NO_BREAK}h {rest:02d}{NO_BREAK}min"


def percent(share: float | None) -> str:
    """Print a share as a whole percentage; neither 0 % nor 100 % unless it is exactly that."""
    found = known(share)
    if found is None:
        return UNKNOWN
    if 0 < found < 0.01:
        return f"< 1{NO_BREAK}%"
    if 0.99 < found < 1:
        return f"> 99{NO_BREAK}%"
    return f"{100 * found:.0f}{NO_BREAK}%"


def count(things: int, one: str, many: str = "") -> str:
    """Print "1 ride", "3 rides"."""
    return f"{things}{NO_BREAK}{one if things == 1 else many or one + 's'}"
