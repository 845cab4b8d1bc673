"""Teeth in words: what rides tell of them, and what they do not."""

from __future__ import annotations

from typing import Any

from ridelab.report.digits import NO_BREAK
from ridelab.report.teeth import teeth_in_words


def gears(
    sprockets: list[int | None], rings: list[int], chainrings: list[int | None]
) -> list[dict[str, Any]]:
    """Rows of ``suggested_teeth``."""
    return [
        {"sprocket": sprocket, "ring": ring, "chainring": chainring, "ring_ratio": 1.4706}
        | {"by_chance": 0.005}
        for sprocket, ring, chainring in zip(sprockets, rings, chainrings, strict=True)
    ]


def test_one_chainring_without_a_rollout() -> None:
    """Its teeth are not told; a gear that fits none is left out of the count."""
    said = teeth_in_words(gears([16, None, 14, 12], [1] * 4, [None] * 4))
    assert said == (
        "3 of the 4 gears would fit one chainring and sprockets 12-14-16, or a common multiple of "
        f"them; by chance at most 0.5{NO_BREAK}% of ladders fit as well"
    )


def test_two_chainrings_with_a_rollout() -> None:
    """Their ratio is known well, their teeth as well as the wheel; each sprocket is named once."""
    said = teeth_in_words(gears([16, 14, 16, 14], [1, 1, 2, 2], [34, 34, 50, 50]))
    assert said is not None
    assert said.startswith(
        "the 4 gears would fit two chainrings, the larger 1.471 times the smaller (about 34 and 50 "
        "teeth by the stated rollout), and sprockets 14-16,"
    )


def test_nothing_suggested_is_nothing_said() -> None:
    """No rows, no words."""
    assert teeth_in_words([]) is None
