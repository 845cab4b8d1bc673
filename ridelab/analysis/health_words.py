"""A question asked of a ladder's health, and the words for what was found."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp


@dataclass(frozen=True)
class Question:
    """One question asked of one vehicle: what departs by how much (in logarithms), how surely.

    ``like_a_step``: by as much as from one gear to the next, as if the ladder sat a gear off.
    """

    vehicle: str
    kind: str
    size: float
    error: float
    p_value: float
    freedom: float
    gear: int | None = None
    ride: str | None = None
    like_a_step: bool = False


#: What to look at, where a chain is moved to other wheels, inside a hub or gearbox, and where it is
#: not known which of them it is (common practice, no source).
_LOOK = {
    "gear off": {
        True: "at the teeth of its sprocket, and whether the drivetrain is described rightly",
        False: "whether this hub or gearbox is the one described, with these ratios",
        None: "whether the drivetrain is described rightly",
    },
    "gear drifts": {
        True: "whether its sprocket was changed, and at its adjustment",
        False: "at its clutch and adjustment",
        None: "at its sprocket or clutch, and at its adjustment",
    },
    "gear scatters": {
        True: "at its adjustment, and for worn teeth that the chain skips on",
        False: "at its clutch, pawls and adjustment",
        None: "at its sprocket or clutch, and at its adjustment",
    },
}


def said(test: Question, moves_chain: bool | None) -> str:
    """Return what was found, and what to look at.

    ``moves_chain``: whether gears are changed by moving a chain; None where nobody says.
    """
    by = f"{abs(exp(test.size) - 1) * 100:.1f} %"
    side = "above" if test.size > 0 else "below"
    gear = f"gear {test.gear}"
    look = f"look {_LOOK[test.kind][moves_chain]}" if test.kind in _LOOK else ""
    return {
        "wheel": f"the wheel rolls {by} {side} the stated rollout"
        + (
            ", as far as one gear is from the next: the ladder may sit a gear off"
            * test.like_a_step
        )
        + ": look at tyre, pressure and the wheel size set in the unit",
        "gear off": f"{gear} is {by} {side} its published ratio throughout: {look}",
        "gear drifts": f"{gear} went {'up' if test.size > 0 else 'down'} by {by} from the first "
        f"ride to the last, the other gears did not: {look}",
        "gear scatters": f"the spells of {gear} scatter {exp(test.size):.1f} times as much as "
        f"those of the other gears: {look}",
        "ride apart": f"all gears of one ride are {by} {side} those of the others: look at the "
        "wheel size set in the unit that recorded it, and whether it was this vehicle",
    }[test.kind]
