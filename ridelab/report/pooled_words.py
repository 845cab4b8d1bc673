"""Is it the drivetrain or one vehicle: claims on several vehicles, for terminal and page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.report.claims import between, in_units
from ridelab.report.digits import NO_BREAK, count

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ridelab.report.digits import Printer

    Row = Mapping[str, Any]

#: Claims that are named; the table has them all.
_MOST_NAMED = 6
#: Vehicles that were alike would differ as much as theirs less often than this: not by chance.
_LEAST_CHANCE = 0.01


def odd_one(row: Row) -> str:
    """Say by how much one vehicle departs from the others; ``row``: of ``pooled_claims``."""
    side = "above" if row["odd_by"] > 0 else "below"
    return (
        f"{row['claim']}: {row['odd_vehicle']} is {100 * abs(row['odd_by']):.2g}{NO_BREAK}% {side} "
        f"the other {row['vehicles'] - 1}: this vehicle, not the drivetrain?"
    )


def tells_little(row: Row, figures: Sequence[float]) -> bool:
    """Whether the mean of several vehicles tells less than what each of them measured.

    Two vehicles that differ by 3 % make a mean of ± 20 %: true, and no figure for a screen. Nor is
    one that reaches beyond the tolerance of a claim which holds, since each vehicle bears it out.

    Args:
        row: of ``pooled_claims``, with its claim.
        figures: what single vehicles measured.
    """
    low, high = row["measured_low"], row["measured_high"]
    if low is None or high is None or len(figures) < 2:
        return False
    if high - low > 2 * (max(figures) - min(figures)) > 0:
        return True
    return row.get("verdict") == "holds" and _reaches_beyond(row, low, high)


def _reaches_beyond(row: Row, low: float, high: float) -> bool:
    if row["tolerance"] is None or row["value"] is None:
        return False
    bound, margin = row.get("bound") or "about", row["tolerance"] * row["value"]
    below = bound != "at most" and low < row["value"] - margin
    return bool(below or (bound != "at least" and high > row["value"] + margin))


def from_least_to_greatest(
    row: dict[str, Any], figures: list[float], printer: Printer
) -> str | None:
    """Print what vehicles came to, "511 to 526 %", where their mean tells less; None elsewhere.

    Args:
        row: of ``pooled_claims``, with its claim.
        figures: what single vehicles measured.
        printer: of the claimed quantity.
    """
    told = in_units(row) and tells_little(row, figures)
    return between(row, figures, printer) if told else None


def figures_by_claim(verdicts: Iterable[Row]) -> dict[str, list[float]]:
    """Return what single vehicles measured of each claim; ``verdicts``: rows of that relation."""
    found: dict[str, list[float]] = {}
    for row in verdicts:
        if row["measured"] is not None:
            found.setdefault(row["claim"], []).append(row["measured"])
    return found


def drivetrain_or_vehicle(pooled: Sequence[Row], verdicts: Sequence[Row]) -> Iterator[str]:
    """Yield each claim on which vehicles differ, which hold or fail on how many, what is left open.

    Args:
        pooled: rows of ``pooled_claims`` that several vehicles could tell of.
        verdicts: rows of ``verdicts``.
    """
    given: dict[str, list[str]] = {}
    for row in verdicts:
        given.setdefault(row["claim"], []).append(row["verdict"])
    decided: dict[str, list[str]] = {}
    left: list[str] = []
    for row in pooled:
        own = given.get(row["claim"], [])
        if row["odd_vehicle"] is not None:
            yield odd_one(row)
        elif {"holds", "fails"} <= set(own):
            yield f"{row['claim']}: {row['reason']}"
        elif row["verdict"] in {"holds", "fails"}:
            decided.setdefault(_on_which(row, own), []).append(_marked(row))
        else:
            left.append(row["claim"])
    for said, claims in decided.items():
        yield f"{said}: {_named(claims)}"
    if left:
        yield f"Vehicles leave open what the drivetrain does: {_named(left)}"


def _on_which(row: Row, own: Sequence[str]) -> str:
    """Say on how many vehicles a claim was decided: "Holds on both of 2 vehicles".

    Two within a tolerance are no proof of what all of a kind do, so no more than that is said.

    Args:
        row: of ``pooled_claims``.
        own: the verdict on each vehicle.
    """
    word, number = row["verdict"], own.count(row["verdict"])
    if not number:
        return f"{word.capitalize()} for the mean of {row['vehicles']} vehicles, on none alone"
    every = "both" if number == 2 else "each"
    many = every if number == len(own) else number
    return f"{word.capitalize()} on {many} of {count(len(own), 'vehicle')}"


def _marked(row: Row) -> str:
    chance = row["q_p"]
    differ = chance is not None and chance < _LEAST_CHANCE
    return f"{row['claim']} (they differ by more than chance)" if differ else str(row["claim"])


def _named(claims: Sequence[str]) -> str:
    more = len(claims) - _MOST_NAMED
    named = ", ".join(claims[:_MOST_NAMED])
    return f"{named} and {count(more, 'more')}".replace("mores", "more") if more > 0 else named
