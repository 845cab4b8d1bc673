"""Is it the drivetrain or one vehicle: claims on several vehicles, for terminal and page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.report.digits import NO_BREAK, count

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    Row = Mapping[str, Any]

#: Claims that are named; the table has them all.
_MOST_NAMED = 6


def odd_one(row: Row) -> str:
    """Say by how much one vehicle departs from the others; ``row``: of ``pooled_claims``."""
    side = "above" if row["odd_by"] > 0 else "below"
    return (
        f"{row['claim']}: {row['odd_vehicle']} is {100 * abs(row['odd_by']):.2g}{NO_BREAK}% {side} "
        f"the other {row['vehicles'] - 1}: this vehicle, not the drivetrain?"
    )


def tells_little(row: Row, figures: Sequence[float]) -> bool:
    """Whether the interval of a mean is wider than twice what its vehicles differ by.

    Two vehicles that differ by 3 % make a mean of ± 20 %: true, and no figure for a screen.
    ``figures``: what single vehicles measured.
    """
    low, high = row["measured_low"], row["measured_high"]
    if low is None or high is None or len(figures) < 2:
        return False
    return bool(high - low > 2 * (max(figures) - min(figures)) > 0)


def drivetrain_or_vehicle(pooled: Sequence[Row], verdicts: Sequence[Row]) -> Iterator[str]:
    """Yield on which claims vehicles agree, each on which they differ, and which are left open.

    Args:
        pooled: rows of ``pooled_claims`` that several vehicles could tell of.
        verdicts: rows of ``verdicts``.
    """
    given: dict[str, set[str]] = {}
    for row in verdicts:
        given.setdefault(row["claim"], set()).add(row["verdict"])
    agreed: list[str] = []
    left: list[str] = []
    for row in pooled:
        if row["odd_vehicle"] is not None:
            yield odd_one(row)
        elif {"holds", "fails"} <= given.get(row["claim"], set()):
            yield f"{row['claim']}: {row['reason']}"
        else:
            (agreed if row["verdict"] in {"holds", "fails"} else left).append(row["claim"])
    if agreed:
        yield f"Vehicles agree, so it is the drivetrain: {_named(agreed)}"
    if left:
        yield f"Vehicles leave open what the drivetrain does: {_named(left)}"


def _named(claims: Sequence[str]) -> str:
    more = len(claims) - _MOST_NAMED
    named = ", ".join(claims[:_MOST_NAMED])
    return f"{named} and {count(more, 'more')}".replace("mores", "more") if more > 0 else named
