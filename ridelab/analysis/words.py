"""The words of a verdict: gears named as people would, and what to ride to learn more."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.campaign import Claim

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


def not_ridden(gears: Sequence[int]) -> str:
    """Say which gears were not engaged for long enough, and what to ride."""
    be, each = ("was", "it") if len(gears) == 1 else ("were", "each")
    return (
        f"{gear_list(gears)} {be} never engaged long enough: "
        f"ride 60 s of steady pedalling in {each}"
    )


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


def too_few(gears: int, alike: Sequence[tuple[int, int]]) -> str:
    """Say why there are fewer gears than claimed: neighbours alike, or simply no more of them."""
    if not alike:
        return f"every gear was ridden, which makes {count(gears)}"
    pairs = " and ".join(f"{gear_list(pair)} turn out as one" for pair in alike)
    return f"{pairs}, which leaves {count(gears)}"


def too_close(unclear: Sequence[tuple[int, int]]) -> str:
    """Say which neighbours cannot be told apart yet, and what to ride."""
    gears = sorted({gear for pair in unclear for gear in pair})
    return f"{gear_list(gears)} cannot be told apart yet: ride longer {how_to_ride(gears)}"


def wrong_wheel(off: float) -> str:
    """Say that recorded distances do not fit the wheel, by how much, and what to look at."""
    amount = f"{100 * abs(off):.1f} % {'longer' if off > 0 else 'shorter'}"
    return (
        f"the recorded distances are {amount} than this wheel rolls: check its tyre, and the wheel "
        "size set in the recording unit"
    )


def _runs(gears: Sequence[int]) -> list[tuple[int, int]]:
    """Return first and last of each run of neighbours."""
    runs: list[tuple[int, int]] = []
    for gear in sorted(gears):
        if runs and gear == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], gear)
        else:
            runs.append((gear, gear))
    return runs
