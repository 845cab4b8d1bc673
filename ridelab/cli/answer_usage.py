"""What a rider is told first: which gears carry the riding, which never do, comfort, and shifts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.analysis.words import gear_list
from ridelab.cli.columns import clock
from ridelab.cli.output import print_table, say, say_prose
from ridelab.cli.text import NO_BREAK, Column, counted, printable
from ridelab.report.digits import UNKNOWN, Printer, duration, number, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.cli.answer import Frames
    from ridelab.units import UnitSystem

    Row = dict[str, Any]

_KILO = 1000.0
#: Gears in the table, those of most time; and which carry most of it: as few as reach this share.
_MOST_GEARS, _MOST = 9, 0.5
_BAR = 12
#: Power recorded for more of the time than this passes for all of it.
_WHOLE = 0.98
#: Relations that are told in words.
_TOLD = (
    "cadence_habits", "comfortable_cadence", "outside_comfort", "shift_habits", "shift_pairs",
    "shift_sequences",
)  # fmt: skip
#: Pairs and sequences that are named; `show` has them all.
_PAIRS, _SEQUENCES = 3, 2
#: How each side of comfort is put, and why a rider was there.
_SIDES = {"above": "faster", "below": "slower"}
_WHYS = {
    "no gear left": "no gear was left",
    "none chosen": "another gear would have been within",
    "step too wide": "the next gear is too far",
}


def print_usage(store: Frames, units: UnitSystem, again: str = "") -> None:
    """Print how the gears of each vehicle are used; vehicles of which nothing is known in a word.

    ``again``: the options that lead ``ridelab show`` to this store.
    """
    printer = Printer(units)
    used = _by_vehicle(store, "use_by_gear")
    told = {name: _by_vehicle(store, name) for name in _TOLD}
    for vehicle in store.frame("vehicles").to_dicts():
        name = vehicle["vehicle"]
        drivetrain = vehicle["drivetrain"] or "no published drivetrain"
        say(f"{printable(name)} ({vehicle['kind']}, {printable(drivetrain)})")
        if name in used:
            own = {relation: rows.get(name, []) for relation, rows in told.items()}
            _print_vehicle(used[name], own, printer)
        else:
            say("nothing can be told of the use of its gears: none was ridden, or can be named")
        say()
    if used:
        say("by grade, by speed, by hour of the ride, by month, and all shifts:")
        for relation in ("use_by_grade", "shift_pairs"):
            say(f"  ridelab show {relation}{again}")


def _print_vehicle(used: Sequence[Row], told: dict[str, list[Row]], printer: Printer) -> None:
    say_prose(_most_used(used))
    say_prose(_comfort(told))
    if told["shift_habits"]:
        say_prose(_shifting(told["shift_habits"][0], printer))
    if told["shift_pairs"]:
        say_prose(_pairs(told))
    _print_gears(used, printer)


def _most_used(used: Sequence[Row]) -> str:
    """Say which gears carry most of the time, and which were never used."""
    seconds = sum(row["seconds"] for row in used)
    ranked = sorted(used, key=lambda row: -row["share"])
    most: list[Row] = []
    while sum(row["share"] for row in most) < _MOST and len(most) < len(ranked):
        most.append(ranked[len(most)])
    share = f"{_share(sum(row['share'] for row in most))} of {duration(seconds)} with drive"
    if used[0]["gear"] is None:
        bands = ", ".join(_band(row) for row in sorted(most, key=_place))
        return f"{share} at developments of {bands}"
    never = sorted(row["gear"] for row in used if not row["seconds"])
    said = f"{share} in {gear_list(sorted(row['gear'] for row in most))}"
    return f"{said}; never in {gear_list(never)}" if never else f"{said}; each gear was used"


def _comfort(told: dict[str, list[Row]]) -> str:
    """Say what is comfortable, for what share it was not so, and why."""
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
    reasons = ", ".join(f"{_WHYS[row['why']]} {_share(row['share'])}" for row in rows)
    return f"{_SIDES[side]} {_share(sum(row['share'] for row in rows))} ({reasons})"


def _shifting(habits: Row, printer: Printer) -> str:
    """Say how often and how a rider shifts."""
    count = habits["shifts"]
    if not count:
        return "not one shift"
    per_way = habits["shifts_per_km"]
    if per_way is None:
        often = counted(count, "shift")
    else:
        per_shown = per_way / _KILO / printer.scale("distance")
        often = f"{number(per_shown, 1)} shifts a{NO_BREAK}{printer.unit('distance')}"
    if habits["shifts_per_minute"] is not None:
        often += f", {number(habits['shifts_per_minute'], 1)} a minute"
    shares = [
        f"{_share(habits[key] / count)} {words}"
        for key, words in (
            ("several_gears", "over several gears at once"),
            ("while_coasting", "while coasting"),
            ("hunting", "taken back within 10 s"),
        )
        if habits[key]
    ]
    return f"{often}: " + ", ".join([f"{habits['up']} up, {habits['down']} down", *shares])


def _pairs(told: dict[str, list[Row]]) -> str:
    """Name the most frequent shifts, and those that fewer would have replaced."""
    frequent = ", ".join(
        f"{row['from_gear']} to {row['to_gear']} ({_share(row['share'])})"
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
        said += f"; {counted(times, 'detour')} in quick succession, such as {examples}"
    return said


def _print_gears(used: Sequence[Row], printer: Printer) -> None:
    """Print the gears of most time in the order of the ladder, and what the others make up."""
    ridden = [row for row in used if row["seconds"]]
    shown = sorted(sorted(ridden, key=lambda row: -row["share"])[:_MOST_GEARS], key=_place)
    names = [_band(row) if row["gear"] is None else str(row["gear"]) for row in shown]
    most = max(row["share"] for row in shown)
    columns = [
        Column("gear" if shown[0]["gear"] is not None else "development", names, right=True),
        Column("time", [clock(row["seconds"]) for row in shown], unit="h:m:s", right=True),
        Column("share", [_share(row["share"]) for row in shown], right=True),
        Column("", ["#" * max(1, round(_BAR * row["share"] / most)) for row in shown]),
        _summed("distance", "metres", shown, printer.scale("distance"), printer.unit("distance")),
        _summed(
            "climb", "climb_m", shown, printer.scale("development"), printer.unit("development")
        ),
        _summed("work", "work_j", shown, 1.0 / _KILO, "kJ"),
    ]
    print_table([column for column in columns if any(cell != UNKNOWN for cell in column.cells)])
    if rest := len(ridden) - len(shown):
        share = _share(1.0 - sum(row["share"] for row in shown))
        thing = "more gear" if shown[0]["gear"] is not None else "more band"
        say(f"{counted(rest, thing)}: {share} together")
    powered = sum(row["powered_s"] for row in ridden) / sum(row["seconds"] for row in ridden)
    if 0 < powered < _WHOLE:
        say(f"power was recorded for {_share(powered)} of the time; work is that of this time")


def _summed(name: str, key: str, rows: Sequence[Row], scale: float, unit: str) -> Column:
    decimals = 1 if key == "metres" else 0
    cells = [UNKNOWN if row[key] is None else number(row[key] * scale, decimals) for row in rows]
    return Column(name, cells, unit=unit, right=True)


def _share(value: float) -> str:
    """Print a share as a percentage that no line breaks."""
    return percent(value).replace(" ", NO_BREAK)


def _band(row: Row) -> str:
    low = row["development_from_m"]
    return f"{number(low, 1)} to {number(low + 0.5, 1)}{NO_BREAK}m"


def _place(row: Row) -> float:
    return float(row["development_from_m"] if row["gear"] is None else row["gear"])


def _by_vehicle(store: Frames, relation: str) -> dict[str, list[Row]]:
    rows: dict[str, list[Row]] = {}
    for row in store.frame(relation).to_dicts():
        rows.setdefault(row["vehicle"], []).append(row)
    return rows
