"""A store made up in memory with claims judged on several vehicles; all of it invented."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.report.fabricated import FabricatedStore, vehicle

if TYPE_CHECKING:
    from collections.abc import Mapping

_HALF = 0.004


def fleet() -> FabricatedStore:
    """Three vehicles with the drivetrain "nine"; nothing is claimed of it yet."""
    store = FabricatedStore()
    for name in ("heron", "otter", "tern"):
        vehicle(store, name, "nine")
    return store


def pooled(
    store: FabricatedStore,
    claim: str,
    quantity: str,
    verdict: str,
    *,
    measured: float | None = 5.38,
    each: Mapping[str, str] | None = None,
    reason: str = "within 2 % of the claim, uncertainty included",
    source: str = "leaflet",
    vehicles: int = 1,
    odd_vehicle: str | None = None,
    odd_by: float | None = None,
) -> None:
    """Add a claim, its verdict on each vehicle, and what they come to."""
    low, high = (measured and measured * (1 + side * _HALF) for side in (-1, 1))
    figures = {"measured": measured, "measured_low": low, "measured_high": high}
    claimed = {"quantity": quantity, "value": 5.4, "tolerance": 0.02, "printed": "540 %"}
    store.add("claims", {"claim": claim, "drivetrain": "nine", "source": source} | claimed)
    own = {"heron": verdict} if each is None else each
    for name, word in own.items():
        row = {"claim": claim, "vehicle": name, "verdict": word, "reason": reason}
        store.add("verdicts", row | figures)
    odd = {"odd_vehicle": odd_vehicle, "odd_by": odd_by}
    row = {"claim": claim, "drivetrain": "nine", "verdict": verdict, "reason": reason}
    store.add("pooled_claims", row | figures | odd | {"vehicles": vehicles, "left_out": 0})
