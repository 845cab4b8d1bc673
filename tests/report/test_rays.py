"""Speed against cadence: time by cell, gears as rays, and what is left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import pytest

from ridelab.report.digits import Printer
from ridelab.report.findings import VehicleFindings, read_findings
from ridelab.report.markup import NOTHING
from ridelab.report.rays import _lines, rays, rays_table, sentence
from tests.report.parsed import parse

if TYPE_CHECKING:
    from tests.report.fabricated import FabricatedStore

METRIC = Printer("metric")


@pytest.fixture(scope="module")
def vehicles(store: FabricatedStore) -> dict[str, VehicleFindings]:
    """Return the vehicles of the fabricated store by name."""
    return {one.name: one for one in read_findings(store).vehicles}


def total(cells: pl.DataFrame) -> float:
    """Return the seconds in cells."""
    return float(cells.select(pl.sum_horizontal("driving_s", "other_s").sum()).item())


def test_cells_hold_the_time_of_the_samples_with_a_development(
    store: FabricatedStore, vehicles: dict[str, VehicleFindings]
) -> None:
    """At one sample a second: as many seconds as samples, but for the outermost hundredth."""
    samples = store.frame(
        "select count(*) as n, count(*) filter (where coupled) as driving from samples "
        "inner join rides using (ride) where vehicle = 'heron' and development_m > 0"
    )
    cells = vehicles["heron"].rays
    share = cells["shown_share"][0]
    assert 0.99 <= share < 1
    assert total(cells) == pytest.approx(share * samples["n"][0])
    assert cells["driving_s"].sum() <= samples["driving"][0]
    assert ((cells["to_mps"] - cells["from_mps"]) == 0.25).all()


def test_a_sample_lies_in_the_cell_of_its_cadence_and_speed(
    store: FabricatedStore, vehicles: dict[str, VehicleFindings]
) -> None:
    """By hand: 60 rpm in 2.6 × 1.55 m are 4.03 m/s, the cell from 4.00 m/s and 60 rpm."""
    cell = vehicles["heron"].rays.filter((pl.col("from_rpm") == 60) & (pl.col("from_mps") == 4.0))
    inside = store.frame(
        "select count(*) as n from samples inner join rides using (ride) where vehicle = 'heron' "
        "and cadence_rpm >= 60 and cadence_rpm < 62 "
        "and development_m * cadence_rpm / 60 between 4.0 and 4.2499999"
    )
    assert total(cell) == inside["n"][0] > 0


def test_a_ray_leaves_the_picture_at_its_edge(vehicles: dict[str, VehicleFindings]) -> None:
    """By hand: 6 m a turn at 100 rpm are 36 km/h; where the picture ends at 30, it is at 83 rpm."""
    ladder = vehicles["heron"].ladder.with_columns(
        development_m=pl.when(pl.col("gear") == 9).then(6.0).otherwise("development_m")
    )
    ray = _lines(ladder, METRIC, 30.0, 100.0, 30.0).filter(pl.col("gear") == 9).row(0, named=True)
    assert (ray["rpm"], ray["speed"]) == (30.0, pytest.approx(10.8))
    assert (ray["rpm_end"], ray["speed_end"]) == (pytest.approx(83.33, abs=0.01), pytest.approx(30))


def test_the_sentence_fits_what_is_there(vehicles: dict[str, VehicleFindings]) -> None:
    """Rays for gears, a plane for the stepless, and nothing promised where nothing is named."""
    heron, wren = vehicles["heron"], vehicles["wren"]
    said = sentence(heron.rays, heron.ladder, stepless=False).replace("\u00a0", " ")
    assert "straight line through the origin" in said
    assert "The crank drives the wheel in 88 %" in said
    assert "stepless" in sentence(wren.rays, wren.ladder, stepless=True)


def test_the_table_adds_up(vehicles: dict[str, VehicleFindings]) -> None:
    """Seconds by 10 rpm are those of the cells, rounded."""
    cells = vehicles["heron"].rays
    shown = parse(rays_table(cells, METRIC, NOTHING))
    driving = [int(row.all("td")[0].text) for row in shown.all("tbody")[0].all("tr")]
    assert sum(driving) == pytest.approx(cells["driving_s"].sum(), abs=len(driving))


def test_every_vehicle_can_be_drawn(vehicles: dict[str, VehicleFindings]) -> None:
    """With gears, without steps, without a published ladder."""
    for name in ("heron", "wren", "tern"):
        one = vehicles[name]
        assert rays(one.rays, one.ladder, METRIC).to_dict()["height"] > 0
