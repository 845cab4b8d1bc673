"""Ladders and ranges of vehicles, and what is wrong, for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

from ridelab.analysis.words import gear_list
from ridelab.cli.columns import clock
from ridelab.cli.output import print_table, say, say_prose
from ridelab.cli.text import Column, counted, printable
from ridelab.drivetrain.wheel import accepted_rollout_m
from ridelab.report.chart_rows import NOT_RIDDEN
from ridelab.report.digits import UNKNOWN, Printer, half_width, percent
from ridelab.report.doubts import cautions, concerning, doubts, why_not
from ridelab.report.teeth import teeth_in_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl

    from ridelab.units import Measure, UnitSystem

Row = dict[str, Any]

_FINEST = 0.001  # finer departures from a published ratio are of no use to anybody
_MOST_SAID = 3  # doubts of one vehicle; `show problems` has them all
_SEVERITIES = ("error", "warning", "note")


class Frames(Protocol):
    """What is needed of a store."""

    def frame(self, relation: str, /) -> pl.DataFrame:
        """Return a relation."""


def print_ladders(store: Frames, units: UnitSystem) -> None:
    """Print the ladder of every vehicle, its range, and what is in doubt."""
    printer = Printer(units)
    gears = rows_by(store, "measured_gears", "vehicle")
    ranges = rows_by(store, "measured_range", "vehicle")
    teeth = rows_by(store, "suggested_teeth", "vehicle")
    published = rows_by(store, "published_gears", "drivetrain")
    rides = rows_by(store, "rides", "vehicle")
    problems = store.frame("problems")
    for vehicle in store.frame("vehicles").to_dicts():
        name = vehicle["vehicle"]
        own, on_paper = gears.get(name, []), published.get(vehicle["drivetrain"], [])
        paths = [ride["path"] for ride in rides.get(name, [])]
        told = concerning(problems, name, paths)
        _print_vehicle(vehicle, printer, has_gears=bool(own))
        _print_ladder(own, on_paper, printer)
        if own and vehicle["count_probability"] is not None:
            sure = percent(vehicle["count_probability"])
            ridden = f"{counted(len(own), 'gear')} {'was' if len(own) == 1 else 'were'} ridden"
            say_prose(
                f"{ridden} (probability {sure}); of others that it may have the rides do not tell"
            )
        if name in ranges:
            _print_range(ranges[name][0], len(on_paper), printer)
        else:
            say_prose(_no_range(own, why_not(told, name) if paths else ["no ride of it was read"]))
        if said := teeth_in_words(teeth.get(name, [])):
            say_prose(said)
        if own or name in ranges:
            _print_doubts(doubts(told, name))
        for caution in cautions(told):
            say_prose(f"caution: {caution}")
        say()


def rows_by(store: Frames, relation: str, key: str) -> dict[str, list[Row]]:
    """Return the rows of a relation by the value of a column."""
    groups: dict[str, list[Row]] = {}
    for row in store.frame(relation).to_dicts():
        groups.setdefault(row[key], []).append(row)
    return groups


def _print_vehicle(vehicle: Row, printer: Printer, *, has_gears: bool) -> None:
    """Name it, with the rollout that its rides show beside the stated one."""
    drivetrain = vehicle["drivetrain"] or "no published drivetrain"
    say(f"{printable(vehicle['vehicle'])} ({vehicle['kind']}, {printable(drivetrain)})")
    stated = printer.value("rollout", vehicle["stated_rollout_m"])
    kind = "as stated" if vehicle["rollout_is_measured"] else "nominal"
    if vehicle["effective_rollout_low_m"] is not None:
        ridden = _interval(vehicle, "effective_rollout_m", "rollout", printer)
        say(f"rollout {ridden} {printer.unit('rollout')} as ridden, {stated} {kind}")
    elif stated == UNKNOWN:
        say("no rollout stated")
    elif not has_gears:
        say(f"rollout {stated} {kind}")
    else:
        is_measured = bool(vehicle["rollout_is_measured"])
        least, most = accepted_rollout_m(vehicle["stated_rollout_m"], is_measured)
        say_prose(
            f"rollout {stated} {kind}: it may be {printer.bare('rollout', least)} to "
            f"{printer.value('rollout', most)}, and all ratios move with it"
        )


def _print_ladder(gears: Sequence[Row], published: Sequence[Row], printer: Printer) -> None:
    if not gears:
        return
    gears = sorted(gears, key=lambda gear: gear["gear"])
    print_table([column for column in _ladder_columns(gears, printer) if _tells(column, gears)])
    found = {gear["gear"] for gear in gears}
    missing = sorted(gear["gear"] for gear in published if gear["gear"] not in found)
    if missing:
        say(f"{NOT_RIDDEN}: {gear_list(missing)}")


def _ladder_columns(gears: Sequence[Row], printer: Printer) -> list[Column]:
    return [
        Column("gear", [str(gear["gear"]) for gear in gears], right=True),
        Column("label", [printable(gear["label"] or UNKNOWN) for gear in gears], wraps=True),
        Column(
            "published",
            [printer.bare("ratio", gear["published_ratio"]) for gear in gears],
            right=True,
        ),
        Column(
            "measured", [_interval(gear, "ratio", "ratio", printer) for gear in gears], right=True
        ),
        Column("off", [_deviation(gear, printer) for gear in gears], unit="%", right=True),
        Column(
            "development",
            [_interval(gear, "development_m", "development", printer) for gear in gears],
            unit=printer.unit("development"),
            right=True,
        ),
        Column("ridden", [clock(gear["seconds"]) for gear in gears], unit="h:m:s", right=True),
    ]


def _tells(column: Column, gears: Sequence[Row]) -> bool:
    """Whether a column says more than others do: that of a gear without a name is its number."""
    if column.name == "label":
        named = any(gear["published_ratio"] is not None for gear in gears)
        return named and list(column.cells) != [str(gear["gear"]) for gear in gears]
    return any(cell != UNKNOWN for cell in column.cells)


def _print_range(row: Row, gears_published: int, printer: Printer) -> None:
    """Print "range 156.6 ± 0.3 % (gears 1 to 4); published 244 % (all 7)"."""
    said = f"range {_interval(row, 'range', 'range', printer)} %"
    if row["low_gear"] is not None:
        said += f" ({gear_list(range(row['low_gear'], row['high_gear'] + 1))})"
    published = printer.value("range", row["published_range"])
    if published != UNKNOWN:
        said += f"; published {published}"
        said += f" (all {gears_published})" if row["complete"] is False else ""
    say(said)


def _no_range(gears: Sequence[Row], reasons: Sequence[str]) -> str:
    """Say why there is no range: one gear makes none, or nothing could be named at all."""
    if gears:
        return "no range: fewer than two gears were measured"
    if not reasons:
        return "no gear can be named"
    more = f"; and {counted(len(reasons) - _MOST_SAID, 'more reason')}"
    said = "; ".join(reasons[:_MOST_SAID]) + (more if len(reasons) > _MOST_SAID else "")
    return f"no gear can be named: {said}"


def _print_doubts(messages: Sequence[str]) -> None:
    for message in messages[:_MOST_SAID]:
        say_prose(f"in doubt: {message}")
    if len(messages) > _MOST_SAID:
        say(f"in doubt: … and {counted(len(messages) - _MOST_SAID, 'more reason')}")


def print_problems(store: Frames, again: str = "") -> None:
    """Print how many problems there are, and how to see them."""
    severities = store.frame("problems")["severity"].to_list()
    counts = [counted(severities.count(word), word) for word in _SEVERITIES if word in severities]
    if counts:
        say(f"problems: {', '.join(counts)}")
        say(f"  ridelab show problems{again}")


def _interval(row: Row, name: str, measure: Measure, printer: Printer) -> str:
    """Print "1.139 ± 0.004", without its unit.

    ``row`` holds the ends of ``ratio`` as ``ratio_low`` and ``ratio_high``, those of
    ``development_m`` as ``development_low_m`` and ``development_high_m``.
    """
    stem, suffix = (name[:-2], "_m") if name.endswith("_m") else (name, "")
    half = half_width(row[f"{stem}_low{suffix}"], row[f"{stem}_high{suffix}"])
    return printer.plus_minus(measure, row[name], half)


def _deviation(gear: Row, printer: Printer) -> str:
    """Print how far a ratio is off its published one: a tenth of a percent, or what is known."""
    half = half_width(gear["ratio_low"], gear["ratio_high"])
    relative = half / gear["ratio"] if half and gear["ratio"] else 0.0
    return printer.bare("step", gear["deviation"], max(relative, _FINEST), sign=True)
