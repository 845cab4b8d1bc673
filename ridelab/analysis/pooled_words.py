"""The words of what several vehicles say of one claim."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.analysis import words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.campaign import Claim

#: Why vehicles are not pooled.
COUNTED = "a count is compared vehicle by vehicle, as it errs by whole gears"
EXTREME = (
    "extreme steps are compared vehicle by vehicle, as the extreme of several errs the same way on "
    "each"
)
WHEELS = "it depends on the wheel, and theirs differ in size"
_FEW = 3


def one_vehicle(vehicle: str, reason: str) -> str:
    """Say that one vehicle does not stand for all of its kind."""
    return f"{reason}; ridden on {vehicle} alone: another would show whether it is the drivetrain"


def none_tells(vehicles: int, reason: str) -> str:
    """Say that no vehicle was ridden enough, with what to do on the first of them."""
    return f"none of {vehicles} vehicles tells: {reason}"


def each(word: str, vehicles: Sequence[str], apart: str | None) -> str:
    """Say that all vehicles agree."""
    if len(vehicles) == 1:
        return f"{word} on {vehicles[0]}"
    also = f" ({apart})" if apart else ""
    return f"{word} on each of {len(vehicles)} vehicles, {_named(vehicles)}{also}"


def on_average(claim: Claim, word: str, vehicles: int, above: bool) -> str:
    """Say that the mean decides what single vehicles left open."""
    mean = f"mean over {vehicles} vehicles, as no single one decides for all"
    if word == "holds":
        return f"{words.inside(claim)} ({mean})"
    return f"{words.outside(claim, above=above)} ({mean})"


def contradiction(holds: Sequence[str], fails: Sequence[str]) -> str:
    """Say that vehicles contradict each other."""
    return (
        f"holds on {_named(holds)}, fails on {_named(fails)}: have they the same drivetrain, and "
        "as stated?"
    )


def on_some(holds: Sequence[str], fails: Sequence[str]) -> str:
    """Say on which vehicles a claim is decided, and that others leave it open."""
    if not holds and not fails:
        return "open on each vehicle"
    word, decided = ("holds", holds) if holds else ("fails", fails)
    return f"{word} on {_named(decided)}, open on the others"


def mean_open(claim: Claim, vehicles: int) -> str:
    """Say that the mean does not decide, either."""
    limit = f" (limit {words.allowed(claim)})"
    return f"nor does the mean over {vehicles} vehicles decide{limit}: ride more, or more of them"


def odd(vehicle: str, off: float, others: int) -> str:
    """Say which vehicle departs from the others, and by how much."""
    side = "above" if off > 0 else "below"
    return (
        f"; {vehicle} is {100 * abs(off):.2g} % {side} the mean of the other {others}, which is "
        "surely more than their errors: look at this vehicle first"
    )


def not_judged(vehicles: Sequence[str]) -> str:
    """Say which vehicles could not be judged."""
    return f"; not ridden enough, or in doubt: {_named(vehicles)}" if vehicles else ""


def _named(vehicles: Sequence[str]) -> str:
    if len(vehicles) > _FEW + 1:
        return f"{', '.join(vehicles[:_FEW])} and {len(vehicles) - _FEW} more"
    return " and ".join([", ".join(vehicles[:-1]), vehicles[-1]] if len(vehicles) > 1 else vehicles)
