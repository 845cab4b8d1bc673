"""Reads the loggers of campaign.toml: which column of a CSV file holds which quantity, how written.

A campaign describes a kind of file, not a device: whatever writes such a header is read by it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Literal, get_args

from ridelab.campaign.table import shown
from ridelab.units import unit_si

if TYPE_CHECKING:
    from ridelab.campaign.table import Table
    from ridelab.units import Dimension

LoggedQuantity = Literal[
    "speed", "wheel_rpm", "wheel_pulses", "cadence", "crank_pulses", "distance", "power",
    "wheel_power", "altitude", "latitude", "longitude",
]  # fmt: skip
SpeedFrom = Literal["wheel sensor", "satellite", "unknown"]
Encoding = Literal["utf-8", "utf-16", "iso-8859-1", "windows-1252"]

#: Ways to write a time: since the start, since 1970, or as ISO 8601; any other is a pattern.
COUNTED: dict[str, float] = {"seconds": 1.0, "milliseconds": 1e-3}
SINCE_1970: dict[str, float] = {"unix seconds": 1.0, "unix milliseconds": 1e-3}
ISO = "iso"

_KEYS = ("delimiter", "decimal", "encoding", "skip_rows", "time", "starts_at", "columns")
_UNITS: dict[LoggedQuantity, Dimension] = {
    "speed": "speed",
    "wheel_rpm": "cadence",
    "cadence": "cadence",
    "distance": "length",
    "power": "power",
    "wheel_power": "power",
    "altitude": "length",
    "latitude": "angle",
    "longitude": "angle",
}
_COUNTS: tuple[LoggedQuantity, ...] = ("wheel_pulses", "crank_pulses")
#: Of each of these a log has one: they would say the same thing twice.
_SAME: tuple[tuple[LoggedQuantity, ...], ...] = (
    ("speed", "wheel_rpm", "wheel_pulses"),
    ("cadence", "crank_pulses"),
)
_OF_THE_WHEEL = frozenset({"wheel_rpm", "wheel_pulses"})
_DELIMITERS = {",": ",", ";": ";", "tab": "\t", "\t": "\t", "|": "|"}
_DECIMALS = {".": ".", ",": ","}
_ENCODINGS: dict[str, Encoding] = {name: name for name in get_args(Encoding)}
_SOURCES: dict[str, SpeedFrom] = {"wheel": "wheel sensor", "satellite": "satellite"}
_FRACTION = re.compile(r"%%|[.,]?%f")
_MOST_SKIPPED = 10_000
_INSTANT = datetime(2031, 11, 24, 15, 16, 17, tzinfo=UTC)  # no two of its parts are alike
_FORMATS = (
    "'seconds' or 'milliseconds' since the start, 'unix seconds', 'unix milliseconds', 'iso', or a "
    "pattern of date and time such as '%d.%m.%Y %H:%M:%S.%f'"
)
_STARTS = (
    "a date and time such as 2031-05-04T08:00:00Z, or a pattern of the file's name without its "
    "ending, such as 'bench-%Y%m%d-%H%M%S'"
)
_ZONES = "a zone of the IANA database or an offset, such as 'Europe/Lisbon' or '+02:00'"


@dataclass(frozen=True)
class Channel:
    """One column and what it holds: its value times ``si`` is SI, rpm, or turns for pulses."""

    quantity: LoggedQuantity
    column: str
    si: float


@dataclass(frozen=True)
class TimeColumn:
    """The column that tells the time, and how: a key of ``COUNTED``, of ``SINCE_1970``, ``ISO``,
    or a pattern as polars takes it. ``zone`` holds where the text names none.
    """  # noqa: D205 - the first sentence is that long

    column: str
    form: str
    zone: str = "UTC"


@dataclass(frozen=True)
class Logger:
    """How one kind of CSV file is written.

    Attributes:
        starts_at: where the time counts from the start: when that was, or a pattern in which the
            file's name says it; None where nothing does.
        speed_from: what the campaign says of the speed column.
        skip_rows: lines before the header.
    """

    name: str
    time: TimeColumn
    channels: tuple[Channel, ...]
    delimiter: str = ","
    decimal: str = "."
    encoding: Encoding = "utf-8"
    skip_rows: int = 0
    starts_at: datetime | str | None = None
    speed_from: SpeedFrom = "unknown"

    @property
    def columns(self) -> frozenset[str]:
        """All columns that the header must have."""
        return frozenset({self.time.column, *(channel.column for channel in self.channels)})

    @property
    def has_both_powers(self) -> bool:
        """Whether power is told at the crank and at the wheel."""
        return {"power", "wheel_power"} <= {channel.quantity for channel in self.channels}

    @property
    def needs_rollout(self) -> bool:
        """Whether speed is told in turns of the wheel."""
        return any(channel.quantity in _OF_THE_WHEEL for channel in self.channels)


def read_loggers(top: Table) -> dict[str, Logger]:
    """Return the loggers of a campaign file by name.

    Raises:
        CampaignError: one that describes no file that could be.
    """
    return {name: _logger(name, table) for name, table in top.table("loggers", None).named(_KEYS)}


def _logger(name: str, table: Table) -> Logger:
    time = _time(table)
    channels = _channels(table)
    delimiter = table.choice("delimiter", _DELIMITERS, ",")
    decimal = table.choice("decimal", _DECIMALS, ".")
    if delimiter == decimal:
        table.fail("decimal", "is the delimiter too", "two different signs, such as ; and ,")
    twice = {time.column, *(channel.column for channel in channels)}
    if len(twice) <= len(channels):
        table.fail("columns", "names one column for two things", "a column of its own for each")
    return Logger(
        name=name,
        time=time,
        channels=channels,
        delimiter=delimiter,
        decimal=decimal,
        encoding=table.choice("encoding", _ENCODINGS, "utf-8"),
        skip_rows=_skip_rows(table),
        starts_at=_starts_at(table, time),
        speed_from=_speed_from(table),
    )


def _time(table: Table) -> TimeColumn:
    time = table.table("time", ("column", "format", "zone"))
    form = time.text("format", accepted=_FORMATS)
    if form not in {*COUNTED, *SINCE_1970, ISO}:
        form = _pattern(time, form)
    return TimeColumn(_column(time), form, _zone(time))


def _column(table: Table) -> str:
    name = table.text("column", accepted="the name of a column, as the header has it").strip()
    if not name:
        table.fail("column", "found an empty name", "the name of a column, as the header has it")
    return name


def _pattern(time: Table, pattern: str) -> str:
    """Return a pattern as polars takes it, once it has read back a date and time it wrote."""
    import polars as pl

    ours = _FRACTION.sub(_fraction, pattern)
    if "%f" in ours:  # behind an escaped %, where it means nothing
        time.fail("format", f"found {shown(pattern)}", _FORMATS)
    try:
        written = pl.Series([_INSTANT.strftime(pattern.replace(",%f", ".%f"))])
        read = written.str.to_datetime(ours, time_unit="us", time_zone="UTC", strict=False)[0]
    except (ValueError, UnicodeError, pl.exceptions.PolarsError):
        read = None
    if read != _INSTANT:
        time.fail("format", f"found {shown(pattern)}", _FORMATS)
    return ours


def _fraction(match: re.Match[str]) -> str:
    """Turn Python's fraction of a second into that of polars: with its point, or of six digits."""
    found = match.group()
    return found if found == "%%" else "%6f" if found == "%f" else "%.f"


