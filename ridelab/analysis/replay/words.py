"""What replays say, in words that claim no more than the rides can show."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from ridelab.analysis.replay.tally import alike
from ridelab.analysis.words import gear_list

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridelab.analysis.replay.tally import Assumption, Estimate, Tally
    from ridelab.analysis.replay.vehicle import Replays

NOTHING_SHOWN = "no difference that these rides can show"
SPEED_KEPT = (
    "Speed is taken as ridden: nobody rides faster for another gear here. --constant-effort keeps "
    "the effort instead."
)
EFFORT_KEPT = (
    "Effort is taken as ridden: within the comfortable cadences legs give the same power in any "
    "gear, outside less (1 - (1 - c/low)² below, 1 - (c/high - 1)² above), and power moves mass "
    "against the same road, wind and brakes. Mass and drag area are usual ones."
)
#: Habits come near where so much of the driving is in the same gears, and the cadence spreads by
#: no more than so many times more or less. Our own choice.
NEAR_ALIKE, NEAR_SPREAD = 0.7, 1.35
FAR = "That is not near: take what is said by habit with care."
NO_MORE = (
    "More gears, finer steps or a wider range make no drivetrain more efficient, and gears closer "
    "than 5 % feel alike."
)


def said(found: Replays) -> Iterator[str]:
    """Yield what each candidate would have changed, then how candidates differ, then how sure."""
    effort = any(one.assumption == "effort as ridden" for one in found.tallies)
    assumption: Assumption = "effort as ridden" if effort else "speed as ridden"
    by_key = {
        id(one.gearing): one
        for one in found.tallies
        if (one.policy, one.assumption) == ("by habit", assumption)
    }
    last = [one for one in found.tallies if one.assumption == assumption]
    ahead = [one for one in last if one.policy == "looking ahead"]
    ridden = found.tallies[0] if found.tallies[0].policy == "as ridden" else None
    own = ahead[0] if ridden is not None else None
    for one in ahead if own is None else ahead[1:]:
        # By habit is what this rider would do; where it cannot be told, what could be done.
        habit = by_key.get(id(one.gearing))
        base = by_key.get(id(own.gearing)) if own and habit else own
        yield _of_candidate(found, habit or one, base)
        yield _of_range(habit or one, base)
    for one, other in combinations(ahead if own is None else ahead[1:], 2):
        yield f"Shifted as well as can be, {_beside(other, one)}."
    if ridden is not None:
        yield from _how_near(ridden, found.tallies[1:])
    if found.tallies[0].rides == 1:
        yield "One ride: how much other rides would differ nobody can say."


def _of_candidate(found: Replays, one: Tally, base: Tally | None) -> str:
    share, band = one.estimate("outside"), found.band
    text = (
        f"{_name(one)}, {_way(one)}: {_percent(share)} of the driving outside {band.low_rpm:.0f} "
        f"to {band.high_rpm:.0f} rpm"
    )
    if base is None:
        return f"{text}."
    changes = [f"{_percent(base.estimate('outside'))} on {_name(base)}: {_change(one, base)}"]
    if one.assumption == "effort as ridden":
        changes.append(f"riding time: {_time(one, base)}")
    return f"{text}, {'; '.join(changes)}."


def _change(one: Tally, base: Tally) -> str:
    """Say by how many points the share outside differs, or that no difference is shown."""
    apart = one.minus(base, "outside")
    if apart.low is None or apart.high is None:
        return f"{_points(apart.value)}"
    if apart.low <= 0.0 <= apart.high:
        return NOTHING_SHOWN
    ends = sorted((abs(apart.low), abs(apart.high)))
    return f"{_points(apart.value)} ({100 * ends[0]:.1f} to {100 * ends[1]:.1f})"


def _time(one: Tally, base: Tally) -> str:
    apart = one.minus(base, "moving_s")
    if apart.low is not None and apart.high is not None and apart.low <= 0.0 <= apart.high:
        return NOTHING_SHOWN
    way = "less" if apart.value < 0 else "more"
    return f"{_clock(abs(apart.value))} {way} of {_clock(base.total('moving_s'))}"


def _of_range(one: Tally, base: Tally | None) -> str:
    """Say whether what lies beyond the ridden range would have been used."""
    gears = len(one.gearing.numbers)
    unneeded = one.unneeded
    rest = ""
    if gears:
        rest = f" {_left_out(unneeded, gears)}"
    if base is None:
        return f"What the ridden range is, nothing tells.{rest}"
    parts = [
        f"{_span(one, side)} {word} the range of {_name(base)}"
        for side, word in (("lower", "below"), ("higher", "above"))
        if one.estimate(side).value * one.total("seconds") >= 10.0
    ]
    if not parts:
        return f"Beyond the range of {_name(base)} it would not have been used.{rest}"
    return f"It would have been used {' and '.join(parts)}.{rest}"


def _left_out(unneeded: Sequence[int], gears: int) -> str:
    if not unneeded:
        return f"All of its {gears} gears would have been used."
    return f"Never needed of its {gears} gears: {gear_list(unneeded).removeprefix('gears ')}."


def _span(one: Tally, side: str) -> str:
    found, seconds = one.estimate(side), one.total("seconds")
    text = _clock(found.value * seconds)
    if found.low is None or found.high is None:
        return f"for {text}"
    return f"for {text} ({_clock(found.low * seconds)} to {_clock(found.high * seconds)})"


def _beside(one: Tally, other: Tally) -> str:
    return (
        f"{_name(one)} leaves {_percent(one.estimate('outside'))} outside, {_name(other)} "
        f"{_percent(other.estimate('outside'))}: {_change(one, other)}"
    )


def _how_near(ridden: Tally, others: Sequence[Tally]) -> Iterator[str]:
    """Say how near a replay on the ridden ladder comes to what was ridden."""
    for one in others:
        if one.gearing is ridden.gearing and one.policy == "by habit":
            shifts, was = (tally.estimate("shifts_per_km").value for tally in (one, ridden))
            spread, spread_was = (tally.estimate("spread").value for tally in (one, ridden))
            same = alike(one, ridden)
            far = same < NEAR_ALIKE or not 1 / NEAR_SPREAD < spread / spread_was < NEAR_SPREAD
            yield (
                f"How near the habits come: on {_name(ridden)} itself they make {shifts:.1f} "
                f"shifts a km where {was:.1f} were ridden, a spread of {100 * spread:.0f} % where "
                f"it was {100 * spread_was:.0f} %, and {100 * same:.0f} % of the driving is in the "
                "same gears." + (f" {FAR}" if far else "")
            )
            return


def _name(tally: Tally) -> str:
    return tally.gearing.drivetrain or "the ridden ladder"


def _way(tally: Tally) -> str:
    if tally.gearing.span_m is not None:
        return "turned to the middle of the band wherever it can be"
    return "shifted by this rider's habits" if tally.policy == "by habit" else "shifted ahead"


def _percent(found: Estimate) -> str:
    return f"{100 * found.value:.1f} %"


def _points(value: float) -> str:
    return f"{abs(100 * value):.1f} points {'less' if value < 0 else 'more'}"


def _clock(seconds: float) -> str:
    minutes, left = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{left:02d}"
