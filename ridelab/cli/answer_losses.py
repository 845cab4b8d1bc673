"""What two power meters say is lost, on one screen a vehicle: in words, by gear, how surely."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.analysis.words import gear_list
from ridelab.cli.columns import clock
from ridelab.cli.output import print_table, say, say_prose
from ridelab.cli.text import NO_BREAK, Column, printable
from ridelab.report.digits import UNKNOWN, Printer, half_width

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from ridelab.cli.answer import Frames
    from ridelab.units import UnitSystem

    Row = dict[str, Any]


def print_losses(store: Frames, units: UnitSystem, again: str = "") -> None:
    """Print what is lost in each gear of the vehicles ridden under two power meters.

    Of vehicles of which only was told why there is no loss, that; of all others nothing.
    ``again``: the options that lead ``ridelab show`` to this store.
    """
    printer, rows = Printer(units), store.frame("gear_losses").to_dicts()
    problems = [one for one in store.frame("problems").to_dicts() if one["stage"] == "losses"]
    shown = False
    for name in store.frame("vehicles")["vehicle"]:
        own = [row for row in rows if row["vehicle"] == name]
        told = [one["message"] for one in problems if one["path"] == name]
        if own:
            _print_vehicle(name, own, printer)
        for message in told:
            say_prose(message if own else f"{printable(name)}: {message}")
        if own or told:
            shown = True
            say()
    if shown:
        say(f"  ridelab show gear_losses{again}")


def _print_vehicle(name: str, rows: Sequence[Row], printer: Printer) -> None:
    gears = sorted((row for row in rows if row["gear"] is not None), key=lambda row: row["gear"])
    [mean] = [row for row in rows if row["gear"] is None]
    say_prose(f"{printable(name)}: {_in_words(mean, gears, printer)}")
    cells: dict[str, tuple[str, Callable[[Row], str]]] = {
        "gear": ("", lambda row: "mean" if row["gear"] is None else str(row["gear"])),
        "lost": ("%", lambda row: printer.bare("step", row["loss"], _half(row, "loss"))),
        "between": ("%", lambda row: _between(row, printer)),
        "beside the mean": ("%", lambda row: _beside(row, printer)),
        "at the crank": ("W", lambda row: f"{row['crank_w']:.0f}"),
        "at the wheel": ("W", lambda row: f"{row['wheel_w']:.0f}"),
        "ridden": ("h:m:s", lambda row: clock(row["seconds"])),
    }
    every = [*gears, mean]
    print_table(
        [
            Column(title, [cell(row) for row in every], unit, right=True)
            for title, (unit, cell) in cells.items()
        ]
    )


def _in_words(mean: Row, gears: Sequence[Row], printer: Printer) -> str:
    """Return the answer as one would give it across a counter."""
    lost = "nothing can be said of what is lost, only how gears compare"
    if mean["loss"] is not None:
        low = printer.bare("step", mean["loss_low"], _half(mean, "loss"))
        between = f"{_between(mean, printer)}{NO_BREAK}%"
        at_most = f"at most {printer.bare('step', mean['loss_high'], _half(mean, 'loss'))}"
        lost = between if float(low) > 0 else f"{at_most}{NO_BREAK}%"
        lost = f"{lost} of the power is lost from crank to wheel"
    if len(gears) < 2:
        return lost
    order = sorted(gears, key=lambda row: row["against_mean"])
    least, most = order[0], order[-1]
    if least["against_mean_high"] >= most["against_mean_low"]:
        return f"{lost}; no gear surely loses more than another"
    return (
        f"{lost}; least in {gear_list([least['gear']])}, most in {gear_list([most['gear']])}, "
        f"{printer.bare('step', most['against_mean'] - least['against_mean'])}{NO_BREAK}% apart"
    )


def _between(row: Row, printer: Printer) -> str:
    half = _half(row, "loss")
    if half is None:
        return UNKNOWN
    low, high = (printer.bare("step", row[f"loss_{end}"], half) for end in ("low", "high"))
    return f"{low} to {high}".replace(" ", NO_BREAK)


def _beside(row: Row, printer: Printer) -> str:
    half = _half(row, "against_mean")
    return printer.plus_minus("step", row["against_mean"], half, sign=True)


def _half(row: Row, name: str) -> float | None:
    return half_width(row[f"{name}_low"], row[f"{name}_high"])
