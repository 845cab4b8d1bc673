"""The answer for each vehicle, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.analysis.words import gear_list
from ridelab.drivetrain.wheel import accepted_rollout_m
from ridelab.report.chart_rows import fit_of
from ridelab.report.digits import NO_BREAK, Printer, count, half_width, known, percent
from ridelab.report.doubts import cautions, doubts, why_not
from ridelab.report.markup import NOTHING, Markup, anchor, join, link, sentence, tag, text
from ridelab.report.signs import signed
from ridelab.report.teeth import teeth_in_words

if TYPE_CHECKING:
    from ridelab.report.findings import VehicleFindings

_MOST_NAMED = 3


def headline(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Return the range as one large figure with what to hold it against, or that there is none."""
    span = vehicle.span
    if span is None:
        return tag("span", text("no range"), class_="quiet")
    half = half_width(span["range_low"], span["range_high"])
    figure = tag("strong", text(printer.value("range", span["range"], half)))
    mark = signed("in doubt") if _doubts(vehicle) else NOTHING
    published = known(span["published_range"])
    if published is None:
        return join([figure, mark], " ") if mark else figure
    said = f"published {printer.value('range', published)}"
    if span["complete"] is False:
        ends = gear_list(range(span["low_gear"], span["high_gear"] + 1))
        said = f"({ends}); {said} (all{NO_BREAK}{len(vehicle.published)})"
    parts = [figure, tag("span", text(said), class_="quiet"), mark]
    return join((part for part in parts if part), " ")


