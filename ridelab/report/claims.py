"""The claims and what the rides say of them, as a table to publish."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.campaign.claim_words import in_words
from ridelab.report.digits import NO_BREAK, UNKNOWN, half_width, known
from ridelab.report.markup import (
    NOTHING,
    Column,
    Markup,
    Row,
    anchor,
    bullets,
    join,
    link,
    name,
    paragraph,
    sentence,
    table,
    tag,
    text,
)
from ridelab.report.signs import signed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.report.digits import Printer
    from ridelab.units import Measure, UnitSystem

_MEASURES: dict[str, Measure] = {
    "range": "range",
    "ratio": "ratio",
    "step": "step",
    "speed": "speed",
    "development": "development",
    "evenness": "step",
    "cadence change": "cadence",
    "rollout": "rollout",
    "efficiency": "step",
}
#: Units that only one system has, as claims print them.
_SYSTEMS: dict[UnitSystem, frozenset[str]] = {
    "metric": frozenset({"km/h", "m/s", "mm", "cm", "m"}),
    "imperial": frozenset({"mph", "in", "ft"}),
}
#: All there are, worst first.
VERDICTS = ("fails", "undecided", "holds", "untestable")
_PLURAL = {"holds": "hold", "fails": "fail"}
_COLUMNS = (
    Column("Claim"),
    Column("Verdict"),
    Column("Published", "number"),
    Column("Measured", "number"),
    Column("Vehicle"),
    Column("Why", "prose"),
)


def claims_table(verdicts: pl.DataFrame, printer: Printer) -> Markup:
    """Return one row a claim and vehicle, what fails first; nothing where nothing was judged."""
    if verdicts.is_empty():
        return NOTHING
    rows = (_row(row, printer) for row in verdicts.iter_rows(named=True))
    caption = text(
        "Published claims with the tolerance allowed, and whether the rides bear them out; "
        "95 % intervals"
    )
    return table(caption, _COLUMNS, rows, cards=True)


def contradictions(problems: pl.DataFrame) -> Markup:
    """Return the claims that cannot be true whatever is ridden, a sentence each."""
    told = problems.filter(pl.col("stage") == "paper")["message"].to_list()
    if not told:
        return NOTHING
    intro = (
        "On paper some claims cannot all be true, with each other, the published ladder or the "
        "wheel, whatever is ridden. A number stands for all within its tolerance."
    )
    return tag("div", paragraph(text(intro)), bullets(map(sentence, told)), class_="on-paper")


def tally(verdicts: pl.DataFrame) -> str:
    """Return "2 hold, 1 fails, 1 undecided": every verdict once, worst first."""
    words = verdicts["verdict"].to_list()
    parts = []
    for word in VERDICTS:
        number = words.count(word)
        if number:
            parts.append(f"{number} {word if number == 1 else _PLURAL.get(word, word)}")
    return ", ".join(parts)


def of_claims(verdicts: Sequence[str]) -> str:
    """Return "Of 10 claims 2 fail, 1 is undecided, 6 hold, 1 is untestable".

    Args:
        verdicts: one a claim, over all its vehicles.
    """
    parts = [
        f"{number} {_verb(word, number)}" for word in VERDICTS if (number := verdicts.count(word))
    ]
    claims = f"{len(verdicts)} claim{'' if len(verdicts) == 1 else 's'}"
    return f"Of {claims} {', '.join(parts)}"


def _verb(word: str, number: int) -> str:
    if word in _PLURAL:
        return word if number == 1 else _PLURAL[word]
    return f"{'is' if number == 1 else 'are'} {word}"


def claim_in_words(claim: dict[str, Any]) -> str:
    """Return what is claimed, without the value: "speed in the highest gear at 100 rpm"."""
    said = in_words(*(claim[key] for key in ("quantity", "gear", "which", "at_cadence_rpm")))
    return said.replace(" rpm", f"{NO_BREAK}rpm")


def measured(row: dict[str, Any], printer: Printer) -> str:
    """Print a measured quantity with its interval, in the unit of its kind."""
    figure, interval = _figure_and_interval(row, printer)
    return f"{figure} ({interval})" if interval else figure


def plus_minus(row: dict[str, Any], printer: Printer) -> str:
    """Print a measured quantity as "539 ± 3 %", with the unit of its kind."""
    value, half = row["measured"], half_width(row["measured_low"], row["measured_high"])
    if known(value) is None:
        return UNKNOWN
    if row["quantity"] not in _MEASURES:
        return f"{value:.0f}" if half is None else _figure_and_interval(row, printer)[1]
    measure, printer = _MEASURES[row["quantity"]], _as_claimed(row, printer)
    shown = printer.plus_minus(measure, value, half)
    return f"{shown}{NO_BREAK}{printer.unit(measure)}".rstrip()


def between(row: dict[str, Any], values: list[float], printer: Printer) -> str:
    """Print what several vehicles came to, "511 to 526 %", for a claim in a unit."""
    printer = _as_claimed(row, printer)
    return printer.span(_MEASURES[row["quantity"]], min(values), max(values))


def _as_claimed(row: dict[str, Any], printer: Printer) -> Printer:
    """Return what prints in the claim's own system of units: 28 mph beside 27.6, not 44.4 km/h."""
    unit = str(row.get("printed") or "").rpartition(" ")[2]
    for system, symbols in _SYSTEMS.items():
        if unit in symbols:
            return replace(printer, units=system)
    return printer


def in_units(row: dict[str, Any]) -> bool:
    """Whether a claim is on a quantity that is measured, and not counted."""
    return row["quantity"] in _MEASURES


def _figure_and_interval(row: dict[str, Any], printer: Printer) -> tuple[str, str]:
    value, low, high = row["measured"], row["measured_low"], row["measured_high"]
    if known(value) is None:
        return UNKNOWN, ""
    if row["quantity"] not in _MEASURES:
        counted = low is None or high is None or low == high
        return f"{value:.0f}", "" if counted else f"{low:.0f} to {high:.0f}"
    measure, printer = _MEASURES[row["quantity"]], _as_claimed(row, printer)
    figure = printer.value(measure, value, half_width(low, high))
    return figure, printer.span(measure, low, high)


def _row(row: dict[str, Any], printer: Printer) -> Row:
    source = sentence(f"source: {row['source']}") if row["source"] else NOTHING
    vehicle = row["vehicle"]
    ridden = text("none") if vehicle is None else link(anchor("vehicle", vehicle), name(vehicle))
    called = join([text("claim"), name(row["claim"])], " ")
    target = anchor("claim", row["claim"], *([] if vehicle is None else [vehicle]))
    return Row(
        id=target,
        cells=(
            _over(text(claim_in_words(row)), source),
            _over(signed(row["verdict"]), link(target, called)),
            _over(name(row["printed"]), text(tolerance(row))),
            _over(*(text(part) for part in _figure_and_interval(row, printer))),
            _over(ridden, join([text("drivetrain"), name(row["drivetrain"])], " ")),
            sentence(row["reason"] or ""),
        ),
    )


def _over(main: Markup, below: Markup) -> Markup:
    """Put what matters less in small print below what matters."""
    return join([main, tag("span", below, class_="below")], " ") if below else main


def tolerance(row: dict[str, Any]) -> str:
    """Print a tolerance; a count of gears that may not be off by one is claimed exactly."""
    if row["tolerance"] is None:
        return ""
    allowed = float(row["tolerance"])
    if row["quantity"] in {"gears", "overlap"} and allowed * row["value"] < 1:
        return "exact"
    return f"±{NO_BREAK}{100 * allowed:.2g}{NO_BREAK}%"
