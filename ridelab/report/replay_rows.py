"""What the pictures of replays are drawn from: one row a mark, each figure on its own scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.analysis.replay.tally import LEAST_S
from ridelab.report.digits import NO_BREAK, UNKNOWN, duration, half_width, known, number

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridelab.analysis.replay.words import Told
    from ridelab.report.digits import Printer

    Row = Mapping[str, Any]

HABIT, AHEAD = "by habit", "looking ahead"
#: How a mark stands to that of the ridden drivetrain, shifted the same way.
BASE, SHOWN, OPEN = "the ridden drivetrain", "difference shown", "cannot tell"
AS_RIDDEN, ALONE = "as ridden", "alone"
_KM = 1000.0
MARKS = pl.Schema(
    {
        "line": pl.String(),
        "kind": pl.String(),
        "at": pl.Float64(),
        "low": pl.Float64(),
        "high": pl.Float64(),
        "base": pl.Float64(),
        "value": pl.String(),
        "words": pl.String(),
    }
)


@dataclass(frozen=True)
class Group:
    """One figure of all drivetrains: its heading, and its marks on a scale from 0 to 1."""

    heading: str
    marks: Sequence[dict[str, Any]]


def name_of(row: Row) -> str:
    """Return the name of a drivetrain; that of a ridden ladder which nobody published."""
    return str(row["drivetrain"] or "as ridden")


def usual(told: Told) -> dict[str | None, Row]:
    """Return a replay of each drivetrain: by habit, or looking ahead where there are no habits."""
    return told.by(AHEAD) | told.by(HABIT)


def groups(told: Told, printer: Printer) -> list[Group]:
    """Return the figures in the order of the question: comfort first, then what it costs."""
    shown = usual(told)
    habit, ahead = told.by(HABIT), told.by(AHEAD)
    low, high = (f"{told.replays[0][end]:.0f}" for end in ("low_rpm", "high_rpm"))
    outside = [_compared(told, rows, "outside", printer) for rows in (habit, ahead)]
    comfort = f"outside {low} to {high}{NO_BREAK}rpm"
    found = [
        Group(f"{comfort}, {way}", marks)
        for way, marks in zip((HABIT, AHEAD), _scaled(*outside), strict=True)
    ]
    spread = _compared(told, shown, "spread", printer)
    shifts = _compared(told, _stepped(shown), "shifts_per_km", printer)
    found += [
        Group("spread of cadence", *_scaled(spread)),
        Group(f"shifts a{NO_BREAK}{printer.unit('distance')}", *_scaled(shifts)),
        Group("beyond the ridden range", list(_beyond(told, shown))),
        Group("gears never needed", list(_unneeded(_stepped(shown)))),
    ]
    return [group for group in found if group.marks]


def _stepped(rows: Mapping[str | None, Row]) -> dict[str | None, Row]:
    return {name: row for name, row in rows.items() if row["gears"] is not None}


def _compared(
    told: Told, rows: Mapping[str | None, Row], quantity: str, printer: Printer
) -> list[dict[str, Any]]:
    """Return the marks of a figure, each candidate's with how it lies beside the ridden one's."""
    ridden = told.ridden
    base = None if ridden is None else rows.get(ridden["drivetrain"])
    marks = [_mark(told, row, base, quantity, printer) for row in rows.values()]
    if base is not None and ridden is not None:
        was = f"{_figure(ridden, quantity, printer)} as ridden"
        marks.append(_line(ridden, AS_RIDDEN, ridden[quantity], words=was, value=""))
    return marks


def _mark(
    told: Told, row: Row, base: Row | None, quantity: str, printer: Printer
) -> dict[str, Any]:
    value, figure = row[quantity], _figure(row, quantity, printer)
    if base is None or row is base:
        ends = {"low": row[f"{quantity}_low"], "high": row[f"{quantity}_high"]}
        kind = ALONE if base is None else BASE
        return _line(row, kind, value, **ends, words=figure, value=figure)
    apart = told.apart(row, base, quantity)
    low, high = apart["difference_low"], apart["difference_high"]
    clear = low is not None and not low <= 0.0 <= high
    at = {"base": base[quantity]}
    if low is not None:
        at |= {"low": base[quantity] + low, "high": base[quantity] + high}
    words = f"{figure}, {_figure(base, quantity, printer)} on {name_of(base)}"
    words += "" if clear else f": {OPEN}"
    return _line(row, SHOWN if clear else OPEN, value, **at, words=words, value=figure)


def _line(
    row: Row, kind: str, at: float, *, words: str, value: str, **ends: float | None
) -> dict[str, Any]:
    nothing = dict.fromkeys(("low", "high", "base"))
    said = f"{name_of(row)}: {words}".replace(NO_BREAK, " ")
    own = {"line": name_of(row), "kind": kind, "at": at, "value": value, "words": said}
    return nothing | ends | own


def _beyond(told: Told, rows: Mapping[str | None, Row]) -> Iterator[dict[str, Any]]:
    """Yield for how long each candidate is in gears that the ridden range does not reach."""
    candidates = _candidates(told, rows)
    if told.ridden is None or not any(_reaching(row) for row in candidates):
        return
    most = max(row["seconds"] for row in candidates)
    for row in candidates:
        sides = {side: row[f"{side}_s"] for side in ("lower", "higher")}
        said = ", ".join(
            f"{duration(sides[side])} {word}"
            for side, word in (("lower", "below"), ("higher", "above"))
            if sides[side] >= LEAST_S
        )
        yield _line(
            row, ALONE, sum(sides.values()) / most, words=said or "never", value=said or "never"
        )


def _reaching(row: Row) -> bool:
    return any((row[f"{side}_s"] or 0.0) >= LEAST_S for side in ("lower", "higher"))


def _unneeded(rows: Mapping[str | None, Row]) -> Iterator[dict[str, Any]]:
    """Yield the share of its gears that each drivetrain could do without on these rides."""
    for row in rows.values():
        idle = len(row["unneeded"].split(",")) if row["unneeded"] else 0
        said = f"{idle or 'none'} of {row['gears']}"
        yield _line(row, ALONE, idle / row["gears"], words=f"{said} never needed", value=said)


def _candidates(told: Told, rows: Mapping[str | None, Row]) -> list[Row]:
    own = told.ridden and told.ridden["drivetrain"]
    return [row for row in rows.values() if told.ridden is None or row["drivetrain"] != own]


def _figure(row: Row, quantity: str, printer: Printer) -> str:
    """Print a figure with the digits that its interval over rides supports."""
    value = known(row[quantity])
    if value is None:
        return UNKNOWN
    half = half_width(row[f"{quantity}_low"], row[f"{quantity}_high"])
    if quantity == "shifts_per_km":
        return number(value / _KM / printer.scale("distance"), 1)
    return printer.value("step", value, half)


def _scaled(*figures: list[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    """Put marks on one scale from 0 to their largest value or end of an interval."""
    ends = [known(mark[end]) for marks in figures for mark in marks for end in ("at", "high")]
    most = max((end for end in ends if end is not None), default=0.0) or 1.0

    def place(value: float | None) -> float | None:
        return None if known(value) is None or value is None else round(max(0.0, value) / most, 4)

    return [
        [
            mark | {end: place(mark[end]) for end in ("at", "low", "high", "base")}
            for mark in marks
            if known(mark["at"]) is not None
        ]
        for marks in figures
    ]