def sentences(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Say range, gears and departures, each in a sentence, as far as the rides tell."""
    said = [
        _range(vehicle, printer),
        _gears(vehicle),
        _teeth(vehicle),
        _departures(vehicle, printer),
        _reasons(vehicle),
    ]
    return join((part for part in said if part), " ")


def warnings(vehicle: VehicleFindings) -> Markup:
    """Return what casts doubt on all that was measured: a wrong wheel, a ladder that may slide."""
    return join(_warning(message) for message in _doubts(vehicle))


def first_warnings(vehicle: VehicleFindings) -> Markup:
    """Return the first of them, with a link to all where there are more."""
    told = _doubts(vehicle)
    shown = [_warning(message) for message in told[:_MOST_NAMED]]
    if (more := len(told) - _MOST_NAMED) > 0:
        said = text(f"and {count(more, 'more reason')}")
        shown.append(tag("p", link(anchor("vehicle", vehicle.name), said)))
    return join(shown)


def torque_cautions(vehicle: VehicleFindings) -> Markup:
    """Return where a stage of its drivetrain is loaded beyond its limit, a paragraph each."""
    return join(_said("caution", message) for message in cautions(vehicle.problems))


def _warning(message: str) -> Markup:
    return _said("in doubt", message)


def _said(word: str, message: str) -> Markup:
    return tag("p", signed(word), text(": "), sentence(message))


def _doubts(vehicle: VehicleFindings) -> list[str]:
    if vehicle.measured.is_empty() and vehicle.span is None:
        return []
    return doubts(vehicle.problems, vehicle.name)


def rollout(vehicle: VehicleFindings, printer: Printer) -> Markup:
    """Say how far the wheel rolls: as the rides show it, beside what was stated."""
    stated, shown = known(vehicle.row["stated_rollout_m"]), vehicle.effective_rollout_m
    if shown is None:
        if stated is None:
            return text("No rollout was stated, and these rides alone do not show one.")
        is_measured = bool(vehicle.row["rollout_is_measured"])
        least, most = accepted_rollout_m(stated, is_measured)
        return text(
            f"{'Measured' if is_measured else 'Nominal'} rollout {printer.value('rollout', stated)}"
            " a wheel turn; these rides alone do not show another. It may be "
            f"{printer.bare('rollout', least)} to {printer.value('rollout', most)}, and all ratios"
            " move with it together: their intervals are within the ladder."
        )
    low, high = (vehicle.row[f"effective_rollout_{end}_m"] for end in ("low", "high"))
    half = half_width(low, high)
    figure = printer.plus_minus("rollout", shown, half)
    said = f"Effective rollout {figure} {printer.unit('rollout')} a wheel turn"
    if stated is None:
        return text(f"{said}; none was stated.")
    away = printer.bare("step", shown / stated - 1, half and half / stated, sign=True)
    kind = "stated" if vehicle.row["rollout_is_measured"] else "nominal"
    beside = f"the {kind} {printer.value('rollout', stated)}"
    if not away.strip("0."):
        return text(f"{said}, the same as {beside}.")
    return text(f"{said}, {away}{NO_BREAK}% from {beside}.")


def _range(vehicle: VehicleFindings, printer: Printer) -> Markup:
    span = vehicle.span
    if span is None:
        return NOTHING
    interval = printer.span("range", span["range_low"], span["range_high"])
    half = half_width(span["range_low"], span["range_high"])
    value = printer.value("range", span["range"], half)
    said = f"{_what_spans(span)} {value}" + (
        f" (95{NO_BREAK}% interval {interval})" if interval else ""
    )
    published = known(span["published_range"])
    if published is not None:
        whole = "the whole ladder is " if span["complete"] is False else ""
        said += f"; {whole}published as {printer.value('range', published)}"
    return tag("span", text(f"{said}."))


def _what_spans(span: dict[str, Any]) -> str:
    if span["low_gear"] is None:
        return "As ridden, the range is"
    if span["complete"]:
        return "Measured from end to end, the range is"
    return f"Gears {span['low_gear']} to {span['high_gear']}, as ridden, span"


def _gears(vehicle: VehicleFindings) -> Markup:
    found, published = len(vehicle.measured), len(vehicle.published)
    if vehicle.stepless:
        return text("Stepless: there are no gears to count.")
    if not published:
        sure = known(vehicle.row["count_probability"])
        how = f" (probability {percent(sure)})" if sure is not None else ""
        ridden = f"{count(found, 'gear')} {'was' if found == 1 else 'were'} ridden{how}"
        said = f"{ridden}; of others that it may have the rides do not tell."
        return text(said) if found else NOTHING
    if not found:
        return text(f"None of {count(published, 'published gear')} could be measured.")
    missing, strangers = vehicle.not_ridden, vehicle.strangers
    said = f"All {published} gears were measured"
    if missing:
        said = f"{found - len(strangers)} of {published} gears were measured"
        said += f"; not ridden long enough: {gear_list(missing)}"
    if strangers:
        said += f"; ridden outside the published ladder: {gear_list(strangers)}"
    return text(f"{said}.")


def _teeth(vehicle: VehicleFindings) -> Markup:
    said = teeth_in_words(vehicle.teeth)
    return text(f"{said[0].upper()}{said[1:]}.") if said else NOTHING


def _departures(vehicle: VehicleFindings, printer: Printer) -> Markup:
    compared = vehicle.published.filter(pl.col("deviation").is_not_null())
    if compared.is_empty():
        return NOTHING
    away = [gear for gear in compared.iter_rows(named=True) if fit_of(gear) == "departs"]
    if not away:
        return text("None departs from its published ratio.")
    away.sort(key=lambda gear: -abs(gear["deviation"]))
    listed = ", ".join(_departure(gear, printer) for gear in away[:_MOST_NAMED])
    if len(away) == 1:
        return text(f"One departs from its published ratio: {listed}.")
    more = f", {count(len(away) - _MOST_NAMED, 'other')} by less" if len(away) > _MOST_NAMED else ""
    return text(f"{len(away)} depart from their published ratios: {listed}{more}.")


def _departure(gear: dict[str, Any], printer: Printer) -> str:
    half = half_width(gear["deviation_low"], gear["deviation_high"])
    figure = printer.plus_minus("step", gear["deviation"], half, sign=True)
    return f"gear {gear['gear']} by {figure}{NO_BREAK}%"


def _reasons(vehicle: VehicleFindings) -> Markup:
    """Say why nothing can be named, in the words of those who found out."""
    if len(vehicle.measured) or vehicle.span is not None:
        return NOTHING
    if vehicle.rides.is_empty():
        return text("No ride of it was read.")
    said = why_not(vehicle.problems, vehicle.name)
    reasons = "; ".join(said[:_MOST_NAMED])
    more = f"; and {count(len(said) - _MOST_NAMED, 'more reason')}" if said[_MOST_NAMED:] else ""
    return sentence(f"No gear can be named: {reasons}{more}." if said else "No gear can be named.")
