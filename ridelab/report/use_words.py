"""How gears are used, in words: for the terminal and for the page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.analysis.words import gear_list
from ridelab.report.digits import NO_BREAK, count, duration, number, percent

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridelab.report.digits import Printer

    Row = dict[str, Any]

#: Relations that are told in words.
TOLD = (
    "cadence_habits", "comfortable_cadence", "outside_comfort", "shift_habits", "shift_pairs",
    "shift_sequences", "stage_use",
)  # fmt: skip
_KILO = 1000.0
#: Which gears carry most of the time: as few as reach this share.
_MOST = 0.5
#: Pairs and sequences that are named; `show` has them all.
_PAIRS, _SEQUENCES = 3, 2
#: How each side of comfort is put, and why a rider was there.
_SIDES = {"above": "faster", "below": "slower"}
_WHYS = {
    "no gear left": "no gear was left",
    "none chosen": "another gear would have been within",
    "step too wide": "the next gear is too far",
}
_STEPLESS_WHYS = {
    "no gear left": "the range ended",
    "none chosen": "another ratio would have been within",
    "step too wide": "no ratio in between",
}


def most_used(used: Sequence[Row]) -> str:
    """Say which gears carry most of the time, and which were never used.

    ``used``: the rows of ``use_by_gear`` of one vehicle; not empty.
    """
    seconds = sum(row["seconds"] for row in used)
    ranked = sorted(used, key=lambda row: -row["share"])
    most: list[Row] = []
    while sum(row["share"] for row in most) < _MOST and len(most) < len(ranked):
        most.append(ranked[len(most)])
    share = f"{percent(sum(row['share'] for row in most))} of {duration(seconds)} with drive"
    if used[0]["gear"] is None:
        bands = ", ".join(band(row) for row in sorted(most, key=place))
        return f"{share} at developments of {bands}"
    never = sorted(row["gear"] for row in used if not row["seconds"])
    said = f"{share} in {gear_list(sorted(row['gear'] for row in most))}"
    return f"{said}; never in {gear_list(never)}" if never else f"{said}; each gear was used"


def comfort(told: Mapping[str, Sequence[Row]]) -> str:
    """Say what is comfortable, for what share it was not so, and why.

    ``told``: the rows of one vehicle by the name of their relation, those of ``TOLD``.
    """
    habits, comfort = told["cadence_habits"], told["comfortable_cadence"]
    median = f"; half of the time below {habits[0]['median_rpm']}{NO_BREAK}rpm" if habits else ""
    if not comfort or comfort[0]["low_rpm"] is None:
        return f"too little was ridden to say which cadence is comfortable{median}"
    low, high = (number(comfort[0][end], 0) for end in ("low_rpm", "high_rpm"))
    by = "as stated" if comfort[0]["stated"] else "by habit"
    said = f"comfortable {by} at {low} to {high}{NO_BREAK}rpm{median}"
    if told["outside_comfort"]:
        sides = [_side(side, told["outside_comfort"]) for side in _SIDES]
        said += f"; {'; '.join(filter(None, sides)) or 'never outside of it'}"
    return said


def _side(side: str, outside: Sequence[Row]) -> str:
    """Say for what share of the time the cadence was on one side of comfort, and why."""
    rows = [row for row in outside if row["side"] == side and row["share"]]
    if not rows:
        return ""
    whys = _STEPLESS_WHYS if rows[0]["stepless"] else _WHYS
    if len(rows) == 1:
        return f"{_SIDES[side]} {percent(rows[0]['share'])} ({whys[rows[0]['why']]})"
    reasons = ", ".join(f"{whys[row['why']]} {percent(row['share'])}" for row in rows)
    return f"{_SIDES[side]} {percent(sum(row['share'] for row in rows))} ({reasons})"


def shifting(habits: Row, printer: Printer) -> str:
    """Say how often and how a rider shifts; ``habits``: a row of ``shift_habits``."""
    shifts = habits["shifts"]
    if not shifts:
        return "not one shift"
    per_way = habits["shifts_per_km"]
    if per_way is None:
        often = count(shifts, "shift")
    else:
        per_shown = per_way / _KILO / printer.scale("distance")
        often = f"{number(per_shown, 1)} shifts a{NO_BREAK}{printer.unit('distance')}"
    if habits["shifts_per_minute"] is not None:
        often += f", {number(habits['shifts_per_minute'], 1)} a minute"
    shares = [
        f"{percent(habits[key] / shifts)} {words}"
        for key, words in (
            ("several_gears", "over several gears at once"),
            ("while_coasting", "while coasting"),
            ("hunting", "taken back within 10 s"),
        )
        if habits[key]
    ]
    return f"{often}: " + ", ".join([f"{habits['up']} up, {habits['down']} down", *shares])


def frequent_shifts(told: Mapping[str, Sequence[Row]]) -> str:
    """Name the most frequent shifts, and those that fewer would have replaced."""
    frequent = ", ".join(
        f"{row['from_gear']} to {row['to_gear']} ({percent(row['share'])})"
        for row in told["shift_pairs"][:_PAIRS]
    )
    said = f"most often {frequent}"
    simpler = [row for row in told["shift_sequences"] if row["from_gear"] != row["to_gear"]]
    if simpler:
        examples = ", ".join(
            f"{row['gears'].replace(' ', '-')} for {row['from_gear']}-{row['to_gear']}"
            for row in simpler[:_SEQUENCES]
        )
        times = sum(row["times"] for row in simpler)
        said += f"; {count(times, 'detour')} in quick succession, such as {examples}"
    return said


def levers(use: Row) -> str:
    """Say which of several shifted stages was moved how often; ``use``: a row of ``stage_use``."""
    shares = [
        f"{words} {percent(use[key] / use['shifts'])}"
        for key, words in (
            ("rear", "the rear alone"), ("front", "the front alone"), ("both_stages", "both"),
        )
        if use[key]
    ]  # fmt: skip
    said = f"shifted: {', '.join(shares) or 'nothing that could be told'}"
    if use["passing"]:
        said += (
            f" ({count(use['passing'], 'time')} one after the other, most often "
            f"{use['often_passed']})"
        )
    if use["open"]:
        said += (
            f"; {percent(use['open'] / use['shifts'])} cannot be told, as combinations share gears"
        )
    return said


def band(row: Row) -> str:
    """Return a band of developments: "2.0 to 2.5 m"."""
    low = row["development_from_m"]
    return f"{number(low, 1)} to {number(low + 0.5, 1)}{NO_BREAK}m"


def place(row: Row) -> float:
    """Return where a row stands: by its gear, else by its development."""
    return float(row["development_from_m"] if row["gear"] is None else row["gear"])
