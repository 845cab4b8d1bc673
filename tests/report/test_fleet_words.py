"""What a shop is told of its fleet: no sentence twice for one vehicle."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest

from ridelab.report.digits import Printer
from ridelab.report.fleet_words import needs_hands

_APART = "all gears of one ride are 3.6 % below those of the others"


class _Told:
    """A store in which only ladders departed, each on a ride of its own."""

    def __init__(self, *findings: tuple[str, str, str]) -> None:
        self.findings = findings

    def frame(self, relation: str, /) -> pl.DataFrame:
        """Return one of the relations that needs follow from."""
        rows: dict[str, list[dict[str, Any]]] = {
            "rides": [{"ride": str(n), "path": f"{n}.fit"} for n in range(len(self.findings))],
            "ladder_health": [
                {"vehicle": vehicle, "kind": kind, "finding": said, "ride": str(n)}
                for n, (vehicle, kind, said) in enumerate(self.findings)
            ],
        }
        return pl.DataFrame(rows.get(relation, []))


@pytest.mark.parametrize(
    ("rides", "said"),
    [
        (1, "(0.fit)"),
        (3, "(0.fit); likewise 2 other rides: 1.fit, 2.fit"),
        (6, "(0.fit); likewise 5 other rides"),
    ],
)
def test_rides_that_stand_apart_share_a_line_a_vehicle(rides: int, said: str) -> None:
    """The first in words, a few others by name, many by their number."""
    store = _Told(*[("heron", "ride apart", _APART)] * rides)
    (need,) = needs_hands(store, Printer("metric"))
    assert need.replace("\u00a0", " ") == f"heron: {_APART} {said}"


def test_vehicles_and_other_findings_keep_their_own_lines() -> None:
    """Two vehicles and three findings are three lines."""
    store = _Told(
        ("heron", "ride apart", _APART),
        ("heron", "gear off", "gear 4 is off"),
        ("otter", "ride apart", _APART),
    )
    needs = needs_hands(store, Printer("metric"))
    assert [need.partition(":")[0] for need in needs] == ["heron", "heron", "otter"]
