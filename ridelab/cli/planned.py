"""``ridelab show plan``: what to ride so that undecided claims can be decided."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.cli.output import print_table, say, say_prose
from ridelab.cli.text import Column, counted
from ridelab.report.planned import CAUTIONS
from ridelab.units import display_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl

    from ridelab.units import DisplayUnit, UnitSystem

Row = dict[str, Any]


def print_plan(plan: pl.DataFrame, verdicts: pl.DataFrame, units: UnitSystem) -> None:
    """Print what to ride on each vehicle, how long that takes, and the cautions."""
    if plan.is_empty():
        say_prose(_nothing(verdicts))
        return
    for (vehicle,), rows in plan.group_by("vehicle", maintain_order=True):
        _print_vehicle(str(vehicle), rows.to_dicts(), units)
    say_prose(CAUTIONS)


def _nothing(verdicts: pl.DataFrame) -> str:
    still = int((verdicts["verdict"] == "undecided").sum())
    if not len(verdicts):
        return "no claim was judged: `ridelab run claims` does that"
    if not still:
        return "no claim is undecided: nothing is left to ride"
    return (
        f"{counted(still, 'claim')} undecided, none that riding would likely decide: "
        "`ridelab show verdicts` says why"
    )


def _print_vehicle(vehicle: str, rows: Sequence[Row], units: UnitSystem) -> None:
    spells = sum(row["spells"] for row in rows)
    minutes = sum(row["seconds"] for row in rows) / 60
    each_s = rows[0]["seconds"] / rows[0]["spells"]
    claims = sorted({claim for row in rows for claim in row["claims"].split(", ")})
    say_prose(f"{vehicle}: {minutes:.0f} min of steady pedalling, for {', '.join(claims)}")
    say_prose(
        f"Ride {counted(spells, 'spell')} of {each_s:.0f} s: in a spell stay in the gear and keep "
        "the pressure on the pedals, at an even cadence; between two spells change gear or rest. "
        "All in one ride, gears in any order."
    )
    speed = display_unit("speed", units)
    print_table(
        [
            Column("gear", [str(row["gear"]) for row in rows], right=True),
            Column("spells", [str(row["spells"]) for row in rows], right=True),
            Column("cadence", [_cadence(row) for row in rows], unit="rpm", right=True),
            Column("speed", [_speed(row, speed) for row in rows], unit=speed.symbol, right=True),
            Column("claims", [row["claims"] for row in rows], wraps=True),
        ]
    )
    say()


def _cadence(row: Row) -> str:
    return f"{row['cadence_low_rpm']:.0f} to {row['cadence_high_rpm']:.0f}"


def _speed(row: Row, unit: DisplayUnit) -> str:
    low, high = row["speed_low_mps"], row["speed_high_mps"]
    return "–" if low is None else f"{low * unit.per_si:.0f} to {high * unit.per_si:.0f}"
