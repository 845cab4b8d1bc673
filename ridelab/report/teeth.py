"""The teeth that a ladder without a published drivetrain may be made of, in one sentence.

The page and the terminal say the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.report.digits import NO_BREAK

if TYPE_CHECKING:
    from collections.abc import Sequence


def teeth_in_words(gears: Sequence[dict[str, Any]]) -> str | None:
    """Return what the rows of ``suggested_teeth`` of one vehicle say; None where there are none."""
    fitting = [gear for gear in gears if gear["sprocket"] is not None]
    if not fitting:
        return None
    all_of_them = len(fitting) == len(gears)
    whose = (
        f"the {len(gears)} gears" if all_of_them else f"{len(fitting)} of the {len(gears)} gears"
    )
    row = "-".join(str(teeth) for teeth in sorted({gear["sprocket"] for gear in fitting}))
    chance = f"{100 * gears[0]['by_chance']:.2g}{NO_BREAK}%"
    return (
        f"{whose} would fit {_rings(fitting)} and sprockets {row}, or a common multiple of them; "
        f"by chance at most {chance} of ladders fit as well"
    )


def _rings(gears: Sequence[dict[str, Any]]) -> str:
    """Say what is known of the chainrings: their teeth only with a rollout, their ratio always."""
    rings = sorted({gear["chainring"] for gear in gears if gear["chainring"] is not None})
    teeth = " and ".join(str(ring) for ring in rings)
    if len({gear["ring"] for gear in gears}) == 1:
        return (
            f"one chainring (about {teeth} teeth by the stated rollout)"
            if rings
            else "one chainring"
        )
    ratio = f"two chainrings, the larger {gears[0]['ring_ratio']:.3f} times the smaller"
    return f"{ratio} (about {teeth} teeth by the stated rollout)," if rings else f"{ratio},"
