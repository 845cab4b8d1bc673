"""The density: whether gears stand apart, told and drawn."""

from __future__ import annotations

from math import exp, log
from typing import TYPE_CHECKING, Any

import polars as pl
import pytest

from ridelab.report.density import development_density, sentence
from ridelab.report.findings import VehicleFindings, read_findings

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tests.report.fabricated import FabricatedStore

BIN = 0.005


@pytest.fixture(scope="module")
def heron(store: FabricatedStore) -> VehicleFindings:
    """Return the vehicle whose fourth gear departs and whose ninth was not ridden."""
    return read_findings(store).vehicles[0]


def ladder(*metres: float | None) -> pl.DataFrame:
    """Return gears from 1 at these developments; None was not ridden."""
    return pl.DataFrame(
        {"gear": range(1, len(metres) + 1), "development_m": metres},
        schema_overrides={"development_m": pl.Float64},
    )


def bins(seconds: Mapping[float, float], low_m: float = 1.9, high_m: float = 3.1) -> pl.DataFrame:
    """Return bins from ``low_m`` to ``high_m`` with that much driving at these developments."""
    first, last = (int(log(end) / BIN) for end in (low_m, high_m))
    driving = dict.fromkeys(range(first, last), 0.0)
    for metres, time in seconds.items():
        driving[int(log(metres) / BIN)] += time
    return pl.DataFrame(
        {
            "from_m": [exp(place * BIN) for place in driving],
            "to_m": [exp((place + 1) * BIN) for place in driving],
            "driving_s": [*driving.values()],
            "driving_total_s": sum(driving.values()),
        }
    )


def between(low_m: float, high_m: float, each: float) -> dict[float, float]:
    """Return as many seconds in each bin from one development to another."""
    places = range(int(log(low_m) / BIN) + 2, int(log(high_m) / BIN) - 1)
    return {exp((place + 0.5) * BIN): each for place in places}


def test_gears_without_time_between_them_stand_apart() -> None:
    """Peaks of 100 and 40 s, 2 s a bin between them: 5 % of the lower peak."""
    found = bins({2.0: 100.0, 3.0: 40.0} | between(2.0, 3.0, 2.0))
    said = sentence(found, ladder(2.0, 3.0), stepless=False).replace("\u00a0", " ")
    assert said.startswith("Both gears stand apart: midway between neighbours 5 % of the lower")


def test_gears_that_run_into_each_other_are_named() -> None:
    """Half of the lower peak between gears 2 and 3, nothing between 1 and 2."""
    found = bins({2.0: 100.0, 2.5: 100.0, 3.0: 40.0} | between(2.5, 3.0, 20.0))
    said = sentence(found, ladder(2.0, 2.5, 3.0), stepless=False).replace("\u00a0", " ")
    assert said.startswith("Gears 2 and 3 run into each other: midway up to 50 % of the lower peak")
    assert "The others stand apart, with 0 % or less" in said


def test_where_no_gear_stands_apart_none_is_said_to() -> None:
    """A density as flat as that of a stepless drivetrain."""
    found = bins({2.0: 20.0, 3.0: 20.0} | between(2.0, 3.0, 20.0))
    said = sentence(found, ladder(2.0, 3.0), stepless=False).replace("\u00a0", " ")
    assert said.startswith("No gear stands apart from its neighbours: up to 100 %")


@pytest.mark.parametrize("gears", [ladder(), ladder(2.0), ladder(2.0, None)])
def test_one_gear_has_no_neighbour_to_stand_apart_from(gears: pl.DataFrame) -> None:
    """Nor have none."""
    assert "apart" not in sentence(bins({2.0: 100.0}), gears, stepless=False)


def test_broken_lines_are_explained_where_there_are_some(heron: VehicleFindings) -> None:
    """Heron's ninth gear was not ridden; without it there is nothing to explain."""
    assert "Broken lines" in sentence(heron.developments, heron.ladder, stepless=False)
    assert "Broken lines" not in sentence(heron.developments, heron.measured, stepless=False)


def test_the_density_grows_with_bins_not_with_samples(heron: VehicleFindings) -> None:
    """Two heights a bin; of 2,400 s all but the outermost are shown, 88 % of them driving."""
    (packed,) = rows_with(development_density(heron.developments, heron.ladder), "all riding")
    assert {len(column) for column in packed.values()} == {len(heron.developments)}
    assert 0.85 * 2400 < sum(packed["crank drives the wheel"]) < 0.91 * 2400
    assert 0.9 * 2400 < sum(packed["all riding"]) <= 2400


def test_measured_gears_carry_their_interval_and_published_ones_none(
    heron: VehicleFindings,
) -> None:
    """The bar through a disc is the 95 % interval of its development; paper has none."""
    chart = development_density(heron.developments, heron.ladder)
    spans = [row for row in rows_with(chart, "kind") if row.get("low") is not None]
    assert {row["kind"] for row in spans} == {"measured"}
    assert [row["low"] for row in spans[:8]] == heron.measured["development_low_m"].to_list()


def test_the_density_marks_gears_that_were_not_ridden(heron: VehicleFindings) -> None:
    """With broken lines, where they are published."""
    marks = rows_with(development_density(heron.developments, heron.ladder), "labelled")
    broken = {row["gear"] for row in marks if row["kind"] == "not ridden long enough"}
    assert broken == {9}


def rows_with(chart: Any, field: str) -> list[dict[str, Any]]:  # noqa: ANN401 - any kind of chart
    """Return the rows of all data sets of a chart that have a field."""
    sets = chart.to_dict()["datasets"].values()
    return [row for rows in sets for row in rows if field in row]
