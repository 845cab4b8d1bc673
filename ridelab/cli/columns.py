"""How a column of the store is shown to people: its header, its unit, its digits.

The name of a column says its unit (``speed_mps``), so the rules go by name.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from math import isfinite
from typing import TYPE_CHECKING, Any

from ridelab.cli.text import Column, printable
from ridelab.report.digits import half_width
from ridelab.units import DisplayUnit, decimals_supported, display_unit, format_number

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import polars as pl

    from ridelab.units import Measure, UnitSystem

NOTHING = "–"
_ID_SHOWN = 10  # of the 64 characters of a SHA-256; --json has them all
_IDS = {"ride", "sha256"}
_RUNNING_TEXT = {
    "message", "reason", "path", "description", "label", "source", "stages", "combination",
    "same_gear_as", "finding", "meaning",
}  # fmt: skip

#: Part of a column name -> what it measures; the first that fits holds.
_MEASURES: tuple[tuple[str, Measure], ...] = (
    ("development", "development"),
    ("rollout", "rollout"),
    ("distance", "distance"),
    ("metres", "distance"),
    ("odometer", "distance"),
    ("remaining", "distance"),
    ("due", "distance"),
    ("since", "distance"),
    ("range", "range"),
    ("step", "step"),
    ("ratio", "ratio"),
    ("torque", "torque"),
)
_SUFFIXES: dict[str, Measure] = {"mps": "speed", "rpm": "cadence"}
_PLAIN: dict[str, DisplayUnit] = {
    "s": DisplayUnit("s", 1.0, 1),
    "m": DisplayUnit("m", 1.0, 1),
    "w": DisplayUnit("W", 1.0, 0),
    "deg": DisplayUnit("°", 1.0, 5),
    "km": DisplayUnit("km", 1.0, 1),
    "nm": DisplayUnit("N·m", 1.0, 0),
    "j": DisplayUnit("kJ", 0.001, 1),
}
#: What the end of a name says of the unit in the store.
_SI = {
    "mps": "m/s", "rpm": "rpm", "s": "s", "m": "m", "w": "W", "deg": "°", "km": "km", "nm": "N·m",
    "j": "J",
}  # fmt: skip
_NO_UNITS = {"1", "count"}
_EXACT: dict[str, DisplayUnit] = {
    "cadence_resolution_rpm": DisplayUnit("rpm", 1.0, 4),
    "deviation": DisplayUnit("%", 100.0, 2),
    "grade": DisplayUnit("%", 100.0, 1),
    "tolerance": DisplayUnit("%", 100.0, 2),
    "gear_probability": DisplayUnit("%", 100.0, 0),
    "joint_low": DisplayUnit("%", 100.0, 1),
    "joint_high": DisplayUnit("%", 100.0, 1),
    "residual": DisplayUnit("%", 100.0, 2),
    "by_chance": DisplayUnit("%", 100.0, 1),
    "recorded_agreement": DisplayUnit("%", 100.0, 1),
    "count_probability": DisplayUnit("%", 100.0, 0),
    "loss": DisplayUnit("%", 100.0, 1),
    "loss_low": DisplayUnit("%", 100.0, 1),
    "loss_high": DisplayUnit("%", 100.0, 1),
    "against_mean": DisplayUnit("%", 100.0, 1),
    "against_mean_low": DisplayUnit("%", 100.0, 1),
    "against_mean_high": DisplayUnit("%", 100.0, 1),
    "scatter": DisplayUnit("%", 100.0, 2),
    "accuracy": DisplayUnit("%", 100.0, 1),
    "size": DisplayUnit("%", 100.0, 1),
    "size_low": DisplayUnit("%", 100.0, 1),
    "size_high": DisplayUnit("%", 100.0, 1),
    "chance": DisplayUnit("%", 100.0, 2),
}
#: Of columns whose name is their unit.
_TITLES = {"metres": "way", "powered_s": "powered", "metres_per_week": "way a week"}
_SHARE = DisplayUnit("%", 100.0, 1)
_CLOCK = {"seconds", "duration_s", "powered_s", "moving_s"}


def shown(
    frame: pl.DataFrame, units: UnitSystem = "metric", stated: Mapping[str, str] | None = None
) -> list[Column]:
    """Return the columns of any relation as they are shown.

    What has its interval beside it, as ``ratio`` has ``ratio_low`` and ``ratio_high``, gets the
    digits that the interval supports, and so do its ends. ``stated``: units of columns of a user's
    own, which are shown as they are unless their name says the same unit.
    """
    halves = _half_widths(frame)
    return [
        _as_stated(name, frame[name], unit)
        if (unit := (stated or {}).get(name)) and unit != _SI.get(name.rsplit("_", 1)[-1])
        else column(name, frame[name], units, halves=halves.get(_without_end(name)))
        for name in frame.columns
    ]


def _as_stated(name: str, values: pl.Series, unit: str) -> Column:
    numbers = values.dtype.is_numeric()
    cells = [NOTHING if _unknown(value) else _plain(value) for value in values]
    told = printable(unit) if numbers and unit not in _NO_UNITS else ""
    return Column(printable(name.replace("_", " ")), cells, unit=told, right=numbers)


def column(
    name: str,
    values: pl.Series,
    units: UnitSystem = "metric",
    title: str = "",
    halves: Sequence[float | None] | None = None,
) -> Column:
    """Return one column as it is shown, under its own name or a title.

    ``halves``: half the width of the interval of each value, in the unit of the values.
    """
    known = values.to_list()
    unit = _unit(name, units) if values.dtype.is_float() else None
    stem = name.rsplit("_", 1)[0] if unit and name.rsplit("_", 1)[-1] in _WITH_UNIT else name
    return Column(
        title or _TITLES.get(name) or printable(stem.replace("_", " ")),
        _cells(known, name, unit) if halves is None else _supported(known, halves, name, unit),
        unit=unit.symbol if unit else "",
        right=values.dtype.is_numeric(),
        wraps=name in _RUNNING_TEXT,
    )


_WITH_UNIT = {*_SUFFIXES, *_PLAIN}


def clock(seconds: float) -> str:
    """Return "1:02:03" for 3723 seconds."""
    minutes, left = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{left:02d}"


def _cells(values: Sequence[Any], name: str, unit: DisplayUnit | None) -> list[str]:
    show = _shower(name, unit)
    return [NOTHING if _unknown(value) else show(value) for value in values]


def _supported(
    values: Sequence[Any], halves: Sequence[float | None], name: str, unit: DisplayUnit | None
) -> list[str]:
    """Return the cells with the digits that the interval of each value supports."""
    cells = _cells(values, name, unit)
    for place, (value, half) in enumerate(zip(values, halves, strict=True)):
        if unit and half and not _unknown(value):
            decimals = decimals_supported(half * unit.per_si)
            cells[place] = format_number(value * unit.per_si, decimals)
    return cells


def _half_widths(frame: pl.DataFrame) -> dict[str, list[float | None]]:
    """Return half the width of the interval of each row, by the name of what it belongs to."""
    found: dict[str, list[float | None]] = {}
    for name in frame.columns:
        low, high = (_with_end(name, end) for end in ("low", "high"))
        if {low, high} <= set(frame.columns):
            pairs = zip(frame[low], frame[high], strict=True)
            found[name] = [half_width(*ends) for ends in pairs]
    return found


def _with_end(name: str, end: str) -> str:
    """Return "ratio_low" for "ratio" and "development_low_m" for "development_m"."""
    stem, _, suffix = name.rpartition("_")
    return f"{stem}_{end}_{suffix}" if suffix in _WITH_UNIT and stem else f"{name}_{end}"


def _without_end(name: str) -> str:
    return "_".join(part for part in name.split("_") if part not in {"low", "high"})


def _unknown(value: object) -> bool:
    return value is None or (isinstance(value, float) and not isfinite(value))


def _shower(name: str, unit: DisplayUnit | None) -> Callable[[Any], str]:
    """Return what turns one value of the column into text."""
    if name in _CLOCK:
        return clock
    if unit:
        return lambda value: format_number(value * unit.per_si, unit.decimals)
    if name in _IDS:
        return lambda value: printable(str(value)[:_ID_SHOWN])
    return _plain


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.4g}"
    if isinstance(value, datetime):
        return value.strftime("%Y-%m-%d %H:%M:%S")
    return printable(str(value))


def _unit(name: str, units: UnitSystem) -> DisplayUnit | None:
    if name in _CLOCK:
        return None
    if name in _EXACT:
        return _EXACT[name]
    if "share" in name.split("_"):
        return _SHARE
    suffix = name.rsplit("_", 1)[-1]
    if suffix in _SUFFIXES:
        return display_unit(_SUFFIXES[suffix], units)
    for part, measure in _MEASURES:
        if part in name.split("_"):
            unit = display_unit(measure, units)
            # A distance that a person stated is stored in the kilometres it was stated in.
            return replace(unit, per_si=1000.0 * unit.per_si) if suffix == "km" else unit
    return _PLAIN.get(suffix)
