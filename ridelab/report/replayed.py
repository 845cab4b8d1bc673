"""The rides of a vehicle on other drivetrains: the answer, the candidates side by side, the gears.

Names are cleaned before anything is said or drawn, so that sentences and charts show the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.analysis.replay.words import (
    EFFORT,
    EFFORT_KEPT,
    NO_MORE,
    RIDDEN,
    SPEED_KEPT,
    Told,
    in_short,
    said,
)
from ridelab.report.digits import UNKNOWN, Printer, duration, half_width, known, number
from ridelab.report.exhibit import Exhibit
from ridelab.report.figures import exhibited
from ridelab.report.markup import (
    NOTHING,
    Column,
    Markup,
    anchor,
    bullets,
    chart_name,
    heading,
    join,
    name,
    paragraph,
    sentence,
    table,
    tag,
    text,
)
from ridelab.report.markup import Row as TableRow
from ridelab.report.replay_chart import NO_BASE, ONE_RIDE, SENTENCE, replay_chart
from ridelab.report.replay_gears import (
    replay_gears_chart,
    replay_gears_sentence,
    replay_gears_table,
    shown_use,
)
from ridelab.report.replay_rows import groups, name_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridelab.report.findings import VehicleFindings

    Row = Mapping[str, Any]

_KM = 1000.0
_TITLE = "The same rides on other drivetrains"
_GEARS_TITLE = "Time in each gear on other drivetrains"


def replayed_part(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Return the answer in words, the pictures, and what it assumes; nothing without replays."""
    told = told_of(vehicle)
    if told is None:
        return NOTHING
    target = anchor("replays", vehicle.name)
    kept = EFFORT_KEPT if _effort(told) else SPEED_KEPT
    return tag(
        "section",
        heading("h4", text(_TITLE), target, f"{vehicle.name} on other drivetrains"),
        tag("p", tag("strong", sentence(in_short(told)))),
        bullets(sentence(one) for one in said(told, printer.units)),
        exhibited(replay_exhibits(vehicle, printer)),
        paragraph(text(f"{kept} {NO_MORE}"), class_="quiet"),
        id=target,
    )


def replay_exhibits(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    """Yield all candidates side by side, and the time in each of their gears."""
    told = told_of(vehicle)
    if told is None:
        return
    replays = vehicle.use.replays
    rows = _table(told, printer, _caption("What replays come to, ", vehicle))
    chart = replay_chart(groups(told, printer))
    yield Exhibit("replays", vehicle.name, _TITLE, _sentence(told), chart, replays, rows)
    use = _cleaned(vehicle.use.replayed_gear_use)
    use = shown_use(use, str(told.replays[-1]["assumption"]))
    if len(use):
        rows = replay_gears_table(use, printer, _caption("Time in each gear, ", vehicle))
        words, chart = replay_gears_sentence(use), replay_gears_chart(use, printer)
        yield Exhibit("replayed_gears", vehicle.name, _GEARS_TITLE, words, chart, use, rows)


def told_of(vehicle: VehicleFindings) -> Told | None:
    """Return what is told of a vehicle's replays, names as a chart can show them."""
    replays = _cleaned(vehicle.use.replays)
    if replays.is_empty():
        return None
    return Told.of(replays.to_dicts(), _cleaned(vehicle.use.replay_differences).to_dicts())


def _cleaned(frame: pl.DataFrame) -> pl.DataFrame:
    """Return the rows with names of drivetrains that neither page nor chart can stumble over."""
    return frame.with_columns(
        pl.Series(column, [one and chart_name(one) for one in frame[column]], pl.String)
        for column in ("drivetrain", "versus")
        if column in frame.columns
    )


def _effort(told: Told) -> bool:
    return bool(told.replays[-1]["assumption"] == EFFORT)


def _sentence(told: Told) -> str:
    """Say what to see in the picture of all candidates."""
    if told.ridden is None:
        return NO_BASE
    return ONE_RIDE if told.ridden["rides"] == 1 else SENTENCE


def _table(told: Told, printer: Printer, caption: Markup) -> Markup:
    """Return a row a drivetrain and way to shift it, with the interval of what is outside."""
    first = told.replays[0]
    columns = [
        Column("Drivetrain"),
        Column("Shifted"),
        Column(f"Below {first['low_rpm']:.0f} rpm, %", "number"),
        Column(f"Above {first['high_rpm']:.0f} rpm, %", "number"),
        Column("Outside, %", "number"),
        Column("95 % interval over rides", "number"),
        Column("Beside the ridden one, points", "number"),
        Column("Spread of cadence, %", "number"),
        Column(f"Shifts per {printer.unit('distance')}", "number"),
        Column("Beyond the ridden range", "number"),
        Column("Gears never needed", "number"),
    ]
    return table(caption, columns, (_cells(told, row, printer) for row in told.replays))


def _cells(told: Told, row: Row, printer: Printer) -> TableRow:
    def share(quantity: str) -> str:
        half = half_width(row[f"{quantity}_low"], row[f"{quantity}_high"])
        return printer.bare("step", row[quantity], half)

    stepless = row["gears"] is None
    shifts = known(row["shifts_per_km"])
    shown = [
        "–" if stepless and row["policy"] != RIDDEN else row["policy"],
        *map(share, ("below", "above", "outside")),
        printer.span("step", row["outside_low"], row["outside_high"]) or UNKNOWN,
        _beside(told, row, printer),
        share("spread"),
        UNKNOWN
        if stepless or shifts is None
        else number(shifts / _KM / printer.scale("distance"), 1),
        duration((row["lower_s"] or 0.0) + (row["higher_s"] or 0.0)),
        UNKNOWN if stepless else row["unneeded"] or "none",
    ]
    return TableRow([name(name_of(row)), *map(text, shown)])


def _beside(told: Told, row: Row, printer: Printer) -> str:
    """Print how far a replay is from that of the ridden drivetrain: "−4.3 (−5.3 to −3.2)"."""
    ridden = told.ridden
    if ridden is None or row["policy"] == RIDDEN or row["drivetrain"] == ridden["drivetrain"]:
        return UNKNOWN
    base = told.by(row["policy"])[ridden["drivetrain"]]
    apart = told.apart(row, base, "outside")
    low, high = apart["difference_low"], apart["difference_high"]
    half = half_width(low, high)
    figure, *ends = (
        printer.bare("step", end, half, sign=True) for end in (apart["difference"], low, high)
    )
    return f"{figure} ({' to '.join(ends)})" if half else figure


def _caption(words: str, vehicle: VehicleFindings) -> Markup:
    return join([text(words), name(vehicle.name)])
