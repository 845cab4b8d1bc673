"""The steps of a ladder: told in percent and in cadence, the small ones named."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import pytest

from ridelab.report.digits import Printer
from ridelab.report.findings import read_findings
from ridelab.report.steps import has_steps, steps_chart, steps_sentence

if TYPE_CHECKING:
    from tests.report.fabricated import FabricatedStore

METRIC = Printer("metric")


def ladder(*steps: float | None) -> pl.DataFrame:
    """Return a ladder whose steps from gear 2 on are these, known to 0.1 %."""
    return pl.DataFrame(
        {
            "gear": range(1, len(steps) + 2),
            "step": [None, *steps],
            "step_half_width": [None, *(None if step is None else 0.001 for step in steps)],
            "published_step": [None, *steps],
        },
        schema_overrides={
            "gear": pl.Int32,
            "step": pl.Float64,
            "step_half_width": pl.Float64,
            "published_step": pl.Float64,
        },
    )


def said(*steps: float | None) -> str:
    """Return the sentence with plain spaces."""
    return steps_sentence(ladder(*steps), METRIC).replace("\u00a0", " ")


def test_steps_are_told_in_cadence() -> None:
    """By hand: 80 rpm × 13.6 % are 11 rpm, 80 × 26 % are 21 rpm."""
    told = said(0.136, 0.26, 0.17)
    assert told.startswith("Steps from 13.6 % (up to gear 2) to 26.0 % (up to gear 3)")
    assert "shifting up into 80 rpm takes 11 to 21 rpm off the cadence" in told
    assert "none is so small" in told


def test_steps_that_are_hardly_felt_are_named() -> None:
    """Two of four lie below 5 %; what was not ridden says nothing."""
    assert "hardly felt: those up to gear 2, 5" in said(0.03, 0.12, None, 0.049)


def test_one_step_has_no_other_to_differ_from() -> None:
    """And an even ladder changes cadence by one figure."""
    assert said(0.15).startswith("The step up to gear 2 is 15.0 %: ")
    assert "takes 11 rpm off" in said(0.136, 0.1361)


def test_the_chart_has_a_mark_for_each_step(store: FabricatedStore) -> None:
    """Published and measured ones, in percent; a vehicle without neighbours has none."""
    vehicles = {one.name: one for one in read_findings(store).vehicles}
    heron = vehicles["heron"]
    drawn = steps_chart(heron.ladder, METRIC).to_dict()
    marks = {
        (row["gear"], row["lane"]): row["step"]
        for rows in drawn["datasets"].values()
        for row in rows
        if "step" in row
    }
    assert sum(lane == "published" for _, lane in marks) == 8
    assert sum(lane == "measured" for _, lane in marks) == heron.ladder["step"].count()
    # by hand: 0.9067 / 0.7333 - 1
    assert marks[2, "published"] == pytest.approx(23.65, abs=0.01)
    assert has_steps(heron.ladder)
    assert not has_steps(vehicles["wren"].ladder)
