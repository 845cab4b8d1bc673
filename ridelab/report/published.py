"""The claims as a table to publish: Markdown, with the method and its limits below it.

Nothing in it tells who rode, where or when: no file, place, date or device.
"""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.drivetrain.wheel import ROLLOUT_SPAN
from ridelab.report.claims import claim_in_words, measured, tally, tolerance
from ridelab.report.digits import UNKNOWN, Printer, count, duration
from ridelab.report.pooled_words import figures_by_claim, from_least_to_greatest

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ridelab.report.findings import Frames
    from ridelab.units import UnitSystem

    Row = dict[str, Any]

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~&!])")
_RULE = (
    "A claim **holds** if the whole 95 % interval of what was measured lies within its tolerance, "
    "**fails** if all of it lies outside, and is **undecided** otherwise: two one-sided tests at "
    "2.5 % each (Schuirmann 1987). A claim whose truth lies exactly on its limit is judged wrongly "
    "once in forty times at most, others more rarely. **Untestable** is what speed and cadence "
    "cannot show."
)
_TOGETHER = (
    "Of all claims on one vehicle any is judged wrongly in 2.5 % of cases at most (Holm 1979)."
)
_INFERRED = (
    "Gears, ratios and their intervals are inferred from recorded speed and cadence. Intervals "
    "come from how much separate spells in a gear differ, not from the number of seconds."
)
_METHOD = (_RULE, _TOGETHER, _INFERRED)
_POOLED = (
    "Several vehicles with one drivetrain: random-effects mean (DerSimonian and Laird 1986) with "
    "the interval of Hartung and Knapp (2001), never narrower than the vehicles' own errors. The "
    "verdict goes neither against nor beyond the vehicles: it is theirs where they agree, "
    "undecided where they contradict each other, and that of the mean only where single vehicles "
    "leave it open. A vehicle is called odd where it departs from the mean of the others, at 5 % "
    "shared among all vehicles (Bonferroni); two vehicles have no odd one."
)
#: With claims whose vehicles are told instead of their mean.
_MEANS = (
    "Where the interval of this mean is wide beside what the vehicles differ by, or reaches beyond "
    "the tolerance though the claim holds on each, the first table gives the least and the "
    "greatest of the vehicles. The means are: "
)
_LIMITS = (
    (
        "A gear that was not ridden is not measured; a range can only be wider than the part of it "
        "that was ridden."
    ),
    "The steps of a ladder say nothing of its efficiency, nor does its range.",
)


def claims_document(store: Frames, title: str, units: UnitSystem = "metric") -> str:
    """Return the claims, their verdicts, the method and what was ridden, as Markdown.

    Tables are those of GitHub Flavored Markdown; whatever the campaign says is escaped. The same
    store gives the same text.
    """
    printer = Printer(units)
    claims = {row["claim"]: row for row in store.frame("claims").to_dicts()}
    pooled = [claims[row["claim"]] | row for row in store.frame("pooled_claims").to_dicts()]
    verdicts = [claims[row["claim"]] | row for row in store.frame("verdicts").to_dicts()]
    vehicles, rides = store.frame("vehicles"), store.frame("rides")
    figures = figures_by_claim(verdicts)
    parts = [f"# {_text(title)}: claims and what rides say of them"]
    if not pooled:
        return f"{parts[0]}\n\nNo claim was judged.\n"
    words = pl.DataFrame({"verdict": [row["verdict"] for row in pooled]})
    parts += [
        f"{count(len(pooled), 'claim')}: {tally(words)}.",
        _claims_table(pooled, figures, printer),
    ]
    if any(row["vehicles"] + row["left_out"] > 1 for row in pooled):
        parts += ["## Each vehicle", _vehicles_table(pooled, verdicts, printer)]
    several = any(row["vehicles"] > 1 for row in pooled)
    more = (_POOLED, *_means(pooled, figures, printer)) if several else ()
    parts += ["## Method", _bullets((*_METHOD, *more))]
    parts += ["## Limits", _bullets((*_wheels(vehicles), *_LIMITS))]
    parts += ["## What was ridden", _ridden(vehicles, rides, printer)]
    return "\n\n".join(parts).replace("\N{NO-BREAK SPACE}", " ") + "\n"


