"""Several claims on one vehicle: how sure each verdict must be, so that together they rarely err.

The more claims are judged, the more chances there are to be wrong. After S. Holm (Scandinavian
Journal of Statistics 6 (1979) 65-70) the surest of m verdicts must be so sure that it would err in
2.5 % / m of cases, the next in 2.5 % / (m - 1), and so on; the first that is not, and all less sure
ones, are not given. The chance that any verdict on a vehicle is false is then at most 2.5 %,
however its claims hang together: range and top speed share the highest gear and its error.

The false discovery rate would be less strict, but it bounds false verdicts as a share of all, and
one maker's claim is not the less wronged because forty others were judged rightly.

Only claims on which the rides could speak count among the m: what nobody rode, what is in doubt,
and what no ride can show cannot be judged wrongly. Of one claim, "holds" and "fails" cannot both be
false, so it counts once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable


def sure_enough(claims: int, given: Callable[[int, float], bool]) -> list[bool]:
    """Return which of some claims are judged surely enough to be judged together.

    ``given(claim, share)``: whether a verdict on a claim, by its place, is still given where only
    ``share`` of the usual risk is taken; who passes at a smaller share passes at a larger one.
    """
    divisors = [_largest_divisor(claims, place, given) for place in range(claims)]
    order = sorted(range(claims), key=lambda place: -divisors[place])
    sure = [False] * claims
    for rank, place in enumerate(order):
        if divisors[place] < claims - rank:
            break
        sure[place] = True
    return sure


def _largest_divisor(claims: int, place: int, given: Callable[[int, float], bool]) -> int:
    """Return by how much the risk of a verdict may be divided, up to ``claims``; 0 if by nothing.

    By bisection.
    """
    low, high = 0, claims
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if given(place, 1 / middle) else (low, middle - 1)
    return low
