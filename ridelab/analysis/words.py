"""The words of a verdict: gears named as people would, and what to ride to learn more."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.units import format_quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.campaign import Claim
    from ridelab.units import UnitSystem

#: Of two speeds, ratios or lengths a ride shows the quotient; one of them takes a wheel.
NO_ROLLOUT = (
    "rides show only how gears compare with each other: give this vehicle a tyre, or better a "
    "measured rollout_m"
)
ROLLOUT_IS_SET = (
    "a recording unit makes metres of wheel turns by the rollout that it is set to, so rides show "
    "that setting: roll the wheel along a tape, or ride by satellite speed"
)
NO_STEPS = (
    "the ratio varies without steps, though gears are published: is this the drivetrain that was "
    "ridden?"
)
METERS_DISAGREE = (
    "the meter at the wheel reads more power than that at the crank, by more than their accuracy "
    "allows: set both to zero, and ride them against each other"
)
_SHORTEST_RUN = 3  # gears named one by one up to here, as "3 to 5" from here on


def gear_list(gears: Sequence[int]) -> str:
    """Name gears in order: "gear 14", "gears 1 and 14", "gears 1, 3 to 6 and 9"."""
    parts: list[str] = []
    for first, last in _runs(gears):
        if last - first + 1 >= _SHORTEST_RUN:
            parts.append(f"{first} to {last}")
        else:
            parts += [str(gear) for gear in range(first, last + 1)]
    if len(gears) == 1:
        return f"gear {parts[0]}"
    joined = " and ".join([", ".join(parts[:-1]), parts[-1]]) if len(parts) > 1 else parts[0]
    return f"gears {joined}"


def not_ridden(
    gears: Sequence[int], above_mps: float | None = None, units: UnitSystem = "metric"
) -> str:
    """Say which gears were not ridden long enough, and what to ride.

    ``above_mps``: how fast, said in ``units``.
    """
    be, each = ("was", "it") if len(gears) == 1 else ("were", "each")
    fast = "" if above_mps is None else f", above {format_quantity(above_mps, 'speed', units)}"
    return (
        f"{gear_list(gears)} {be} not ridden long enough: ride 60 s of steady pedalling in "
        f"{each}{fast}"
    )


def outside(claim: Claim, *, above: bool) -> str:
    """Say on which side a claim is missed."""
    if claim.bound != "about":
        return f"{'above the most' if above else 'below the least'} that is claimed"
    return f"{'above' if above else 'below'} the claim by more than {allowed(claim)}"


def inside(claim: Claim) -> str:
    """Say why a claim holds."""
    if claim.bound != "about":
        side = "below the least" if claim.bound == "at least" else "above the most"
        return f"not {side} that is claimed, uncertainty included"
    if claim.which == "every":
        return f"every step is within {allowed(claim)} of the claim, uncertainty included"
    return f"within {allowed(claim)} of the claim, uncertainty included"


def not_sure_together(reason: str, claims: int, gears: Sequence[int]) -> str:
    """Say that a verdict would do for a single claim, but not for one of so many."""
    longer = how_to_ride(gears) if any(gears) else "at its ends"
    return (
        f"{reason}, but not surely enough for one of {claims} claims judged together: ride longer "
        f"{longer}"
    )


def wheel_as_well(reason: str, *, measured: bool) -> str:
    """Say that riding alone will not do, since the wheel leaves too much open."""
    if measured:
        return f"{reason}; even then a measured rollout leaves too much open to tell so closely"
    return (
        f"{reason}; and measure the rollout with the rider aboard (rollout_m), as a nominal one "
        "leaves too much open"
    )


def hardly_ever(reason: str, *, by_satellite: bool) -> str:
    """Say that a claim is too near its limit for a ride to decide it, and what else may."""
    sensor = ": a speed sensor at the wheel would tell more" if by_satellite else ""
    return f"{reason}; so near its limit half an hour more may well not decide it{sensor}"


def shared_gear(gears: Sequence[int], limit: str) -> str:
    """Say that combinations which share a gear leave open which of them was ridden."""
    return (
        f"several combinations share {gear_list(gears)}, and rides do not tell which of them was "
        f"ridden; that, or how little was ridden, reaches across the limit of {limit}"
    )


def finer_than_measured(within: float, merged: float) -> str:
    """Say that gears are not measured as finely as a claim counts them."""
    return (
        f"the claim counts gears from {100 * within:.2g} % apart, but combinations closer than "
        f"{100 * merged:.2g} % are measured as one"
    )


def repeated(combinations: int, distinct: int) -> str:
    """Say how many combinations make how many gears."""
    return f"{combinations} combinations make {count(distinct)}"


def how_to_ride(gears: Sequence[int]) -> str:
    """Return "in gear 3, pedalling steadily"."""
    return f"in {gear_list(gears)}, pedalling steadily"


def allowed(claim: Claim) -> str:
    """Return the tolerance as printed for people: "2 %", "0.095 %"."""
    percent = 100 * claim.tolerance
    return f"{percent:.2g} %" if percent < 10 else f"{percent:.0f} %"


def count(gears: int) -> str:
    """Return "one distinct ratio" or "14 distinct ratios"."""
    return "one distinct ratio" if gears == 1 else f"{gears} distinct ratios"


def too_few(gears: int, alike: Sequence[tuple[int, int]], unridden: Sequence[int]) -> str:
    """Say why there are fewer gears than claimed: neighbours alike, or simply no more of them."""
    pairs = " and ".join(f"{gear_list(pair)} turn out as one" for pair in alike)
    if unridden:
        so = f"{pairs}, so that " if pairs else ""
        return f"{so}even with {gear_list(unridden)}, which nobody rode, {_at_most(gears)}"
    if pairs:
        return f"{pairs}, which leaves {count(gears)}"
    return f"every gear was ridden, which makes {count(gears)}"


def _at_most(gears: int) -> str:
    return f"there {'is' if gears == 1 else 'are'} at most {count(gears)}"


def too_close(unclear: Sequence[tuple[int, int]]) -> str:
    """Say which neighbours cannot be told apart yet, and what to ride."""
    gears = sorted({gear for pair in unclear for gear in pair})
    return f"{gear_list(gears)} cannot be told apart yet: ride longer {how_to_ride(gears)}"


def wrong_wheel(off: float, measured: bool) -> str:
    """Say that recorded distances do not fit the wheel, by how much, and what to look at."""
    amount = f"{100 * abs(off):.1f} % {'longer' if off > 0 else 'shorter'}"
    again = "measure its rollout again" if measured else "measure its rollout"
    return (
        f"the recorded distances are {amount} than this wheel makes with the published ratios: "
        f"{again}, and check the wheel size set in the recording unit and the ratio that all gears "
        "share, such as chainring over sprocket"
    )


def open_wheel(open_share: tuple[float, float], measured: bool, limit: str) -> str:
    """Say that not the rides but the wheel leaves a claim open, and what helps against that."""
    least, most = (f"{100 * share:+.1f}".replace(".0", "") for share in open_share)
    if measured:
        return (
            f"a measured rollout is known to {least} to {most} %, which reaches across the limit "
            f"of {limit}: rides cannot tell closer"
        )
    return (
        f"a nominal rollout may be {least} to {most} % off, which reaches across the limit of "
        f"{limit}: measure the rollout with the rider aboard and state it as rollout_m"
    )


def open_meters(apart: float, limit: str) -> str:
    """Say that not the rides but the power meters leave a claim open."""
    return (
        f"the two power meters may be {100 * apart:.2g} % apart, which reaches across the limit of "
        f"{limit}: no ride tells closer, only more accurate meters (power_accuracy)"
    )


def may_slide(elsewhere: float, rollout_is_measured: bool) -> str:
    """Say that gears may carry the wrong numbers, how probably, and what would settle it."""
    settle = "ride the end gears"
    if not rollout_is_measured:
        settle = f"state a measured rollout_m or {settle}"
    return (
        f"the ladder may sit one gear higher or lower (probability {percent(elsewhere)}): {settle}"
    )


def unexplained(share: float) -> str:
    """Say that much of the riding cannot have been done in the published gears."""
    return (
        f"{percent(share)} of the steady pedalling fits no published gear: is this the drivetrain "
        "that was ridden?"
    )


def off_the_ladder(ratios: Sequence[float]) -> str:
    """Say which ridden ratios are on no data sheet."""
    if len(ratios) == 1:
        return f"a ratio was ridden that is not on the published ladder: {_ratios(ratios)}"
    return f"ratios were ridden that are not on the published ladder: {_ratios(ratios)}"


def maybe_off_the_ladder(ratios: Sequence[float]) -> str:
    """Say which ridden ratios may be gears of their own, and what to ride."""
    return (
        f"not on the published ladder, perhaps: {_ratios(ratios)}; ride longer at that ratio, "
        "pedalling steadily"
    )


def _ratios(ratios: Sequence[float]) -> str:
    return ", ".join(f"{ratio:.3g}" for ratio in ratios)


def percent(share: float) -> str:
    """Return a share as "31 %"."""
    return f"{100 * share:.0f} %"


def _runs(gears: Sequence[int]) -> list[tuple[int, int]]:
    """Return first and last of each run of neighbours."""
    runs: list[tuple[int, int]] = []
    for gear in sorted(gears):
        if runs and gear == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], gear)
        else:
            runs.append((gear, gear))
    return runs
