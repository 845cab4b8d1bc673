"""Claims on one scale: where a mark stands, and what has no place there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import pytest

from ridelab.report.claims_chart import claims_chart, claims_sentence, on_scale
from ridelab.report.digits import Printer
from ridelab.report.findings import read_findings

if TYPE_CHECKING:
    from tests.report.fabricated import FabricatedStore

METRIC = Printer("metric")


@pytest.fixture(scope="module")
def verdicts(store: FabricatedStore) -> pl.DataFrame:
    """Return the verdicts of the fabricated store."""
    return read_findings(store).verdicts


def test_a_mark_stands_where_its_tolerances_put_it(verdicts: pl.DataFrame) -> None:
    """By hand: 1.419 claimed as 1.387 within 0.5 %: 0.032 / 0.006935 = 4.61 tolerances above."""
    drawn = claims_chart(verdicts, METRIC).to_dict()
    rows = {
        row["row"]: row for found in drawn["datasets"].values() for row in found if "verdict" in row
    }
    ratio = rows["c2, heron"]
    assert ratio["at"] == pytest.approx(4.61, abs=0.01)
    assert ratio["low"] == pytest.approx(4.04, abs=0.01)
    assert ratio["verdict"] == "fails"
    assert "ratio of gear 4 1.387, measured 1.419" in ratio["words"]
    # a range of 438 % claimed as 540 % is off by more than the scale shows
    assert rows["c1, heron"]["at"] == -6.0


def test_what_has_no_measure_or_no_middle_is_left_out(verdicts: pl.DataFrame) -> None:
    """Untestable claims, and those on the least or the most."""
    assert on_scale(verdicts)["claim"].to_list() == ["c2", "c1", "c3"]
    least = verdicts.with_columns(bound=pl.lit("at least"))
    assert on_scale(least).is_empty()
    assert "the table tells alone" in claims_sentence(least)
    assert "the table tells alone" not in claims_sentence(verdicts)


def test_twenty_vehicles_share_lines_by_verdict(verdicts: pl.DataFrame) -> None:
    """Of one claim those that hold stand on one line, those that fail on another; no mark goes."""
    claimed = verdicts.filter(pl.col("claim") == "c2")
    many = pl.concat(
        claimed.with_columns(
            vehicle=pl.lit(f"vehicle {number}"),
            verdict=pl.lit("fails" if number < 3 else "holds" if number < 19 else "undecided"),
        )
        for number in range(20)
    )
    drawn = claims_chart(many, METRIC).to_dict()
    rows = [row for found in drawn["datasets"].values() for row in found if "verdict" in row]
    lines = {row["row"] for row in rows}
    assert lines == {"c2: 3 fail", "c2: 16 hold", "c2, vehicle 19"}
    assert len({row["words"] for row in rows}) == 20
    assert "share a line" in claims_sentence(many)
    assert drawn["height"] < 120
