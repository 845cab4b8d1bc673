"""Use of gears by grade and shifts from gear to gear: what is drawn, and the sentence beside it."""

from __future__ import annotations

import polars as pl
import pytest

from ridelab.report.digits import NO_BREAK, Printer
from ridelab.report.markup import NOTHING
from ridelab.report.use_charts import (
    shift_pairs_chart,
    shift_pairs_sentence,
    shift_pairs_table,
    use_by_grade_chart,
    use_by_grade_sentence,
    use_by_grade_table,
)
from tests.report.parsed import parse

METRIC = Printer("metric")


def by_grade(*rows: tuple[float, int, float]) -> pl.DataFrame:
    """Return rows of ``use_by_grade``: (lower end of the grade, gear, seconds)."""
    return pl.DataFrame(
        rows, schema={"grade_from": pl.Float64, "gear": pl.Int32, "seconds": pl.Float64},
        orient="row",
    ).with_columns(
        grade_to=pl.col("grade_from") + 0.02,
        share=pl.col("seconds") / pl.col("seconds").sum().over("grade_from"),
    )  # fmt: skip


def pairs(*rows: tuple[int, int, int]) -> pl.DataFrame:
    """Return rows of ``shift_pairs``: (from, to, times)."""
    return pl.DataFrame(
        rows, schema={"from_gear": pl.Int32, "to_gear": pl.Int32, "shifts": pl.Int64}, orient="row"
    ).with_columns(speed_mps=5.0, cadence_before_rpm=80.0, cadence_after_rpm=71.0)


def test_the_middle_of_riding_moves_with_the_grade() -> None:
    """By hand: uphill 60 of 100 s in gears 1 and 2, so half of it in 2 or lower; downhill in 9.

    There is no gear above 9, and so no more to say; with one, half is in 9 or higher.
    """
    use = by_grade(
        (0.07, 1, 40.0), (0.07, 2, 20.0), (0.07, 3, 40.0), (-0.05, 8, 30.0), (-0.05, 9, 50.0)
    )
    said = use_by_grade_sentence(use).replace(NO_BREAK, " ")
    assert "at +7 to +9 % was in gear 2 or lower" in said
    assert said.endswith("at −5 to −3 % in gear 9.")
    further = pl.concat([use, by_grade((-0.05, 10, 20.0))])
    assert "% in gear 9 or higher." in use_by_grade_sentence(further)


def test_a_grade_hardly_ridden_is_not_drawn() -> None:
    """Five seconds on a bump are no habit; with nothing else they are all there is."""
    bump = by_grade((0.05, 1, 5.0), (-0.01, 4, 60.0))
    (rows,) = use_by_grade_chart(bump, [1, 4]).to_dict()["datasets"].values()
    assert [row["band"] for row in rows] == ["−1 to +1"]
    assert "or lower" not in use_by_grade_sentence(bump)
    (rows,) = use_by_grade_chart(bump.head(1), [1, 4]).to_dict()["datasets"].values()
    assert [row["words"][0] for row in rows] == [
        "+5 to +7 %, gear 1: 100\u00a0% of the time there, 5\u00a0s"
    ]


@pytest.mark.parametrize(
    ("low", "shown"), [(0.11, "+11 and more"), (-0.13, "−11 and less"), (0.01, "+1 to +3")]
)
def test_the_outermost_bands_hold_all_that_is_steeper(low: float, shown: str) -> None:
    """As the relation cuts them: 11 % and more, −11 % and less."""
    use = by_grade((low, 2, 60.0))
    cells = parse(use_by_grade_table(use, NOTHING)).all("tbody")[0].all("th")
    assert cells[0].text == shown


def test_shifts_to_the_next_gear_are_counted() -> None:
    """By hand: 6 + 2 of 10 go to the neighbour."""
    found = pairs((3, 4, 6), (4, 3, 2), (4, 7, 2))
    said = shift_pairs_sentence(found).replace("\u00a0", " ")
    assert "80 % of 10 shifts went to the next gear; most often from 3 to 4, 6 times" in said
    drawn = shift_pairs_chart(found, [1, 2, 3, 4, 5, 6, 7]).to_dict()
    kinds = {
        pair: row["kind"]
        for rows in drawn["datasets"].values()
        for row in rows
        if "kind" in row
        for pair in zip(row["from_gear"], row["to_gear"], strict=True)
    }
    assert kinds[3, 4] == kinds[4, 7] == "to a higher gear"
    assert kinds[4, 3] == "to a lower gear"
    assert len(parse(shift_pairs_table(found, METRIC, NOTHING)).all("tbody")[0].all("tr")) == 3


def test_of_very_many_pairs_the_rarest_share_a_row() -> None:
    """By hand: 70 pairs, of which the 60 most frequent have their own; the others were 10 + … + 1.

    A gearbox in front of a hub has hundreds.
    """
    found = pairs(*((gear, gear + 1, 71 - gear) for gear in range(1, 71)))
    rows = parse(shift_pairs_table(found, METRIC, NOTHING)).all("tbody")[0].all("tr")
    assert len(rows) == 61
    assert rows[-1].all("th")[0].text.replace("\u00a0", " ") == "10 rarer pairs"
    assert [cell.text for cell in rows[-1].all("td")][1] == "55"
