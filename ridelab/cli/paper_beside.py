"""``ridelab paper ONE --beside OTHER``: two published ladders, and what each has of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.cells import cell_len

from ridelab.cli.output import emit, print_table, say, say_prose, width
from ridelab.cli.paper import ladder_of, merge_within, percent, wheels
from ridelab.cli.text import GAP, NO_BREAK, Column, counted, printable
from ridelab.errors import UsageError
from ridelab.report.digits import UNKNOWN, Printer

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridelab.campaign import Campaign
    from ridelab.cli.output import Form
    from ridelab.cli.paper import Asked
    from ridelab.drivetrain.ladder import Ladder
    from ridelab.units import Measure

Row = dict[str, Any]
_LONGEST_NAME = 24  # beside a drawn ladder


def print_beside(campaign: Campaign, drivetrain: str, other: str, wanted: Asked, how: Form) -> None:
    """Print both ladders on the wheel of each vehicle that has the first, or on that asked for.

    Raises:
        UsageError: one drivetrain beside itself, a part of it, or one that there is not.
    """
    import polars as pl

    from ridelab.drivetrain.beside import END_CADENCES_RPM, ladders_beside, on_wheel

    if drivetrain == other or wanted.part:
        found = f"--part {wanted.part}" if wanted.part else f"{other!r} beside itself"
        raise UsageError(f"--beside: found {found}; accepted: another drivetrain, and no --part")
    one, two = (ladder_of(campaign, name, wanted) for name in (drivetrain, other))
    beside = ladders_beside(one, two, merge_within(campaign, wanted))
    cadence = wanted.cadence_rpm
    ends = (float(cadence), float(cadence)) if cadence else END_CADENCES_RPM
    wheeled = [on_wheel(beside, *wheel, ends) for wheel in wheels(campaign, drivetrain, wanted)]
    if how != "table":
        emit(pl.concat(wheeled), how)
        return
    say("\n".join(_drawn((one, two))))
    say()
    printer, rows = Printer(campaign.units), beside.to_dicts()
    lines = [*_figures(rows, printer)]
    for wheel in wheeled:
        lines += _speeds(wheel.to_dicts(), printer)
    titles, *cells = zip(*lines, strict=True)
    names = [printable(row["drivetrain"]) for row in rows]
    table = [Column(name, cell, right=True) for name, cell in zip(names, cells, strict=True)]
    print_table([Column("", titles, wraps=True), *table])
    say()
    for mine, its in (rows, rows[::-1]):
        say_prose(_beyond(mine, its))
    say_prose("Neither a wider range nor finer steps make a drivetrain more efficient.")


def _figures(rows: Sequence[Row], printer: Printer) -> Iterator[tuple[str, ...]]:
    """Yield a title and what it is for each drivetrain."""
    from ridelab.drivetrain.grouping import FEEL_WITHIN

    def counts(key: str) -> list[str]:
        return [UNKNOWN if row[key] is None else str(row[key]) for row in rows]

    def values(measure: Measure, key: str) -> list[str]:
        return [printer.value(measure, row[key]) for row in rows]

    yield "combinations", *counts("combinations")
    yield "gears", *counts("gears")
    yield f"gears as felt, {percent(FEEL_WITHIN)} and more", *counts("felt_gears")
    yield "lowest ratio", *values("ratio", "lowest_ratio")
    yield "highest ratio", *values("ratio", "highest_ratio")
    yield "range", *values("range", "range")
    yield "smallest step", *values("step", "smallest_step")
    yield "step on average", *values("step", "mean_step")
    yield "largest step", *values("step", "largest_step")
    ratios = [row["largest_over_smallest_step"] for row in rows]
    yield "largest over smallest", *(UNKNOWN if one is None else f"{one:.1f}" for one in ratios)
    yield "gears below all of the other's", *counts("gears_below")
    yield "gears like one of the other's", *counts("gears_alike")
    yield "gears between two of the other's", *counts("gears_between")
    yield "gears above all of the other's", *counts("gears_above")


def _speeds(rows: Sequence[Row], printer: Printer) -> Iterator[tuple[str, ...]]:
    """Yield the speeds of the two ends on one wheel; nothing where there is none."""
    vehicle, rollout_m = rows[0]["vehicle"], rows[0]["rollout_m"]
    if rollout_m is None:
        return
    on = f"{printable(vehicle)}, {printer.value('rollout', rollout_m)}"
    for end in ("lowest", "highest"):
        title = f"{on}: {end} at {rows[0][f'{end}_cadence_rpm']:.0f}{NO_BREAK}rpm"
        yield title, *(printer.value("speed", row[f"{end}_speed_mps"]) for row in rows)


def _drawn(ladders: Sequence[Ladder]) -> Iterator[str]:
    """Draw a line a ladder, a stroke a gear, over one logarithmic scale of ratios."""
    from ridelab.drivetrain.beside import along

    names = [printable(ladder.drivetrain)[:_LONGEST_NAME] for ladder in ladders]
    left = max(map(cell_len, names)) + len(GAP)
    low, high = min(one.ends[0] for one in ladders), max(one.ends[1] for one in ladders)
    last = width() - left - 1

    def cells(ratios: Sequence[float]) -> list[int]:
        return [round(share * last) for share in along(ratios, low, high)]

    lowest, highest = f"{low:.3f}", f"{high:.3f}"
    yield f"{'':{left}}{lowest}{highest:>{last + 1 - len(lowest)}}"
    for name, ladder in zip(names, ladders, strict=True):
        line = [" "] * (last + 1)
        if ladder.stepless:
            start, end = cells(ladder.ends)
            line[start : end + 1] = "=" * (end + 1 - start)
        for hole in ladder.holes:
            start, end = cells(hole)
            line[start + 1 : end] = " " * max(0, end - start - 1)
        for cell in cells(ladder.ratios):
            line[cell] = "|"
        yield f"{name}{' ' * (left - cell_len(name))}{''.join(line)}".rstrip()


def _beyond(row: Row, other: Row) -> str:
    """Say in a sentence what one drivetrain has that the other has not."""
    name, its = printable(row["drivetrain"]), printable(other["drivetrain"])
    further = [
        f"{way} to {row[f'beyond_{end}']:.2f} times its {end} gear"
        + _of_gears(row[f"gears_{place}"])
        for end, way, place in (("lowest", "down", "below"), ("highest", "up", "above"))
        if f"{row[f'beyond_{end}']:.2f}" != "1.00"
    ]
    said = f"{name} goes beyond {its} {' and '.join(further)}"
    if not further:
        said = f"{name} goes beyond {its} at neither end"
    between = row["gears_between"]
    if between is None or (other["gears"] is None and not between):
        return said
    where = f"between two gears of {its}" if other["gears"] else f"where {its} has no ratio"
    lie = "lies" if between == 1 else "lie"
    return f"{said}; {between or 'none'} of its {row['gears']} {lie} {where}"


def _of_gears(number: int | None) -> str:
    return f" ({counted(number, 'gear')})" if number else ""