def _zone(time: Table) -> str:
    import polars as pl

    zone = time.text("zone", "UTC", _ZONES)
    try:
        pl.Series([datetime(2031, 5, 4)]).dt.replace_time_zone(zone)  # noqa: DTZ001 - polars adds it
    except pl.exceptions.PolarsError:
        time.fail("zone", f"found {shown(zone)}", _ZONES)
    return zone


def _starts_at(table: Table, time: TimeColumn) -> datetime | str | None:
    given = table.raw.get("starts_at")
    if given is None:
        return None
    if time.form not in COUNTED:
        table.fail("starts_at", "is there, but the times are dates", "it only beside counted times")
    if isinstance(given, datetime):
        return given
    if isinstance(given, str) and _date_read_back(given) == _INSTANT.date():
        return given
    return table.fail("starts_at", f"found {shown(given)}", _STARTS)


def _date_read_back(pattern: str) -> date | None:
    """Return the date that a pattern reads in what it wrote."""
    try:
        return datetime.strptime(_INSTANT.strftime(pattern), pattern).date()  # noqa: DTZ007 - a date has no zone
    except (ValueError, UnicodeError):
        return None


def _skip_rows(table: Table) -> int:
    accepted = f"lines before the header, 0 to {_MOST_SKIPPED}"
    rows = table.integer("skip_rows", accepted, 0)
    if not 0 <= rows <= _MOST_SKIPPED:
        table.fail("skip_rows", f"found {rows}", accepted)
    return rows


def _channels(table: Table) -> tuple[Channel, ...]:
    columns = table.table("columns", get_args(LoggedQuantity))
    if not columns.raw:
        accepted = f"a table of quantities, of {', '.join(get_args(LoggedQuantity))}"
        table.fail("columns", "missing", accepted)
    for same in _SAME:
        both = [quantity for quantity in same if quantity in columns]
        if len(both) > 1:
            columns.fail(both[1], f"is there beside {both[0]}", f"one of {', '.join(same)}")
    return tuple(
        _counted(columns, quantity) if quantity in _COUNTS else _measured(columns, quantity)
        for quantity in get_args(LoggedQuantity)
        if quantity in columns
    )


def _measured(columns: Table, quantity: LoggedQuantity) -> Channel:
    keys = ("column", "unit", "source") if quantity == "speed" else ("column", "unit")
    table = columns.table(quantity, keys)
    unit = table.text("unit", None)
    with table.owning("unit"):
        si = 1.0 if unit is None else unit_si(unit, _UNITS[quantity])
    return Channel(quantity, _column(table), si)


def _counted(columns: Table, quantity: LoggedQuantity) -> Channel:
    table = columns.table(quantity, ("column", "per_turn"))
    accepted = "pulses in one turn, a whole number from 1"
    per_turn = table.integer("per_turn", accepted, 1)
    if per_turn < 1:
        table.fail("per_turn", f"found {per_turn}", accepted)
    return Channel(quantity, _column(table), 1 / per_turn)


def _speed_from(table: Table) -> SpeedFrom:
    columns = table.table("columns", None)
    if "speed" in columns:
        return columns.table("speed", None).choice("source", _SOURCES, "unknown")
    return "wheel sensor" if _OF_THE_WHEEL & columns.raw.keys() else "unknown"
