"""The words of claims tested on paper: what misses what, and by how much."""

from __future__ import annotations

import re
from math import ceil, floor, isfinite, log10
from typing import TYPE_CHECKING

from ridelab.analysis.paper_rows import COUNT, LADDER, WHEEL
from ridelab.campaign import COUNTS
from ridelab.campaign.claim_forms import FORMS
from ridelab.campaign.claim_words import in_words
from ridelab.drivetrain.wheel import ROLLOUT_SPAN
from ridelab.units import display_unit, format_quantity, unit_si

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.campaign import Claim, Vehicle
    from ridelab.drivetrain.ladder import Ladder
    from ridelab.units import Measure, UnitSystem

_MEASURES: dict[str, Measure] = {
    "range": "range",
    "step": "step",
    "evenness": "step",
    "cadence change": "cadence",
    "speed": "speed",
    "development": "development",
    "rollout": "rollout",
}
#: In units of the last digit: what lies on a digit but for the computer's last bits is on it.
_LAST_BIT = 1e-4
_EXACTLY = 3  # decimals where nothing tells how many are known
_UNCLAIMED = 0.005  # what nobody claims is printed to so much of itself
_PRINTED_UNIT = re.compile(r"[0-9.]\s*([^0-9.\s].*)$")


def about(claim: Claim) -> str:
    """Return what is claimed, without its value."""
    return in_words(claim.quantity, claim.gear, claim.which, claim.at_cadence_rpm)


def named(claim: Claim) -> str:
    """Return "c1 (range: 526 %)"."""
    return f"{claim.id} ({about(claim)}: {claim.printed})"


def missed(
    claim: Claim, implied: tuple[float, float], said_by: Sequence[str], units: UnitSystem = "metric"
) -> str:
    """Say by how much a claim misses what everything else makes of it, in the unit it is printed.

    ``implied``: the least and the most, SI, either maybe infinite; ``said_by``: who makes it that.
    """
    low, high = claim.limits
    above = implied[0] > high
    apart = implied[0] - high if above else low - implied[1]
    finest = min(apart, claim.tolerance * claim.value)
    stands, made = (between(claim, ends, finest, units) for ends in ((low, high), implied))
    makes = "make" if len(said_by) > 1 else "makes"
    who = _joined(said_by) if said_by else "any ladder"
    return (
        f"{named(claim)} stands for {stands}, but {who} {makes} it {made}: "
        f"{_percent(apart / abs(claim.value))} {'more' if above else 'less'}"
    )


def made(claim: Claim, ends: tuple[float, float], units: UnitSystem = "metric") -> str:
    """Return what something makes of a claim, as ``between``, no finer than either is known."""
    if claim.quantity in COUNTS:
        return f"{ends[0]:.0f}"
    width = (ends[1] - ends[0]) / 100
    finest = max(width if isfinite(width) else 0.0, claim.tolerance * claim.value)
    known = next(filter(isfinite, ends), 0.0)
    return between(claim, ends, finest or _UNCLAIMED * abs(known), units)


def between(
    claim: Claim, ends: tuple[float, float], finest: float, units: UnitSystem = "metric"
) -> str:
    """Return "471 to 684 %", "at least 471 %": an interval, widened to the digits printed."""
    symbol, per_si = _unit(claim, units)
    decimals = max(0, -floor(log10(finest * per_si) - _LAST_BIT)) if finest > 0 else _EXACTLY
    low, high = (end * per_si for end in ends)
    scale = 10.0**decimals
    printed = (
        f"{floor(low * scale + _LAST_BIT) / scale:.{decimals}f}" if isfinite(low) else "",
        f"{ceil(high * scale - _LAST_BIT) / scale:.{decimals}f}" if isfinite(high) else "",
    )
    if not printed[0]:
        return f"at most {printed[1]} {symbol}".rstrip()
    if not printed[1]:
        return f"at least {printed[0]} {symbol}".rstrip()
    if printed[0] == printed[1]:
        return f"{printed[0]} {symbol}".rstrip()
    return f"{printed[0]} to {printed[1]} {symbol}".rstrip()


def impossible(said_by: Sequence[str]) -> str:
    """Say that statements cannot all be true, where no single one of them shows by how much."""
    return f"{_joined(said_by)} cannot all be true"


def miscounted(claim: Claim, counted: int, ladder: Ladder, within: float) -> str:
    """Say how many gears the published ladder has, where another number is claimed."""
    combinations = sum(len(gear.members) for gear in ladder.gears)
    if claim.quantity == "gears" and combinations == len(ladder.gears) == counted:
        return f"{named(claim)}: the published ladder of {ladder.drivetrain} has {counted}"
    whose = f"of the {combinations} combinations of {ladder.drivetrain}"
    if claim.quantity == "gears":
        does = "is distinct" if counted == 1 else "are distinct"
    else:
        does = "repeats a gear" if counted == 1 else "repeat a gear"
    close = f"where those within {_percent(within)} of each other are one"
    return f"{named(claim)}: {whose}, {counted} {does}, {close}"


def beside(also: frozenset[str], ladder: Ladder, vehicle: Vehicle | None) -> list[str]:
    """Name what claims are held against, of ``LADDER``, ``COUNT`` and ``WHEEL``."""
    said = []
    if COUNT in also:
        several = len(ladder.gears) > 1
        said.append(
            f"the {len(ladder.gears)} published gears" if several else "the single published gear"
        )
    if LADDER in also:
        said.append(f"the published ladder of {ladder.drivetrain}")
    if WHEEL in also and vehicle is not None and vehicle.stated_rollout_m is not None:
        measured = vehicle.rollout_m is not None
        least, most = ROLLOUT_SPAN["measured" if measured else "nominal"]
        rolls = format_quantity(vehicle.stated_rollout_m, "rollout")
        kind = "measured" if measured else "nominal"
        said.append(
            f"the {kind} rollout of {vehicle.name} ({rolls}, {100 * least:+g} to {100 * most:+g} %)"
        )
    return said


def _unit(claim: Claim, units: UnitSystem) -> tuple[str, float]:
    """Return the unit a claim is printed in, and how many of it are one SI unit."""
    printed = _PRINTED_UNIT.search(claim.printed)
    if printed:
        symbol = printed[1].strip()
        return symbol, 1 / unit_si(symbol, FORMS[claim.quantity].dimension)
    if claim.quantity not in _MEASURES:
        return "", 1.0
    shown = display_unit(_MEASURES[claim.quantity], units)
    return shown.symbol, shown.per_si


def _percent(share: float) -> str:
    return f"{100 * share:.2g} %" if share < 1 else f"{100 * share:.0f} %"


def _joined(parts: Sequence[str]) -> str:
    return " and ".join(filter(None, [", ".join(parts[:-1]), parts[-1]]))