def _claims_table(
    pooled: Sequence[Row], figures: Mapping[str, list[float]], printer: Printer
) -> str:
    heads = ("Claim", "Drivetrain", "Published", "Measured (95 % interval)", "Verdict", "Vehicles")
    rows = (
        (
            _claimed(row),
            _text(row["drivetrain"]),
            _text(f"{row['printed']} {tolerance(row)}".strip()),
            _apart(row, figures, printer) or measured(row, printer),
            f"**{row['verdict']}**",
            str(row["vehicles"]),
            _text(row["reason"]),
        )
        for row in pooled
    )
    return _table((*heads, "Why"), rows)


def _apart(row: Row, figures: Mapping[str, list[float]], printer: Printer) -> str | None:
    return from_least_to_greatest(row, figures.get(row["claim"], []), printer)


def _means(
    pooled: Sequence[Row], figures: Mapping[str, list[float]], printer: Printer
) -> Iterator[str]:
    """Yield the means that the table does not give, in one sentence; nothing where it has all."""
    left = [row for row in pooled if _apart(row, figures, printer)]
    if left:
        told = "; ".join(f"{_text(row['claim'])} {measured(row, printer)}" for row in left)
        yield f"{_MEANS}{told}."


def _vehicles_table(pooled: Sequence[Row], verdicts: Sequence[Row], printer: Printer) -> str:
    several = {row["claim"] for row in pooled if row["vehicles"] + row["left_out"] > 1}
    rows = (
        (
            _claimed(row),
            _text(row["vehicle"] or UNKNOWN),
            measured(row, printer),
            row["verdict"],
            _text(row["reason"]),
        )
        for row in verdicts
        if row["claim"] in several
    )
    return _table(("Claim", "Vehicle", "Measured (95 % interval)", "Verdict", "Why"), rows)


def _claimed(row: Row) -> str:
    source = f" ({row['source']})" if row["source"] else ""
    return _text(f"{row['claim']}: {claim_in_words(row)}{source}")


def _wheels(vehicles: pl.DataFrame) -> list[str]:
    """Say what each kind of wheel leaves open."""
    said = []
    stated = vehicles.filter(pl.col("stated_rollout_m").is_not_null())
    for kind, is_measured in (("nominal", False), ("measured", True)):
        names = stated.filter(pl.col("rollout_is_measured") == is_measured)["vehicle"].to_list()
        if names:
            low, high = (f"{100 * share:+.2g}".replace("-", "−") for share in ROLLOUT_SPAN[kind])
            who = ", ".join(map(_text, names))
            said.append(
                f"Ratios, developments and speeds carry what is open of the wheel in full: {low} "
                f"to {high} % of a {kind} rollout ({who}). Ranges and steps need no wheel."
            )
    return said


def _ridden(vehicles: pl.DataFrame, rides: pl.DataFrame, printer: Printer) -> str:
    unit = printer.unit("distance")
    heads = ("Vehicle", "Kind", "Drivetrain", "Rides", "Time, pauses included", f"Way, {unit}")
    rows = []
    for vehicle in vehicles.to_dicts():
        own = rides.filter(pl.col("vehicle") == vehicle["vehicle"])
        way = own["distance_m"].drop_nulls()
        rows.append(
            (
                _text(vehicle["vehicle"]),
                vehicle["kind"],
                _text(vehicle["drivetrain"] or UNKNOWN),
                str(own.height),
                duration(float(own["duration_s"].sum())) if own.height else UNKNOWN,
                printer.bare("distance", float(way.sum())) if len(way) else UNKNOWN,
                _text(", ".join(sorted(set(own["speed_source"].drop_nulls())))) or UNKNOWN,
            )
        )
    return _table((*heads, "Speed from"), rows)


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines)


def _bullets(texts: Iterable[str]) -> str:
    return "\n".join(f"- {one}" for one in texts)


def _text(said: str) -> str:
    """Return text in which nothing is markup, on one line, and nothing invisible."""
    shown = "".join(
        " " if unicodedata.category(char) in {"Cc", "Cf", "Zl", "Zp"} else char for char in said
    )
    return _SPECIAL.sub(r"\\\1", shown)
