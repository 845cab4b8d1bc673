"""What a reviewer is told first: how many claims hold, each with its figure, and what to ride."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from ridelab.cli.output import print_table, say, say_prose
from ridelab.cli.text import NO_BREAK, Column, printable
from ridelab.drivetrain.wheel import ROLLOUT_SPAN
from ridelab.report.claims import (
    VERDICTS,
    claim_in_words,
    of_claims,
    plus_minus,
)
from ridelab.report.digits import UNKNOWN, Printer
from ridelab.report.pooled_words import from_least_to_greatest, odd_one

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import polars as pl

    from ridelab.cli.answer import Frames
    from ridelab.units import UnitSystem

    Row = dict[str, Any]

#: Vehicles named below a claim on which they differ; `show verdicts` has them all.
_MOST_VEHICLES = 4
#: A reason is cut where what to do about it begins: the plan says that at length.
_ADVICE = re.compile(r"[:;] |, so that | \((?!mean)")
_METHOD = (
    "holds: the whole 95 % interval lies within the tolerance; fails: all of it lies outside. Any "
    "claim on a vehicle is misjudged once in forty vehicles at most."
)


def print_claims(store: Frames, units: UnitSystem, again: str = "") -> None:
    """Print how many claims hold, a line for each, what to ride next, method and limits.

    ``again``: the options that lead ``ridelab show`` to this store.
    """
    claims = {row["claim"]: row for row in store.frame("claims").to_dicts()}
    pooled = [claims[row["claim"]] | row for row in store.frame("pooled_claims").to_dicts()]
    if not pooled:
        say("no claim to judge; [[claims]] in the campaign file states them")
        return
    verdicts = store.frame("verdicts").to_dicts()
    say_prose(_in_words(pooled))
    for row in pooled:
        if row["odd_vehicle"] is not None:
            say_prose(printable(odd_one(row)))
    say()
    _print_table(list(_rows(pooled, verdicts)), Printer(units))
    say()
    _print_next(store.frame("test_ride_plan"), pooled, again)
    say_prose(_METHOD)
    low, high = (f"{100 * share:+.0f}".replace("-", "−") for share in ROLLOUT_SPAN["nominal"])
    say_prose(
        f"Speeds, ratios and developments carry what the wheel leaves open, {low} to {high} % of a "
        f"nominal rollout. To publish: ridelab show verdicts --markdown{again}"
    )


def _in_words(pooled: Sequence[Row]) -> str:
    """Return "Of 10 claims 2 fail, 1 is undecided, 6 hold, 1 is untestable"."""
    said = of_claims([row["verdict"] for row in pooled])
    several = sum(row["vehicles"] > 1 for row in pooled)
    return f"{said}; {several} judged on several vehicles" if several else said


def _rows(pooled: Sequence[Row], verdicts: Sequence[Row]) -> Iterable[Row]:
    """Yield the claims, worst first, and below those on which vehicles differ the vehicles."""
    own: dict[str, list[Row]] = {}
    for row in verdicts:
        own.setdefault(row["claim"], []).append(row)
    for row in sorted(pooled, key=lambda row: VERDICTS.index(row["verdict"])):
        vehicles = own.get(row["claim"], [])
        figures = [one["measured"] for one in vehicles if one["measured"] is not None]
        yield row | {"on": _on(row, vehicles), "below": False, "figures": figures}
        decided = {one["verdict"] for one in vehicles} & {"holds", "fails"}
        if len(decided) > 1 or row["odd_vehicle"] is not None:
            for one in vehicles[:_MOST_VEHICLES]:
                yield row | one | {"on": one["vehicle"], "below": True}


def _on(row: Row, vehicles: Sequence[Row]) -> str:
    """Name the vehicle that a claim was judged on, or say how many there are."""
    if row["vehicles"] > 1:
        return f"{row['vehicles']} vehicles"
    if len(vehicles) == 1:
        return vehicles[0]["vehicle"] or UNKNOWN
    decided = [one["vehicle"] for one in vehicles if one["verdict"] in {"holds", "fails"}]
    return decided[0] if decided else f"{len(vehicles)} vehicles"


def _print_table(rows: Sequence[Row], printer: Printer) -> None:
    verdicts = [f"  {row['verdict']}" if row["below"] else row["verdict"] for row in rows]
    print_table(
        [
            Column("verdict", verdicts),
            Column("claim", ["" if row["below"] else _claimed(row) for row in rows], wraps=True),
            Column("measured", [_figure(row, printer) for row in rows], right=True),
            Column("on what, and why", [_why(row) for row in rows], wraps=True),
        ]
    )


def _figure(row: Row, printer: Printer) -> str:
    """Print the mean with its interval; where that tells little, what vehicles came to."""
    apart = from_least_to_greatest(row, row.get("figures", []), printer)
    return apart or plus_minus(row, printer)


def _claimed(row: Row) -> str:
    return printable(
        f"{row['claim']}: {claim_in_words(row)} {row['printed'].replace(' ', NO_BREAK)}"
    )


def _why(row: Row) -> str:
    """Say on what a claim was judged, and why so; what helps stands in the plan."""
    reason = _ADVICE.split(row["reason"], maxsplit=1)[0].removesuffix(", uncertainty included")
    on_each = f"{row['verdict']} on each of "
    if reason.startswith(on_each):
        return printable(reason.removeprefix(on_each))
    return printable(f"{row['on']}: {reason}")


def _print_next(plan: pl.DataFrame, pooled: Sequence[Row], again: str) -> None:
    """Say what to ride next, and how long."""
    if not plan.is_empty():
        minutes = {
            str(name): own["seconds"].sum() / 60
            for (name,), own in plan.group_by("vehicle", maintain_order=True)
        }
        named = ", ".join(f"{printable(name)} {spent:.0f} min" for name, spent in minutes.items())
        say_prose(f"to decide more, ride {named}: ridelab show plan{again}")
    elif any(row["verdict"] == "undecided" for row in pooled):
        say_prose(f"no short ride would decide the rest, see why: ridelab show verdicts{again}")
