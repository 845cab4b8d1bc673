"""What replays say, in words that claim no more than the rides can show."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

from ridelab.analysis.replay.habits import LEAST_SHIFTS
from ridelab.analysis.replay.tally import LEAST_S
from ridelab.analysis.words import gear_list
from ridelab.units import decimals_supported, display_unit, format_number

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridelab.units import DisplayUnit, UnitSystem

    Row = Mapping[str, Any]

RIDDEN, SPEED, EFFORT = "as ridden", "speed as ridden", "effort as ridden"
NOTHING_SHOWN = "no difference that these rides can show"
SPEED_KEPT = "Speed is taken as ridden: nobody rides faster for another gear here."
EFFORT_KEPT = (
    "Effort is taken as ridden: within the comfortable cadences legs give the same power in any "
    "gear, outside less (1 - (1 - c/low)² below, 1 - (c/high - 1)² above), and power moves mass "
    "against the same road, wind and brakes. Mass and drag area are usual ones."
)
#: Habits come near where so much of the driving is in the same gears, the cadence spreads by no
#: more than so many times more or less, and no more than this share of the driving is outside the
#: band that was not, or the other way round. Our own choice.
NEAR_ALIKE, NEAR_SPREAD, NEAR_OUTSIDE = 0.7, 1.35, 0.05
_KM = 1000.0
#: What is told of rides shifted by habit and of those rides themselves alike.
ASKED_OF_HABITS = ("outside", "spread", "shifts_per_km")
FAR = "That is not near: take what is said by habit with care."
NO_MORE = (
    "More gears, finer steps or a wider range make no drivetrain more efficient, and gears closer "
    "than 5 % feel alike."
)


@dataclass(frozen=True)
class Told:
    """The rows of one vehicle in ``replays`` and ``replay_differences``, under one assumption.

    The ridden drivetrain goes first, then the candidates in their order.
    """

    replays: Sequence[Row]
    differences: Sequence[Row]

    @classmethod
    def of(cls, replays: Sequence[Row], differences: Sequence[Row]) -> Told:
        """Keep what is told with the effort as ridden, where that was asked for, else the speed."""
        effort = any(row["assumption"] == EFFORT for row in replays)
        kept = {EFFORT if effort else SPEED}
        return cls(
            [row for row in replays if row["policy"] == RIDDEN or row["assumption"] in kept],
            [row for row in differences if row["assumption"] in kept],
        )

    @property
    def ridden(self) -> Row | None:
        """What the rides were, None where the ridden ladder is not known."""
        return next((row for row in self.replays if row["policy"] == RIDDEN), None)

    def by(self, policy: str) -> dict[str | None, Row]:
        """Return the replays of one way to shift, by drivetrain."""
        return {row["drivetrain"]: row for row in self.replays if row["policy"] == policy}

    def apart(self, one: Row, base: Row, quantity: str) -> Row:
        """Return by how much a figure of one replay exceeds that of one of the same policy."""
        wanted = one["drivetrain"], base["drivetrain"], one["policy"], quantity
        keys = ("drivetrain", "versus", "policy", "quantity")
        found = next(row for row in self.differences if tuple(map(row.get, keys)) == wanted)
        return self._allowing(found) if one["policy"] == "by habit" else found

    def _allowing(self, apart: Row) -> Row:
        """Widen an interval by what habits are off by on the ridden drivetrain itself.

        A difference that is smaller than that may be of the habits' own making.
        """
        ridden, quantity = self.ridden, apart["quantity"]
        own = None if ridden is None else self.by("by habit").get(ridden["drivetrain"])
        if ridden is None or own is None or quantity not in ASKED_OF_HABITS:
            return apart
        if apart["difference_low"] is None:
            return apart
        off = abs(own[quantity] - ridden[quantity])
        low, high = apart["difference_low"] - off, apart["difference_high"] + off
        return {**apart, "difference_low": low, "difference_high": high}


def in_short(told: Told) -> str:
    """Say whether another drivetrain would have been more comfortable, or rides cannot tell."""
    ridden = told.ridden
    if ridden is None:
        return "What the ridden ladder is nobody knows, so no drivetrain can be held against it."
    band = f"{ridden['low_rpm']:.0f} to {ridden['high_rpm']:.0f} rpm"
    ways = {"by habit": "by this rider's habits", "looking ahead": "as well as can be"}
    served = {way: _serving(told, policy, ridden["drivetrain"]) for policy, way in ways.items()}
    parts = [f"shifted {way}, {serving}" for way, serving in served.items() if serving]
    if len(parts) > 1 and len(set(served.values())) == 1:
        parts = [f"however it is shifted, {served[ways['by habit']]}"]
    said = "; ".join(parts)
    question = f"Would another drivetrain have kept more of the driving within {band}?"
    return f"{question} {said[:1].upper()}{said[1:]}."


def _serving(told: Told, policy: str, own: str | None) -> str:
    """Sort the candidates by what their difference to the ridden drivetrain shows."""
    rows = told.by(policy)
    found: dict[str, list[str]] = {}
    for drivetrain, row in rows.items():
        if drivetrain != own and own in rows:
            word = _serves(told.apart(row, rows[own], "outside"))
            found.setdefault(word, []).append(_name(row))
    return ", ".join(word.format(_listed(names)) for word, names in found.items())


def _serves(apart: Row) -> str:
    low, high = apart["difference_low"], apart["difference_high"]
    if low is None:
        return "of {} one ride cannot tell"
    if low <= 0.0 <= high:
        return "of {} these rides cannot tell"
    return "{} would" if high < 0.0 else "{} would have kept less"


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if names[1:] else names)


def said(told: Told, units: UnitSystem = "metric") -> Iterator[str]:
    """Yield what each candidate would have changed, then how candidates differ, then how sure."""
    ridden, ahead, habit = told.ridden, told.by("looking ahead"), told.by("by habit")
    own = None if ridden is None else ahead.pop(ridden["drivetrain"])
    for one in ahead.values():
        # By habit is what this rider would do; where it cannot be told, what could be done.
        shown = habit.get(one["drivetrain"], one)
        base = own and (habit[own["drivetrain"]] if shown is not one else own)
        yield f"{_of_candidate(told, shown, base)} {_of_range(shown, base)}"
    for one, other in combinations(ahead.values(), 2):
        yield f"Shifted as well as can be, {_beside(told, other, one)}."
    if not habit:
        yield _no_habits(ridden)
    elif ridden is not None:
        yield _how_near(ridden, habit[ridden["drivetrain"]], display_unit("distance", units))
    if told.replays[0]["rides"] == 1:
        yield "One ride: how much other rides would differ nobody can say."


def _of_candidate(told: Told, one: Row, base: Row | None) -> str:
    text = (
        f"{_name(one)}, {_way(one)}: {_percent(one)} of the driving outside {one['low_rpm']:.0f} "
        f"to {one['high_rpm']:.0f} rpm"
    )
    if base is None:
        return f"{text}."
    changes = [f"{_percent(base)} on {_name(base)}: {_change(told, one, base)}"]
    if one["assumption"] == EFFORT:
        changes.append(f"riding time: {_time(told, one, base)}")
    return f"{text}, {'; '.join(changes)}."


def _change(told: Told, one: Row, base: Row) -> str:
    """Say by how many points the share outside differs, or that no difference is shown."""
    apart = told.apart(one, base, "outside")
    if apart["difference_low"] is None:
        return _points(apart["difference"])
    if apart["difference_low"] <= 0.0 <= apart["difference_high"]:
        return NOTHING_SHOWN
    ends = sorted((abs(apart["difference_low"]), abs(apart["difference_high"])))
    half = (ends[1] - ends[0]) / 2
    low, high = (_hundredths(end, half) for end in ends)
    return f"{_points(apart['difference'], half)} ({low} to {high})"


def _time(told: Told, one: Row, base: Row) -> str:
    apart = told.apart(one, base, "moving_s")
    low, high = apart["difference_low"], apart["difference_high"]
    if low is not None and low <= 0.0 <= high:
        return NOTHING_SHOWN
    way = "less" if apart["difference"] < 0 else "more"
    return f"{_clock(abs(apart['difference']))} {way} of {_clock(base['moving_s'])}"


def _of_range(one: Row, base: Row | None) -> str:
    """Say whether what lies beyond the ridden range would have been used."""
    rest = "" if one["gears"] is None else f" {_left_out(one['unneeded'], one['gears'])}"
    if base is None:
        return f"What the ridden range is, nothing tells.{rest}"
    parts = [
        f"{_span(one, side)} {word} the range of {_name(base)}"
        for side, word in (("lower", "below"), ("higher", "above"))
        if one[f"{side}_s"] >= LEAST_S
    ]
    if not parts:
        return f"Beyond the range of {_name(base)} it would not have been used.{rest}"
    return f"It would have been used {' and '.join(parts)}.{rest}"


def _left_out(unneeded: str, gears: int) -> str:
    if not unneeded:
        return f"All of its {gears} gears would have been used."
    numbers = [int(number) for number in unneeded.split(",")]
    return f"Never needed of its {gears} gears: {gear_list(numbers).removeprefix('gears ')}."


def _span(one: Row, side: str) -> str:
    text = f"for {_clock(one[f'{side}_s'])}"
    low, high = one[f"{side}_low_s"], one[f"{side}_high_s"]
    return text if low is None else f"{text} ({_clock(low)} to {_clock(high)})"


def _beside(told: Told, one: Row, other: Row) -> str:
    return (
        f"{_name(one)} leaves {_percent(one)} outside, {_name(other)} {_percent(other)}: "
        f"{_change(told, one, other)}"
    )


def _no_habits(ridden: Row | None) -> str:
    """Say why nothing is told by habit."""
    if ridden is not None and ridden["gears"] is None:
        why = "it was ridden stepless, where nobody shifts"
    elif ridden is None:
        why = "which gears it was ridden in is not known"
    else:
        why = f"{LEAST_SHIFTS} shifts up and {LEAST_SHIFTS} down with drive are the least for that"
    return f"No habits can be learned here ({why}): gears are chosen looking ahead alone."


def _how_near(ridden: Row, habit: Row, way: DisplayUnit) -> str:
    """Say how near a replay on the ridden ladder comes to what was ridden."""
    same, spread = habit["alike"], ridden["spread"]
    made, were = (row["shifts_per_km"] / _KM / way.per_si for row in (habit, ridden))
    far = same < NEAR_ALIKE or not spread / NEAR_SPREAD < habit["spread"] < spread * NEAR_SPREAD
    far |= abs(habit["outside"] - ridden["outside"]) > NEAR_OUTSIDE
    return (
        f"How near the habits come: on {_name(ridden)} itself they make {made:.1f} shifts a "
        f"{way.symbol} where {were:.1f} were ridden, a spread of {100 * habit['spread']:.0f} % "
        f"where it was {100 * spread:.0f} %, {100 * habit['outside']:.0f} % outside the band where "
        f"{100 * ridden['outside']:.0f} % were, and {100 * same:.0f} % of the driving is in the "
        "same gears." + (f" {FAR}" if far else "")
    )


def _name(row: Row) -> str:
    return str(row["drivetrain"] or "the ridden ladder")


def _way(row: Row) -> str:
    if row["gears"] is None:
        return "turned to the middle of the band wherever it can be"
    return "shifted by this rider's habits" if row["policy"] == "by habit" else "shifted ahead"


def _percent(row: Row) -> str:
    low, high = row["outside_low"], row["outside_high"]
    half = None if low is None or high is None else (high - low) / 2
    return f"{_hundredths(row['outside'], half)} %"


def _points(value: float, half: float | None = None) -> str:
    return f"{_hundredths(abs(value), half)} points {'less' if value < 0 else 'more'}"


def _hundredths(share: float, half: float | None) -> str:
    """Print a share in percent, with the digits that charts and tables have for it."""
    shown = decimals_supported(100 * half) if half else display_unit("step", "metric").decimals
    return format_number(100 * share, shown)


def _clock(seconds: float) -> str:
    minutes, left = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{left:02d}"
